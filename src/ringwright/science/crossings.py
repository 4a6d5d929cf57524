"""Where a surface crosses itself: pairs of triangles that pass through one another, and the space counted twice.

The triangles are sorted along a space-filling (Morton) curve and a balanced tree of boxes stands over them; each looks
for partners further along the curve. Imported only where it is used: the kernels are compiled by numba.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from ringwright.terms.body import Floats, Ints, Mesh

LEAF = 4
CELLS = 40
"""Cells along the longest edge of the box in which doubled space is counted."""


@dataclass(frozen=True, eq=False)
class Crossings:
    """Faces that cross another (sorted), the deepest crossing in mm, and a point there."""

    faces: Ints
    depth_mm: float
    point_mm: Floats


def crossings(mesh: Mesh, deeper_than_mm: float) -> Crossings | None:
    """The faces that pass through another face by more than a depth, or None.

    The depth of a crossing is how far the nearer end of an edge stands beyond the face that it passes through. Faces
    with a common edge are not compared.
    """
    if not len(mesh.faces):
        return None
    vertices, faces = np.ascontiguousarray(mesh.vertices_mm), np.ascontiguousarray(mesh.faces)
    order = _along_curve(mesh)
    low, high = _boxes(vertices, faces, order, LEAF)
    deep, partner = _cross(vertices, faces, order, low, high, LEAF, deeper_than_mm)
    hit = np.flatnonzero(deep > 0)
    if not len(hit):
        return None
    worst = hit[int(np.argmax(deep[hit]))]
    return Crossings(hit, float(deep[worst]), mesh.corners_mm[[worst, partner[worst]]].mean(axis=(0, 1)))


def doubled_volume(mesh: Mesh, faces: Ints) -> float:
    """The volume in mm3 near some faces that a surface winds round other than once or not at all, weighed by how often.

    Winding numbers (Jacobson et al., Robust Inside-Outside Segmentation, 2013) at the centres of a grid over the box
    of these faces.
    """
    import igl

    corners = mesh.corners_mm[faces].reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    step = max(float((high - low).max()) / CELLS, 1e-9)
    counts = np.maximum(np.ceil((high - low) / step).astype(int), 1)
    axes = [low[k] + (np.arange(counts[k]) + 0.5) * (high[k] - low[k]) / counts[k] for k in range(3)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    winding = igl.fast_winding_number(np.array(mesh.vertices_mm), np.array(mesh.faces), points)
    turns = np.rint(winding)
    wrong = np.where(turns < 0, -turns, np.maximum(turns - 1.0, 0.0))
    return float(wrong.mean() * np.prod(np.maximum(high - low, 1e-9)))


def _along_curve(mesh: Mesh) -> Ints:
    """The faces in the order of the Morton code of their centres."""
    centres = mesh.corners_mm.mean(axis=1)
    low, high = centres.min(axis=0), centres.max(axis=0)
    cells = ((centres - low) / max(float((high - low).max()), 1e-300) * 1023.0).astype(np.uint64)
    code = np.zeros(len(centres), dtype=np.uint64)
    for bit in range(10):
        for axis in range(3):
            code |= ((cells[:, axis] >> np.uint64(bit)) & np.uint64(1)) << np.uint64(3 * bit + axis)
    order: Ints = np.argsort(code, kind="stable")
    return order


@njit(cache=True)
def _boxes(vertices: Floats, faces: Ints, order: Ints, leaf: int) -> tuple[Floats, Floats]:
    n = len(order)
    leaves = 1
    while leaves * leaf < n:
        leaves *= 2
    low = np.full((2 * leaves, 3), np.inf)
    high = np.full((2 * leaves, 3), -np.inf)
    for k in range(n):
        node = leaves + k // leaf
        for c in range(3):
            v = faces[order[k], c]
            for d in range(3):
                low[node, d] = min(low[node, d], vertices[v, d])
                high[node, d] = max(high[node, d], vertices[v, d])
    for node in range(leaves - 1, 0, -1):
        for d in range(3):
            low[node, d] = min(low[2 * node, d], low[2 * node + 1, d])
            high[node, d] = max(high[2 * node, d], high[2 * node + 1, d])
    return low, high


@njit(cache=True)
def _pierces(v: Floats, p: int, q: int, a: int, b: int, c: int) -> float:
    """How far the nearer end of p-q stands beyond the triangle that it passes through; 0 if it does not."""
    ux, uy, uz = v[b, 0] - v[a, 0], v[b, 1] - v[a, 1], v[b, 2] - v[a, 2]
    wx, wy, wz = v[c, 0] - v[a, 0], v[c, 1] - v[a, 1], v[c, 2] - v[a, 2]
    px, py, pz = v[p, 0] - v[a, 0], v[p, 1] - v[a, 1], v[p, 2] - v[a, 2]
    qx, qy, qz = v[q, 0] - v[a, 0], v[q, 1] - v[a, 1], v[q, 2] - v[a, 2]
    nx, ny, nz = uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx
    s, t = px * nx + py * ny + pz * nz, qx * nx + qy * ny + qz * nz
    if s * t >= 0.0:
        return 0.0
    share = s / (s - t)
    x, y, z = px + share * (qx - px), py + share * (qy - py), pz + share * (qz - pz)
    full = nx * nx + ny * ny + nz * nz
    i = (nx * (y * wz - z * wy) + ny * (z * wx - x * wz) + nz * (x * wy - y * wx)) / full
    j = (nx * (uy * z - uz * y) + ny * (uz * x - ux * z) + nz * (ux * y - uy * x)) / full
    if i <= 0.0 or j <= 0.0 or i + j >= 1.0:
        return 0.0
    near: float = min(abs(s), abs(t)) / np.sqrt(full)
    return near


@njit(cache=True)
def _has(faces: Ints, f: int, p: int) -> bool:
    return bool(faces[f, 0] == p or faces[f, 1] == p or faces[f, 2] == p)


@njit(cache=True)
def _depth(vertices: Floats, faces: Ints, f: int, g: int) -> float:
    """How deep two triangles cross; edges that touch the other triangle by a common vertex do not count."""
    common = 0
    for i in range(3):
        if _has(faces, g, faces[f, i]):
            common += 1
    if common > 1:
        return 0.0
    deep = 0.0
    for turn in range(2):
        e, t = f, g
        if turn == 1:
            e, t = g, f
        for i in range(3):
            p, q = faces[e, i], faces[e, (i + 1) % 3]
            if common == 1 and (_has(faces, t, p) or _has(faces, t, q)):
                continue
            deep = max(deep, _pierces(vertices, p, q, faces[t, 0], faces[t, 1], faces[t, 2]))
    return deep


@njit(cache=True)
def _own_boxes(vertices: Floats, faces: Ints, order: Ints) -> tuple[Floats, Floats]:
    """The box of each face, along the curve."""
    low, high = np.empty((len(order), 3)), np.empty((len(order), 3))
    for k in range(len(order)):
        f = order[k]
        for d in range(3):
            x, y, z = vertices[faces[f, 0], d], vertices[faces[f, 1], d], vertices[faces[f, 2], d]
            low[k, d] = min(x, y, z)
            high[k, d] = max(x, y, z)
    return low, high


@njit(cache=True)
def _cross(
    vertices: Floats, faces: Ints, order: Ints, low: Floats, high: Floats, leaf: int, deeper: float
) -> tuple[Floats, Ints]:
    """The tree is walked once for each leaf; only leaves from there on along the curve are looked at."""
    n = len(order)
    leaves = len(low) // 2
    own_low, own_high = _own_boxes(vertices, faces, order)
    deep = np.zeros(len(faces))
    partner = np.zeros(len(faces), dtype=np.int64)
    stack, last = np.empty(128, dtype=np.int64), np.empty(128, dtype=np.int64)
    for here in range((n + leaf - 1) // leaf):
        home = leaves + here
        stack[0], last[0] = 1, leaves - 1
        top = 1
        while top:
            top -= 1
            node, end = stack[top], last[top]
            if end < here or _beside(low, high, node, home):
                continue
            if node < leaves:
                level = leaves
                while level > node:
                    level //= 2
                half = leaves // level // 2
                stack[top], last[top] = 2 * node, end - half
                stack[top + 1], last[top + 1] = 2 * node + 1, end
                top += 2
                continue
            first = (node - leaves) * leaf
            _compare(
                vertices,
                faces,
                order,
                own_low,
                own_high,
                here * leaf,
                min((here + 1) * leaf, n),
                first,
                min(first + leaf, n),
                deeper,
                deep,
                partner,
            )
    return deep, partner


@njit(cache=True, inline="always")
def _compare(
    vertices: Floats,
    faces: Ints,
    order: Ints,
    low: Floats,
    high: Floats,
    start: int,
    stop: int,
    first: int,
    last: int,
    deeper: float,
    deep: Floats,
    partner: Ints,
) -> None:
    """Compare the faces of one leaf with those of another that lie further along the curve."""
    for k in range(start, stop):
        for m in range(max(first, k + 1), last):
            if _beside(low, high, k, m):
                continue
            f, g = order[k], order[m]
            depth = _depth(vertices, faces, f, g)
            if depth > deeper:
                if depth > deep[f]:
                    deep[f], partner[f] = depth, g
                if depth > deep[g]:
                    deep[g], partner[g] = depth, f


@njit(cache=True, inline="always")
def _beside(low: Floats, high: Floats, k: int, m: int) -> bool:
    """Whether two boxes lie apart."""
    x = low[k, 0] > high[m, 0] or low[m, 0] > high[k, 0]
    y = low[k, 1] > high[m, 1] or low[m, 1] > high[k, 1]
    z = low[k, 2] > high[m, 2] or low[m, 2] > high[k, 2]
    return bool(x or y or z)


def crossings_slow(mesh: Mesh, deeper_than_mm: float) -> Ints:
    """Every pair of faces tried: the slow twin of :func:`crossings` for tests on small meshes. Faces only."""
    vertices, faces = np.ascontiguousarray(mesh.vertices_mm), np.ascontiguousarray(mesh.faces)
    found: set[int] = set()
    for f in range(len(faces)):
        for g in range(f + 1, len(faces)):
            if _depth(vertices, faces, f, g) > deeper_than_mm:
                found.update((f, g))
    return np.array(sorted(found), dtype=np.int64)
