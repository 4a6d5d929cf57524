"""The distance of any point to the surface of a mesh: :class:`Surface` is a tree of boxes about the triangles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from ringwright.science.slabs import in_slabs
from ringwright.terms.body import Floats, Ints, Mesh

LEAF = 8


@dataclass(frozen=True, eq=False)
class Surface:
    """A tree of boxes about the triangles of a mesh, for the nearest point of the surface.

    ``corners`` (m, 3, 3) are the triangles in the order of the tree, ``order`` their places in the mesh, ``planes``
    (m, 4) their outward unit normal and offset. Node n has the children 2n + 1 and 2n + 2; the tree is complete, and
    each lowest node holds an equal run of triangles. ``sheets`` (n, 7) are the mean normal of a node's triangles,
    the least and greatest of normal . x on them (next to a smooth skin this holds a node far closer than its box), and
    cosine and sine of the widest angle between that normal and a triangle's: the node's cone of normals.
    """

    corners: Floats
    order: Ints
    planes: Floats
    low: Floats
    high: Floats
    sheets: Floats
    first: Ints

    @property
    def arrays(self) -> tuple[Floats, Floats, Floats, Floats, Floats, Ints]:
        """What the kernels read: corners, planes, low, high, sheets, first."""
        return self.corners, self.planes, self.low, self.high, self.sheets, self.first

    def distance_mm(self, points_mm: Floats, at_most_mm: float = np.inf) -> Floats:
        """The distance of each point (n, 3) to the surface, in mm; infinity beyond ``at_most_mm``."""
        return self.nearest(points_mm, at_most_mm)[0]

    def nearest(self, points_mm: Floats, at_most_mm: float = np.inf) -> tuple[Floats, Ints]:
        """The distance of each point to the surface, and which triangle of the mesh is nearest (-1 if none is near)."""
        points = np.ascontiguousarray(points_mm, np.float64)
        away = np.empty(len(points))
        which = np.empty(len(points), np.int64)
        in_slabs(
            _nearest_slab,
            len(points),
            points,
            at_most_mm**2,
            *self.arrays,
            away,
            which,
        )
        return away, np.where(which >= 0, self.order[which], -1)


def surface(mesh: Mesh) -> Surface:
    """The tree of boxes of a mesh."""
    corners = mesh.corners_mm
    m = len(corners)
    depth = max(0, int(np.ceil(np.log2(max(1, m) / LEAF))))
    order = np.arange(m)
    first = np.zeros(2**depth + 1, np.int64)
    _split(mesh.middles_mm, order, depth, first, np.zeros_like(first))
    corners = np.take(corners, order, axis=0)
    low = np.empty((2 ** (depth + 1) - 1, 3))
    high = np.empty_like(low)
    _boxes(corners, first, depth, low, high)
    planes = planes_of(corners)
    sheets = np.empty((len(low), 7))
    in_slabs(_sheets_slab, len(low), corners, planes, first, depth, sheets)
    return Surface(corners, order, planes, low, high, sheets, first)


def planes_of(corners: Floats) -> Floats:
    """The outward unit normal and the offset n . x of each triangle (m, 4); 0 for a triangle without area."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    long = np.sqrt(np.einsum("ij,ij->i", normal, normal))[:, None]
    normal = np.divide(normal, long, out=np.zeros_like(normal), where=long > 0)
    return np.ascontiguousarray(np.hstack([normal, np.einsum("ij,ij->i", normal, corners[:, 0])[:, None]]))


@njit(cache=True, nogil=True)
def _split(centres: Floats, order: Ints, depth: int, first: Ints, fresh: Ints) -> None:
    """Sorts ``order`` so that each run from ``first`` to the next is a lowest node: halved along the longest side."""
    m = order.size
    runs = 1
    first[0], first[1] = 0, m
    for _ in range(depth):
        for r in range(runs):
            a, b = first[r], first[r + 1]
            middle = (a + b) // 2
            fresh[2 * r] = a
            fresh[2 * r + 1] = middle
            if b - a < 2:
                continue
            axis = int(np.int64(0))
            widest = -1.0
            for c in range(3):
                low = high = centres[order[a], c]
                for t in range(a + 1, b):
                    value = centres[order[t], c]
                    low = min(low, value)
                    high = max(high, value)
                if high - low > widest:
                    widest = high - low
                    axis = c
            _part(centres, order, a, b, middle, axis)
        runs *= 2
        fresh[runs] = m
        for r in range(runs + 1):
            first[r] = fresh[r]


