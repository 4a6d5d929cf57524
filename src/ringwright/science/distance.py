"""Distances: between cells of a grid, exactly; and from cells or any points to the surface of a mesh, with sign.

:func:`between_cells` is the exact Euclidean distance transform, one axis after the other, the second and third by the
lower envelope of parabolas (Felzenszwalb & Huttenlocher, Theory of Computing 8, 2012). :class:`Surface` is a tree of
boxes about the triangles; it gives the distance of any point to the mesh. :func:`signed` is the distance of every cell
centre to the mesh itself, not to its cells: exact next to the surface, nearly so elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.slabs import in_slabs
from ringwright.science.voxels import Bools, Grid
from ringwright.terms.body import Floats, Ints, Mesh

Singles = NDArray[np.float32]
Indices = NDArray[np.int32]
FAR = np.float32(1e12)


def between_cells(inside: Bools, h_mm: float) -> Singles:
    """The distance in mm from the centre of each cell that is inside to the nearest centre that is not; 0 outside.

    What lies beyond the grid counts as outside only where the grid has cells there; give it a margin. A grid that is
    inside everywhere has no such distance: infinity.
    """
    cells = np.ascontiguousarray(inside)
    nx, ny, _ = cells.shape
    out = np.empty(cells.shape, np.float32)
    in_slabs(_along_z_and_y, nx, cells.view(np.uint8), out)
    in_slabs(_along_x, ny, out, np.float32(h_mm))
    return out


@njit(cache=True, nogil=True)
def _along_z_and_y(start: int, stop: int, cells: NDArray[np.uint8], out: Singles) -> None:
    _, ny, nz = cells.shape
    lines = np.empty((nz, ny), np.float32)
    work = np.empty((3, ny + 1), np.float32)
    where = np.empty(ny, np.int32)
    some = np.zeros(nz, np.bool_)
    for i in range(start, stop):
        some[:] = False
        for j in range(ny):
            run = np.float32(1e6)
            for k in range(nz):
                run = np.float32(0) if cells[i, j, k] == 0 else run + np.float32(1)
                out[i, j, k] = run
                some[k] |= cells[i, j, k] != 0
            run = np.float32(1e6)
            for k in range(nz - 1, -1, -1):
                run = np.float32(0) if cells[i, j, k] == 0 else run + np.float32(1)
                d = min(run, out[i, j, k])
                out[i, j, k] = d * d if d < np.float32(1e6) else FAR
        for j in range(ny):
            for k in range(nz):
                if some[k]:
                    lines[k, j] = out[i, j, k]
        for k in range(nz):
            if some[k]:
                _envelope(lines[k], where, work)
        for j in range(ny):
            for k in range(nz):
                if some[k]:
                    out[i, j, k] = lines[k, j]


@njit(cache=True, nogil=True)
def _along_x(start: int, stop: int, out: Singles, h: np.float32) -> None:
    nx, _, nz = out.shape
    lines = np.empty((nz, nx), np.float32)
    work = np.empty((3, nx + 1), np.float32)
    where = np.empty(nx, np.int32)
    some = np.zeros(nz, np.bool_)
    for j in range(start, stop):
        some[:] = False
        for i in range(nx):
            for k in range(nz):
                some[k] |= out[i, j, k] > 0
        for i in range(nx):
            for k in range(nz):
                if some[k]:
                    lines[k, i] = out[i, j, k]
        for k in range(nz):
            if some[k]:
                _envelope(lines[k], where, work)
                for i in range(nx):
                    d = lines[k, i]
                    lines[k, i] = h * np.sqrt(d) if d < FAR else np.float32(np.inf)
        for i in range(nx):
            for k in range(nz):
                if some[k]:
                    out[i, j, k] = lines[k, i]


@njit(cache=True, nogil=True)
def _envelope(f: Singles, where: Indices, work: Singles) -> None:
    """In place: f[p] becomes the least of f[q] + (p - q)^2 over q. The distances are whole numbers, exact to 2^24."""
    n = f.size
    cut, base = work[0], work[1]
    top = -1
    for q in range(n):
        fq = f[q]
        if fq >= FAR:
            continue
        s = np.float32(-1e9)
        while top >= 0:
            p = where[top]
            s = (fq - base[top]) / np.float32(2 * (q - p)) + np.float32(0.5) * np.float32(q + p)
            if s > cut[top]:
                break
            top -= 1
        if top < 0:
            s = np.float32(-1e9)
        top += 1
        where[top] = q
        base[top] = fq
        cut[top] = s
    if top < 0:
        return
    t = 0
    for p in range(n):
        while t < top and cut[t + 1] < p:
            t += 1
        d = np.float32(p - where[t])
        f[p] = base[t] + d * d


LEAF = 8


@dataclass(frozen=True, eq=False)
class Surface:
    """A tree of boxes about the triangles of a mesh, for the nearest point of the surface.

    ``corners`` (m, 3, 3) are the triangles in the order of the tree, ``order`` their places in the mesh, ``planes``
    (m, 4) their outward unit normal and offset. Node n has the children 2n + 1 and 2n + 2; the tree is complete, and
    each lowest node holds an equal run of triangles. ``sheets`` (n, 5) are the mean normal of a node's triangles and
    the least and greatest of normal . x on them: next to a smooth skin this holds a node far closer than its box.
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
    _split(corners.mean(axis=1), order, depth, first)
    corners = np.ascontiguousarray(corners[order])
    low = np.empty((2 ** (depth + 1) - 1, 3))
    high = np.empty_like(low)
    _boxes(corners, first, depth, low, high)
    sheets = np.empty((len(low), 5))
    in_slabs(_sheets_slab, len(low), corners, first, depth, sheets)
    return Surface(corners, order, planes_of(corners), low, high, sheets, first)


