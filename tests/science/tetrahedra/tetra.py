"""Tetrahedra that fill a solid given by its signed distance.

Method: isosurface stuffing (F. Labelle, J. R. Shewchuk, "Isosurface Stuffing: Fast Tetrahedral Meshes with
Good Dihedral Angles", SIGGRAPH 2007): a body-centred cubic lattice is laid over the solid, lattice points
close to the surface are drawn onto it, and the tetrahedra that still cross it are cut. It needs no clean
surface mesh, is deterministic, and no tetrahedron can become a sliver. The quadrilaterals that cutting
leaves are split through their corner of least number (J. Dompierre et al., "How to Subdivide Pyramids,
Prisms and Hexahedra into Tetrahedra", 1999), so that neighbours agree without talking to each other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import numpy as np

from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault

SignedDistance = Callable[[Floats], Floats]
"""Signed distance at (n, 3) points, positive inside, in mm."""

# How near a cut may come to a lattice point before the point is drawn onto the surface, as a share of the
# edge: the "safe" values of the paper for long (axis-parallel) and short (diagonal) edges.
_DRAW_LONG = 0.24999
_DRAW_SHORT = 0.41189


@dataclass(frozen=True, eq=False)
class Tets:
    """Tetrahedra: ``points_mm`` (n, 3), ``cells`` (m, 4) of positive volume, ``skin`` (n,) bool: on the surface."""

    points_mm: Floats
    cells: Ints
    skin: np.ndarray[tuple[int], np.dtype[np.bool_]]

    @property
    def volumes_mm3(self) -> Floats:
        """(m,) volumes of the cells, positive."""
        p = self.points_mm[self.cells]
        a, b, c = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0], p[:, 3] - p[:, 0]
        return cast(Floats, np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0)

    def skin_faces(self) -> Ints:
        """(k, 3) the triangles that belong to one cell only, outward."""
        c = self.cells
        faces = np.concatenate([c[:, [1, 2, 3]], c[:, [0, 3, 2]], c[:, [0, 1, 3]], c[:, [0, 2, 1]]])
        order = np.sort(faces, axis=1)
        n = np.int64(len(self.points_mm))
        key = (order[:, 0] * n + order[:, 1]) * n + order[:, 2]
        _, first, count = np.unique(key, return_index=True, return_counts=True)
        return cast(Ints, faces[first[count == 1]])


def fill(distance: SignedDistance, low_mm: Floats, high_mm: Floats, edge_mm: float) -> Tets:
    """Fill the solid ``distance > 0`` inside the box with tetrahedra of about ``edge_mm``.

    The surface is met to second order in ``edge_mm``; sharp edges are rounded off within one cell.
    Raises :class:`ComputingFault` if nothing is inside.
    """
    points, tets = _lattice(np.asarray(low_mm, float), np.asarray(high_mm, float), edge_mm)
    phi = distance(points)
    # Only cells that may touch the solid are kept, so that memory follows the solid, not its box.
    alive = (phi[tets] > 0).any(axis=1)
    if not alive.any():
        raise ComputingFault(f"no lattice point of a {edge_mm:g} mm grid lies inside the solid")
    used, tets = _renumbered(tets[alive], len(points))
    points, phi = points[used], phi[used].copy()
    # A lattice point exactly on the surface counts as on it, not as a sign change.
    phi[np.abs(phi) < 1e-9 * edge_mm] = 0.0

    points, phi = _draw_onto_surface(distance, points, phi, tets, edge_mm)
    return _cut(distance, points, phi, tets)


def _lattice(low: Floats, high: Floats, edge: float) -> tuple[Floats, Ints]:
    """The body-centred cubic lattice over the box: corner and centre points, and its tetrahedra."""
    n = np.maximum(np.ceil((high - low) / edge).astype(int) + 2, 3)
    start = (low + high) / 2 - n * edge / 2
    axes = [np.arange(k + 1) for k in n]
    corner = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    centre = np.stack(np.meshgrid(*[a[:-1] for a in axes], indexing="ij"), axis=-1).reshape(-1, 3)
    points = start + edge * np.concatenate([corner.astype(float), centre + 0.5])

    def corner_at(ijk: Ints) -> Ints:
        return cast(Ints, (ijk[:, 0] * (n[1] + 1) + ijk[:, 1]) * (n[2] + 1) + ijk[:, 2])

    def centre_at(ijk: Ints) -> Ints:
        return cast(Ints, len(corner) + (ijk[:, 0] * n[1] + ijk[:, 1]) * n[2] + ijk[:, 2])

    tets = []
    for axis in range(3):
        # Two centres that share a face across `axis`, with each of the four edges of that face.
        first = centre[centre[:, axis] < n[axis] - 1]
        step = np.zeros(3, int)
        step[axis] = 1
        u, v = np.zeros(3, int), np.zeros(3, int)
        u[(axis + 1) % 3] = 1
        v[(axis + 2) % 3] = 1
        ring = [first + step, first + step + u, first + step + u + v, first + step + v]
        a, b = centre_at(first), centre_at(first + step)
        for k in range(4):
            tets.append(np.stack([a, b, corner_at(ring[k]), corner_at(ring[(k + 1) % 4])], axis=1))
    return points, np.concatenate(tets)


def _edges(tets: Ints) -> Ints:
    """(k, 2) the different edges of the cells, lower number first."""
    pairs = np.sort(tets[:, [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]]].reshape(-1, 2), axis=1)
    n = np.int64(pairs.max(initial=0) + 1)
    keys = np.unique(pairs[:, 0] * n + pairs[:, 1])
    return np.column_stack([keys // n, keys % n])


def _renumbered(cells: Ints, points: int) -> tuple[Ints, Ints]:
    """Which of the points the cells use, in order, and the cells by their new numbers."""
    mark = np.zeros(points, bool)
    mark[cells] = True
    return np.flatnonzero(mark), (np.cumsum(mark) - 1)[cells]


def _crossing(distance: SignedDistance, p: Floats, q: Floats, fp: Floats, fq: Floats) -> Floats:
    """Where the surface crosses the segments p–q (opposite signs): two safeguarded secant steps."""
    t = fp / (fp - fq)
    low, high = np.zeros_like(t), np.ones_like(t)
    f_low, f_high = fp.copy(), fq.copy()
    for _ in range(2):
        f = distance(p + t[:, None] * (q - p))
        same = np.sign(f) == np.sign(f_low)
        low, f_low = np.where(same, t, low), np.where(same, f, f_low)
        high, f_high = np.where(same, high, t), np.where(same, f_high, f)
        gap = f_low - f_high
        t = low + (high - low) * np.where(gap == 0, 0.5, f_low / np.where(gap == 0, 1.0, gap))
    return t


def _draw_onto_surface(
    distance: SignedDistance, points: Floats, phi: Floats, tets: Ints, edge: float
) -> tuple[Floats, Floats]:
    """Move each lattice point that a crossing comes too near to onto the nearest such crossing."""
    edges = _edges(tets)
    a, b = edges[:, 0], edges[:, 1]
    cut = phi[a] * phi[b] < 0
    a, b = a[cut], b[cut]
    t = _crossing(distance, points[a], points[b], phi[a], phi[b])
    length = np.linalg.norm(points[b] - points[a], axis=1)
    limit = np.where(length > 0.95 * edge, _DRAW_LONG, _DRAW_SHORT)
    where = points[a] + t[:, None] * (points[b] - points[a])
    who = np.concatenate([a[t < limit], b[1 - t < limit]])
    to = np.concatenate([where[t < limit], where[1 - t < limit]])
    far = np.concatenate([(t * length)[t < limit], ((1 - t) * length)[1 - t < limit]])
    order = np.lexsort((far, who))
    who, to = who[order], to[order]
    first = np.concatenate([[True], who[1:] != who[:-1]]) if len(who) else np.zeros(0, bool)
    points, phi = points.copy(), phi.copy()
    points[who[first]] = to[first]
    phi[who[first]] = 0.0
    return points, phi


def _cut(distance: SignedDistance, points: Floats, phi: Floats, tets: Ints) -> Tets:
    """Keep what is inside of each cell: whole, or cut at the surface into one to three cells."""
    sign = np.sign(phi).astype(int)[tets]
    plus, minus = (sign > 0).sum(axis=1), (sign < 0).sum(axis=1)
    whole = tets[(minus == 0) & (plus > 0)]

    edges = _edges(tets[(minus > 0) & (plus > 0)]) if ((minus > 0) & (plus > 0)).any() else np.zeros((0, 2), int)
    crossed = edges[phi[edges[:, 0]] * phi[edges[:, 1]] < 0]
    t = _crossing(distance, points[crossed[:, 0]], points[crossed[:, 1]], phi[crossed[:, 0]], phi[crossed[:, 1]])
    new = points[crossed[:, 0]] + t[:, None] * (points[crossed[:, 1]] - points[crossed[:, 0]])
    n = len(points)
    key = crossed[:, 0] * n + crossed[:, 1]

    def cut_between(a: Ints, b: Ints) -> Ints:
        """The number of the new point on edge a–b."""
        low, high = np.minimum(a, b), np.maximum(a, b)
        return n + np.searchsorted(key, low * n + high)

    # Corners sorted so that the inside ones come first, those on the surface next, the outside ones last.
    order = np.argsort(-sign, axis=1, kind="stable")
    s = np.take_along_axis(tets, order, axis=1)
    made = [whole]

    one = (plus == 1) & (minus > 0)
    a, rest = s[one][:, 0], s[one][:, 1:]
    outside = np.take_along_axis(sign, order, axis=1)[one][:, 1:] < 0
    corner = np.where(outside, cut_between(np.repeat(a[:, None], 3, axis=1), rest), rest)
    made.append(np.column_stack([a, corner]))

    pyramid = s[(plus == 2) & (minus == 1)]
    if len(pyramid):
        p, q, zero, m = pyramid.T
        made.append(_pyramid(np.column_stack([p, q, cut_between(q, m), cut_between(p, m)]), zero))
    wedge = s[(plus == 2) & (minus == 2)]
    if len(wedge):
        p, q, m, r = wedge.T
        ends = np.column_stack([p, cut_between(p, m), cut_between(p, r), q, cut_between(q, m), cut_between(q, r)])
        made.append(_prism(ends))
    slab = s[(plus == 3) & (minus == 1)]
    if len(slab):
        p, q, r, m = slab.T
        ends = np.column_stack([p, q, r, cut_between(p, m), cut_between(q, m), cut_between(r, m)])
        made.append(_prism(ends))

    cells = np.concatenate(made)
    all_points = np.concatenate([points, new])
    on_skin = np.concatenate([phi == 0.0, np.ones(len(new), bool)])
    used, cells = _renumbered(cells, len(all_points))
    return _oriented(Tets(all_points[used], cells, on_skin[used]))


def _pyramid(base: Ints, apex: Ints) -> Ints:
    """Two cells from a quadrilateral (corners in order) and an apex; the diagonal starts at the least corner."""
    first = np.argmin(base, axis=1) % 2 == 0
    straight = base[:, [0, 1, 2, 0, 2, 3]]
    other = base[:, [1, 2, 3, 1, 3, 0]]
    tri = np.where(first[:, None], straight, other).reshape(-1, 3)
    return np.column_stack([tri, np.repeat(apex, 2)])


def _prism(corner: Ints) -> Ints:
    """Three cells from a triangular prism (0 1 2 below 3 4 5), each quadrilateral split through its least corner."""
    # Turn and flip the prism so that corner 0 is its least.
    turn = np.array([[0, 1, 2, 3, 4, 5], [1, 2, 0, 4, 5, 3], [2, 0, 1, 5, 3, 4],
                     [3, 5, 4, 0, 2, 1], [4, 3, 5, 1, 0, 2], [5, 4, 3, 2, 1, 0]])  # fmt: skip
    v = np.take_along_axis(corner, turn[np.argmin(corner, axis=1)], axis=1)
    # The two quadrilaterals at corner 0 are split through it; the third by its own least corner.
    through_1 = np.minimum(v[:, 1], v[:, 5]) < np.minimum(v[:, 2], v[:, 4])
    a = v[:, [0, 1, 2, 5, 0, 1, 5, 4, 0, 4, 5, 3]]
    b = v[:, [0, 1, 2, 4, 0, 4, 2, 5, 0, 4, 5, 3]]
    return np.where(through_1[:, None], a, b).reshape(-1, 4)


def _oriented(tets: Tets) -> Tets:
    """The same cells, each turned so that its volume is positive; cells of no volume are dropped."""
    volume = tets.volumes_mm3
    cells = tets.cells.copy()
    cells[volume < 0] = cells[volume < 0][:, [0, 2, 1, 3]]
    scale = np.abs(volume).max()
    return Tets(tets.points_mm, cells[np.abs(volume) > 1e-12 * scale], tets.skin)


def largest_part(tets: Tets) -> Tets:
    """The largest part that hangs together by whole faces; crumbs that touch at a corner or not at all are dropped.

    A thin place that the lattice cannot resolve may come loose; left in, it would move without resistance.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    c = tets.cells
    faces = np.sort(np.concatenate([c[:, [1, 2, 3]], c[:, [0, 3, 2]], c[:, [0, 1, 3]], c[:, [0, 2, 1]]]), axis=1)
    n = np.int64(len(tets.points_mm))
    key = (faces[:, 0] * n + faces[:, 1]) * n + faces[:, 2]
    order = np.argsort(key, kind="stable")
    pair = np.flatnonzero(key[order][1:] == key[order][:-1])
    a, b = order[pair] % len(c), order[pair + 1] % len(c)
    _, part = connected_components(coo_matrix((np.ones(len(a)), (a, b)), shape=(len(c), len(c))), directed=False)
    biggest = int(np.argmax(np.bincount(part, tets.volumes_mm3)))
    used, cells = _renumbered(c[part == biggest], len(tets.points_mm))
    return Tets(tets.points_mm[used], cells, tets.skin[used])


def least_angles_deg(tets: Tets) -> Floats:
    """(m,) the least dihedral angle of each cell: the usual measure of its quality (70.5° for a regular one)."""
    p = tets.points_mm[tets.cells]
    normals = []
    for i, j, k in ((1, 2, 3), (0, 3, 2), (0, 1, 3), (0, 2, 1)):
        normal = np.cross(p[:, j] - p[:, i], p[:, k] - p[:, i])
        normals.append(normal / np.linalg.norm(normal, axis=1, keepdims=True))
    angles = [
        180.0 - np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", normals[i], normals[j]), -1.0, 1.0)))
        for i in range(4)
        for j in range(i + 1, 4)
    ]
    return cast(Floats, np.min(angles, axis=0))