@njit(cache=True, nogil=True)
def _part(centres: Floats, order: Ints, a: int, b: int, middle: int, axis: int) -> None:
    """Puts the smaller ones before ``middle`` (quickselect, middle of three)."""
    low, high = a, b - 1
    while low < high:
        x, y, z = centres[order[low], axis], centres[order[(low + high) // 2], axis], centres[order[high], axis]
        pivot = max(min(x, y), min(max(x, y), z))
        i, j = low, high
        while i <= j:
            while centres[order[i], axis] < pivot:
                i += 1
            while centres[order[j], axis] > pivot:
                j -= 1
            if i <= j:
                order[i], order[j] = order[j], order[i]
                i += 1
                j -= 1
        if middle <= j:
            high = j
        elif middle >= i:
            low = i
        else:
            return


@njit(cache=True, nogil=True)
def _boxes(corners: Floats, first: Ints, depth: int, low: Floats, high: Floats) -> None:
    leaves = 2**depth
    for leaf in range(leaves):
        node = leaves - 1 + leaf
        for c in range(3):
            low[node, c] = np.inf
            high[node, c] = -np.inf
        for t in range(first[leaf], first[leaf + 1]):
            for v in range(3):
                for c in range(3):
                    low[node, c] = min(low[node, c], corners[t, v, c])
                    high[node, c] = max(high[node, c], corners[t, v, c])
    for node in range(leaves - 2, -1, -1):
        for c in range(3):
            low[node, c] = min(low[2 * node + 1, c], low[2 * node + 2, c])
            high[node, c] = max(high[2 * node + 1, c], high[2 * node + 2, c])


@njit(cache=True, nogil=True)
def _sheets_slab(
    start: int, stop: int, corners: Floats, planes: Floats, first: Ints, depth: int, sheets: Floats
) -> None:
    for node in range(start, stop):
        level = 0
        while 2 ** (level + 1) - 1 <= node:
            level += 1
        leaves = 2 ** (depth - level)
        leaf = (node - (2**level - 1)) * leaves
        a, b = first[leaf], first[leaf + leaves]
        x = y = z = 0.0
        for t in range(a, b):
            ux, uy, uz = (
                corners[t, 1, 0] - corners[t, 0, 0],
                corners[t, 1, 1] - corners[t, 0, 1],
                corners[t, 1, 2] - corners[t, 0, 2],
            )
            vx, vy, vz = (
                corners[t, 2, 0] - corners[t, 0, 0],
                corners[t, 2, 1] - corners[t, 0, 1],
                corners[t, 2, 2] - corners[t, 0, 2],
            )
            x += uy * vz - uz * vy
            y += uz * vx - ux * vz
            z += ux * vy - uy * vx
        long = np.sqrt(x * x + y * y + z * z)
        if long > 0.0:
            x, y, z = x / long, y / long, z / long
        else:
            x, y, z = 1.0, 0.0, 0.0
        low, high, widest = np.inf, -np.inf, 1.0
        for t in range(a, b):
            for v in range(3):
                s = corners[t, v, 0] * x + corners[t, v, 1] * y + corners[t, v, 2] * z
                low = min(low, s)
                high = max(high, s)
            s = planes[t, 0] * x + planes[t, 1] * y + planes[t, 2] * z
            if planes[t, 0] != 0.0 or planes[t, 1] != 0.0 or planes[t, 2] != 0.0:
                widest = min(widest, s)
        widest = max(widest, -1.0)
        sheets[node, 0], sheets[node, 1], sheets[node, 2], sheets[node, 3], sheets[node, 4] = x, y, z, low, high
        sheets[node, 5], sheets[node, 6] = widest, np.sqrt(1.0 - widest * widest)


@njit(cache=True, nogil=True)
def _node_away2(low: Floats, high: Floats, sheets: Floats, node: int, x: float, y: float, z: float) -> float:
    """A squared distance that no triangle of the node comes below: that to its box or that to its sheet."""
    dx = max(low[node, 0] - x, x - high[node, 0], 0.0)
    dy = max(low[node, 1] - y, y - high[node, 1], 0.0)
    dz = max(low[node, 2] - z, z - high[node, 2], 0.0)
    s = sheets[node, 0] * x + sheets[node, 1] * y + sheets[node, 2] * z
    d = max(sheets[node, 3] - s, s - sheets[node, 4], 0.0)
    return float(max(dx * dx + dy * dy + dz * dz, d * d))


@njit(cache=True, nogil=True)
def nearest_on(c: Floats, m: int, x: float, y: float, z: float) -> tuple[float, float, float]:
    """The point of triangle m of c nearest to (x, y, z) (Ericson, Real-Time Collision Detection, 2005, 5.1.5)."""
    abx, aby, abz = c[m, 1, 0] - c[m, 0, 0], c[m, 1, 1] - c[m, 0, 1], c[m, 1, 2] - c[m, 0, 2]
    acx, acy, acz = c[m, 2, 0] - c[m, 0, 0], c[m, 2, 1] - c[m, 0, 1], c[m, 2, 2] - c[m, 0, 2]
    apx, apy, apz = x - c[m, 0, 0], y - c[m, 0, 1], z - c[m, 0, 2]
    d1 = abx * apx + aby * apy + abz * apz
    d2 = acx * apx + acy * apy + acz * apz
    if d1 <= 0 and d2 <= 0:
        return c[m, 0, 0], c[m, 0, 1], c[m, 0, 2]
    bpx, bpy, bpz = x - c[m, 1, 0], y - c[m, 1, 1], z - c[m, 1, 2]
    d3 = abx * bpx + aby * bpy + abz * bpz
    d4 = acx * bpx + acy * bpy + acz * bpz
    if d3 >= 0 and d4 <= d3:
        return c[m, 1, 0], c[m, 1, 1], c[m, 1, 2]
    vc = d1 * d4 - d3 * d2
    if vc <= 0 and d1 >= 0 and d3 <= 0:
        v = d1 / (d1 - d3) if d1 != d3 else 0.0
        return c[m, 0, 0] + v * abx, c[m, 0, 1] + v * aby, c[m, 0, 2] + v * abz
    cpx, cpy, cpz = x - c[m, 2, 0], y - c[m, 2, 1], z - c[m, 2, 2]
    d5 = abx * cpx + aby * cpy + abz * cpz
    d6 = acx * cpx + acy * cpy + acz * cpz
    if d6 >= 0 and d5 <= d6:
        return c[m, 2, 0], c[m, 2, 1], c[m, 2, 2]
    vb = d5 * d2 - d1 * d6
    if vb <= 0 and d2 >= 0 and d6 <= 0:
        w = d2 / (d2 - d6) if d2 != d6 else 0.0
        return c[m, 0, 0] + w * acx, c[m, 0, 1] + w * acy, c[m, 0, 2] + w * acz
    va = d3 * d6 - d5 * d4
    if va <= 0 and d4 - d3 >= 0 and d5 - d6 >= 0:
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6)) if (d4 - d3) + (d5 - d6) > 0 else 0.0
        return (
            c[m, 1, 0] + w * (c[m, 2, 0] - c[m, 1, 0]),
            c[m, 1, 1] + w * (c[m, 2, 1] - c[m, 1, 1]),
            c[m, 1, 2] + w * (c[m, 2, 2] - c[m, 1, 2]),
        )
    whole = va + vb + vc
    if whole == 0.0:
        return c[m, 0, 0], c[m, 0, 1], c[m, 0, 2]
    v = vb / whole
    w = vc / whole
    return c[m, 0, 0] + abx * v + acx * w, c[m, 0, 1] + aby * v + acy * w, c[m, 0, 2] + abz * v + acz * w