def planes_of(corners: Floats) -> Floats:
    """The outward unit normal and the offset n . x of each triangle (m, 4); 0 for a triangle without area."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    long = np.sqrt((normal**2).sum(axis=1, keepdims=True))
    normal = np.divide(normal, long, out=np.zeros_like(normal), where=long > 0)
    return np.ascontiguousarray(np.hstack([normal, (normal * corners[:, 0]).sum(axis=1, keepdims=True)]))


@njit(cache=True, nogil=True)
def _split(centres: Floats, order: Ints, depth: int, first: Ints) -> None:
    """Sorts ``order`` so that each run from ``first`` to the next is a lowest node: halved along the longest side."""
    m = order.size
    runs = 1
    cuts = np.zeros(2**depth + 1, np.int64)
    cuts[1] = m
    for _ in range(depth):
        fresh = np.zeros(2 * runs + 1, np.int64)
        for r in range(runs):
            a, b = cuts[r], cuts[r + 1]
            middle = (a + b) // 2
            fresh[2 * r] = a
            fresh[2 * r + 1] = middle
            if b - a < 2:
                continue
            axis = 0
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
        cuts[: runs + 1] = fresh
    first[:] = cuts[: first.size]


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
def _sheets_slab(start: int, stop: int, corners: Floats, first: Ints, depth: int, sheets: Floats) -> None:
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
        low, high = np.inf, -np.inf
        for t in range(a, b):
            for v in range(3):
                s = corners[t, v, 0] * x + corners[t, v, 1] * y + corners[t, v, 2] * z
                low = min(low, s)
                high = max(high, s)
        sheets[node, 0], sheets[node, 1], sheets[node, 2], sheets[node, 3], sheets[node, 4] = x, y, z, low, high


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
) -> tuple[float, int]:
    """The least squared distance below ``best`` and its triangle (-1 if there is none); ``hint`` is tried first."""
    which = -1
    if hint >= 0:
        d = away2(corners, hint, x, y, z)
        if d < best:
            best = d
            which = hint
    lowest = first.size - 2
    stack = np.empty(64, np.int64)
    bound = np.empty(64)
    stack[0] = 0
    bound[0] = _node_away2(low, high, sheets, 0, x, y, z)
    top = 1
    while top > 0:
        top -= 1
        node = stack[top]
        if bound[top] >= best:
            continue
        if node >= lowest:
            leaf = node - lowest
            for t in range(first[leaf], first[leaf + 1]):
                off = planes[t, 0] * x + planes[t, 1] * y + planes[t, 2] * z - planes[t, 3]
                if off * off >= best:
                    continue
                d = away2(corners, t, x, y, z)
                if d < best:
                    best = d
                    which = t
            continue
        a, b = 2 * node + 1, 2 * node + 2
        da = _node_away2(low, high, sheets, a, x, y, z)
        db = _node_away2(low, high, sheets, b, x, y, z)
        if da < db:
            a, b, da, db = b, a, db, da
        if da < best:
            stack[top] = a
            bound[top] = da
            top += 1
        if db < best:
            stack[top] = b
            bound[top] = db
            top += 1
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
    hint = -1
    for n in range(start, stop):
        best, t = nearest_triangle(
            points[n, 0], points[n, 1], points[n, 2], at_most2, hint, corners, planes, low, high, sheets, first
        )
        away[n] = np.sqrt(best) if t >= 0 else np.inf
        which[n] = t
        if t >= 0:
            hint = t


def signed(mesh: Mesh, grid: Grid, reach_mm: float = np.inf) -> Singles:
    """The distance in mm of every cell centre to the surface of the mesh: below 0 in the solid, above 0 outside.

    ``grid`` is :func:`~ringwright.science.voxels.fill` of the same mesh and gives the sign. Within a cell of the
    surface it is exact. Farther off a cell tries the triangles that are nearest to its 26 neighbours, twice; what
    that misses is a hundredth of a cell as a rule, a seventh at worst (tested against the tree). Outside the solid
    and beyond ``reach_mm`` the distance between cell centres stands in, half a cell less.
    """
    best, _, _ = nearest_cells(mesh, grid, reach_mm)
    in_slabs(_sign_slab, grid.shape[0], grid.inside.view(np.uint8), np.float32(grid.h_mm), best)
    if np.isfinite(reach_mm):
        beyond = best >= np.float32(1e5)
        best[beyond] = np.maximum(between_cells(~grid.inside, grid.h_mm)[beyond] - grid.h_mm / 2, reach_mm)
    return best


def nearest_cells(mesh: Mesh, grid: Grid, reach_mm: float) -> tuple[Singles, Indices, Floats]:
    """For each cell the squared distance to the mesh in cells and the triangle that is so near; the triangles in cells.

    Where nothing was looked for, outside the solid and beyond ``reach_mm`` (0: nowhere outside), the distance is
    ``FAR`` and the triangle -1.
    """
    corners = np.ascontiguousarray(((mesh.vertices_mm - np.asarray(grid.origin_mm)) / grid.h_mm)[mesh.faces])
    best = np.full(grid.shape, FAR, np.float32)
    which = np.full(grid.shape, -1, np.int32)
    in_slabs(_paint_slab, grid.shape[0], corners, grid.inside.view(np.uint8), reach_mm > 0, best, which)
    _spread(corners, grid.inside.view(np.uint8), min(reach_mm / grid.h_mm, 1e6), best, which)
    return best, which, corners


@njit(cache=True, nogil=True)
def _paint_slab(
    start: int, stop: int, corners: Floats, inside: NDArray[np.uint8], both: bool, best: Singles, which: Indices
) -> None:
    """Every triangle tells the cells within a cell of its box how far it is from them."""
    _, ny, nz = best.shape
    for m in range(corners.shape[0]):
        i0 = max(start, int(np.floor(min(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0]) - 1.5)))
        i1 = min(stop - 1, int(np.ceil(max(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0]) + 0.5)))
        if i1 < i0:
            continue
        j0 = max(0, int(np.floor(min(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) - 1.5)))
        j1 = min(ny - 1, int(np.ceil(max(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) + 0.5)))
        k0 = max(0, int(np.floor(min(corners[m, 0, 2], corners[m, 1, 2], corners[m, 2, 2]) - 1.5)))
        k1 = min(nz - 1, int(np.ceil(max(corners[m, 0, 2], corners[m, 1, 2], corners[m, 2, 2]) + 0.5)))
        ux, uy, uz = (
            corners[m, 1, 0] - corners[m, 0, 0],
            corners[m, 1, 1] - corners[m, 0, 1],
            corners[m, 1, 2] - corners[m, 0, 2],
        )
        vx, vy, vz = (
            corners[m, 2, 0] - corners[m, 0, 0],
            corners[m, 2, 1] - corners[m, 0, 1],
            corners[m, 2, 2] - corners[m, 0, 2],
        )
        nx, nyy, nzz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        long = np.sqrt(nx * nx + nyy * nyy + nzz * nzz)
        turn = 1.0 / long if long > 0 else 0.0
        for i in range(i0, i1 + 1):
            for j in range(j0, j1 + 1):
                for k in range(k0, k1 + 1):
                    if not both and inside[i, j, k] == 0:
                        continue
                    x, y, z = i + 0.5 - corners[m, 0, 0], j + 0.5 - corners[m, 0, 1], k + 0.5 - corners[m, 0, 2]
                    off = (x * nx + y * nyy + z * nzz) * turn
                    if off * off > 1.0 or off * off >= best[i, j, k]:
                        continue
                    d = np.float32(away2(corners, m, i + 0.5, j + 0.5, k + 0.5))
                    if d <= 1.0 and d < best[i, j, k]:
                        best[i, j, k] = d
                        which[i, j, k] = m


@njit(cache=True, nogil=True)
def _spread(corners: Floats, inside: NDArray[np.uint8], reach: float, best: Singles, which: Indices) -> None:
    """Layer by layer away from the surface, then back over all that was reached.

    A neighbour's nearest point stands for its triangle while choosing; the distance to the chosen triangle is exact.
    """
    nx, ny, nz = best.shape
    queue = np.empty(best.size, np.int32)
    slot = np.full(best.shape, -1, np.int32)
    foot = np.empty((best.size, 3), np.float32)
    end = 0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                if which[i, j, k] >= 0:
                    queue[end] = (i * ny + j) * nz + k
                    slot[i, j, k] = end
                    _keep(corners, best, which, foot, end, i, j, k)
                    end += 1
    seeds = end
    at = 0
    reach2 = np.float32(reach * reach)
    while at < end:
        n = queue[at]
        i, j, k = n // (ny * nz), (n // nz) % ny, n % nz
        if at >= seeds:
            _choose(corners, best, which, slot, foot, at, i, j, k)
        at += 1
        if inside[i, j, k] == 0 and best[i, j, k] > reach2:
            continue
        for side in range(6):
            p = i + (1 if side == 0 else -1 if side == 1 else 0)
            q = j + (1 if side == 2 else -1 if side == 3 else 0)
            r = k + (1 if side == 4 else -1 if side == 5 else 0)
            if p < 0 or q < 0 or r < 0 or p >= nx or q >= ny or r >= nz or slot[p, q, r] != -1:
                continue
            if reach == 0.0 and inside[p, q, r] == 0:
                continue
            slot[p, q, r] = end
            queue[end] = (p * ny + q) * nz + r
            end += 1
    for at in range(end - 1, seeds - 1, -1):
        n = queue[at]
        _choose(corners, best, which, slot, foot, at, n // (ny * nz), (n // nz) % ny, n % nz)


@njit(cache=True, nogil=True)
def _keep(corners: Floats, best: Singles, which: Indices, foot: Singles, at: int, i: int, j: int, k: int) -> None:
    """The nearest point of the cell's triangle, and how far it is."""
    x, y, z = i + 0.5, j + 0.5, k + 0.5
    px, py, pz = nearest_on(corners, which[i, j, k], x, y, z)
    foot[at, 0], foot[at, 1], foot[at, 2] = px, py, pz
    best[i, j, k] = (px - x) * (px - x) + (py - y) * (py - y) + (pz - z) * (pz - z)