@njit(cache=True, nogil=True)
def away2(c: Floats, m: int, x: float, y: float, z: float) -> float:
    """The squared distance of (x, y, z) to triangle m of c."""
    px, py, pz = nearest_on(c, m, x, y, z)
    return (px - x) * (px - x) + (py - y) * (py - y) + (pz - z) * (pz - z)


@njit(cache=True, nogil=True)
def nearest_triangle(
    x: float,
    y: float,
    z: float,
    best: float,
    hint: int,
    corners: Floats,
    planes: Floats,
    low: Floats,
    high: Floats,
    sheets: Floats,
    first: Ints,
    nodes: Ints,
    bounds: Floats,
) -> tuple[float, int]:
    """The least squared distance below ``best`` and its triangle (-1 if there is none); ``hint`` is tried first.

    ``nodes`` and ``bounds`` are room for as many nodes as the tree is deep, and some. Each distance is asked for in one
    place, as the compiler would otherwise work through it again for each.
    """
    which = int(np.int64(-1))
    lowest = first.size - 2
    nodes[0] = 0
    bounds[0] = 0.0
    top = 1
    a, b = hint, hint + (hint >= 0)
    while True:
        for t in range(a, b):
            off = planes[t, 0] * x + planes[t, 1] * y + planes[t, 2] * z - planes[t, 3]
            if off * off >= best:
                continue
            d = away2(corners, t, x, y, z)
            if d < best:
                best = d
                which = t
        a = b = 0
        while top > 0 and b == 0:
            top -= 1
            node = nodes[top]
            if bounds[top] >= best:
                continue
            if node >= lowest:
                a, b = first[node - lowest], first[node - lowest + 1]
                continue
            under = top
            for child in range(2 * node + 1, 2 * node + 3):
                d = _node_away2(low, high, sheets, child, x, y, z)
                if d < best:
                    nodes[top] = child
                    bounds[top] = d
                    top += 1
            if top == under + 2 and bounds[under] < bounds[under + 1]:  # the nearer one is looked at first
                nodes[under], nodes[under + 1] = nodes[under + 1], nodes[under]
                bounds[under], bounds[under + 1] = bounds[under + 1], bounds[under]
        if b == 0:
            return best, which


@njit(cache=True, nogil=True)
def _nearest_slab(
    start: int,
    stop: int,
    points: Floats,
    at_most2: float,
    corners: Floats,
    planes: Floats,
    low: Floats,
    high: Floats,
    sheets: Floats,
    first: Ints,
    away: Floats,
    which: Ints,
) -> None:
    hint = int(np.int64(-1))
    nodes = np.empty(64, np.int64)
    bounds = np.empty(64)
    for n in range(start, stop):
        best, t = nearest_triangle(
            points[n, 0], points[n, 1], points[n, 2], at_most2, hint,
            corners, planes, low, high, sheets, first, nodes, bounds,
        )  # fmt: skip
        away[n] = np.sqrt(best) if t >= 0 else np.inf
        which[n] = t
        if t >= 0:
            hint = t