@njit(cache=True, nogil=True)
def _choose(
    corners: Floats,
    best: Singles,
    which: Indices,
    slot: NDArray[np.int32],
    foot: Singles,
    at: int,
    i: int,
    j: int,
    k: int,
) -> None:
    """The cell takes the nearest of the triangles that its neighbours hold, tried best first, again while it helps."""
    nx, ny, nz = best.shape
    x, y, z = np.float32(i + 0.5), np.float32(j + 0.5), np.float32(k + 0.5)
    least = best[i, j, k]
    pick = np.int32(-1)
    for p in range(max(0, i - 1), min(nx, i + 2)):
        for q in range(max(0, j - 1), min(ny, j + 2)):
            for r in range(max(0, k - 1), min(nz, k + 2)):
                s = slot[p, q, r]
                m = which[p, q, r]
                if s < 0 or m < 0:
                    continue
                dx, dy, dz = foot[s, 0] - x, foot[s, 1] - y, foot[s, 2] - z
                d = dx * dx + dy * dy + dz * dz
                if d < least:
                    least = d
                    pick = m
    if pick >= 0:
        which[i, j, k] = pick
        _keep(corners, best, which, foot, at, i, j, k)


@njit(cache=True, nogil=True)
def _sign_slab(start: int, stop: int, inside: NDArray[np.uint8], h: np.float32, best: Singles) -> None:
    _, ny, nz = best.shape
    for i in range(start, stop):
        for j in range(ny):
            for k in range(nz):
                d = h * np.sqrt(best[i, j, k])
                best[i, j, k] = -d if inside[i, j, k] else d
