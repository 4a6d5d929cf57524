"""Polyhedra with flat faces of any number of corners: prisms, cutting by planes, mirror doubling, volume, triangles.

A :class:`Polyhedron` keeps its faces as loops of vertex numbers, counter-clockwise seen from outside, so a face that a
plane made stays one face. Cutting classifies every vertex once against the plane (inside, on, outside) and makes each
new vertex once for the edge that it lies on: the result of cutting a closed solid is closed by construction, also where
many planes meet in one point.

Lengths are in whatever unit the caller uses; ``tolerance`` is in the same unit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault

Loop = tuple[int, ...]

_UPRIGHT = 1e-9
"""A face whose unit normal has less than this along y crosses the mirror plane at right angles."""


@dataclass(frozen=True, eq=False)
class Polyhedron:
    """``vertices`` (n, 3) and ``faces`` as loops of vertex numbers, counter-clockwise seen from outside."""

    vertices: Floats
    faces: tuple[Loop, ...]

    @property
    def edges(self) -> dict[tuple[int, int], int]:
        """Each directed edge with how often it occurs; in a closed solid each once, and its opposite once."""
        found: dict[tuple[int, int], int] = defaultdict(int)
        for face in self.faces:
            for a, b in zip(face, face[1:] + face[:1], strict=True):
                found[a, b] += 1
        return dict(found)

    @property
    def closed(self) -> bool:
        """Whether every directed edge occurs once and its opposite once."""
        edges = self.edges
        return all(count == 1 and edges.get((b, a)) == 1 for (a, b), count in edges.items())

    @property
    def euler(self) -> int:
        """Vertices in use minus edges plus faces: 2 for a solid without holes."""
        used = {v for face in self.faces for v in face}
        return len(used) - len(self.edges) // 2 + len(self.faces)

    @property
    def volume(self) -> float:
        """The enclosed volume, by the divergence theorem; positive when the faces point outward."""
        corners = self.vertices[triangles(self)]
        return float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6.0)

    def normals(self) -> Floats:
        """The outward unit normal of each face (Newell's sum, so that collinear corners do no harm)."""
        found = np.empty((len(self.faces), 3))
        for numbers, loops in self._by_size():
            found[numbers] = _area_vectors(self.vertices[loops])
        unit: Floats = found / np.linalg.norm(found, axis=1)[:, None]
        return unit

    def _by_size(self) -> Iterator[tuple[Ints, Ints]]:
        """The faces of each number of corners together: their numbers (m,) and loops (m, k)."""
        sizes = np.array([len(face) for face in self.faces])
        for size in np.unique(sizes):
            numbers = np.flatnonzero(sizes == size)
            yield numbers, np.array([self.faces[i] for i in numbers])

    def moved(self, scale: Sequence[float], shift: Sequence[float]) -> Polyhedron:
        """The solid with ``v -> scale * v + shift`` for each coordinate; the scales are positive."""
        return Polyhedron(self.vertices * np.asarray(scale) + np.asarray(shift), self.faces)


def prism(outline: Floats, low: float, high: float) -> Polyhedron:
    """The right prism over a convex ``outline`` (n, 2), counter-clockwise, from z = ``low`` to z = ``high``."""
    n = len(outline)
    below = np.column_stack([outline, np.full(n, low)])
    above = np.column_stack([outline, np.full(n, high)])
    sides = tuple((i, (i + 1) % n, n + (i + 1) % n, n + i) for i in range(n))
    return Polyhedron(np.vstack([below, above]), (tuple(range(n - 1, -1, -1)), tuple(range(n, 2 * n)), *sides))


def cut(solid: Polyhedron, normals: Floats, offsets: Floats, tolerance: float) -> Polyhedron:
    """What is left of a convex ``solid`` where ``normal . x <= offset`` for every plane (m, 3), (m,).

    A vertex nearer to a plane than ``tolerance`` counts as lying on it. Raises :class:`ComputingFault` when nothing
    is left.
    """
    vertices = solid.vertices
    faces = list(solid.faces)
    for normal, offset in zip(np.asarray(normals, float), np.asarray(offsets, float), strict=True):
        length = float(np.linalg.norm(normal))
        vertices, faces = _cut_once(vertices, faces, normal / length, offset / length, tolerance)
    return _compact(vertices, faces)


def _cut_once(
    vertices: Floats, faces: list[Loop], normal: Floats, offset: float, tolerance: float
) -> tuple[Floats, list[Loop]]:
    """One plane. New vertices are appended; those outside stay in the array, unused."""
    distance = vertices @ normal - offset
    sign = (np.sign(distance) * (np.abs(distance) > tolerance)).astype(int).tolist()
    kept: list[Loop] = []
    touched: list[Loop] = []
    made: dict[tuple[int, int], int] = {}
    fresh: list[Floats] = []
    any_cut = False
    for face in faces:
        signs = [sign[v] for v in face]
        top = max(signs)
        if top < 0:
            kept.append(face)
            continue
        if top == 0:
            touched.append(face)
            continue
        any_cut = True
        if min(signs) < 0:
            touched.append(_cut_face(face, sign, distance, vertices, made, fresh))
    if not any_cut:
        return vertices, faces
    if not kept and not touched:
        raise ComputingFault("a plane cut the whole solid away")
    count = len(vertices)
    on = {v for v, s in enumerate(sign) if s == 0} | set(range(count, count + len(fresh)))
    loop = _rim(touched, on)
    if fresh:
        vertices = np.vstack([vertices, np.array(fresh)])
    return vertices, [*kept, *touched, loop]


def _cut_face(
    face: Loop,
    sign: list[int],
    distance: Floats,
    vertices: Floats,
    made: dict[tuple[int, int], int],
    fresh: list[Floats],
) -> Loop:
    """The part of a face on the inner side; a vertex on an edge is made once and shared with the neighbour."""
    loop: list[int] = []
    for a, b in zip(face, face[1:] + face[:1], strict=True):
        if sign[a] <= 0:
            loop.append(a)
        if sign[a] * sign[b] < 0:
            edge = (a, b) if a < b else (b, a)
            if edge not in made:
                p, q = edge
                share = distance[p] / (distance[p] - distance[q])
                made[edge] = len(vertices) + len(fresh)
                fresh.append(vertices[p] + share * (vertices[q] - vertices[p]))
            loop.append(made[edge])
    return tuple(loop)


def _rim(faces: Iterable[Loop], on: set[int]) -> Loop:
    """The loop that closes the cut: the edges in the plane that lack their opposite, turned round."""
    edges = {(a, b) for face in faces for a, b in zip(face, face[1:] + face[:1], strict=True) if a in on and b in on}
    follows = {b: a for a, b in edges if (b, a) not in edges}
    if len(follows) < 3:
        raise ComputingFault(f"a cut left a rim of {len(follows)} edges")
    start = next(iter(follows))
    loop = [start]
    while (here := follows[loop[-1]]) != start:
        loop.append(here)
        if len(loop) > len(follows):
            raise ComputingFault("the rim of a cut does not close")
    if len(loop) != len(follows):
        raise ComputingFault("a cut left more than one rim")
    return tuple(loop)


def doubled(half: Polyhedron, tolerance: float) -> Polyhedron:
    """The union of ``half``, which lies in y >= 0 with a flat face on y = 0, and its mirror image: exactly symmetric.

    The solid may have a valley along the mirror plane, so the result need not be convex. Faces that cross the mirror
    plane at right angles become one face. Raises :class:`ComputingFault` when ``half`` has no face on the plane.
    """
    vertices = half.vertices.copy()
    flat = np.abs(vertices[:, 1]) <= tolerance
    vertices[flat, 1] = 0.0
    seam = [face for face in half.faces if all(flat[v] for v in face)]
    if len(seam) != 1:
        raise ComputingFault(f"{len(seam)} faces lie on the mirror plane; there must be one")
    twin = np.arange(len(vertices))
    twin[~flat] = len(vertices) + np.arange(int((~flat).sum()))
    image = vertices[~flat] * np.array([1.0, -1.0, 1.0])
    across = {(b, a) for a, b in zip(seam[0], seam[0][1:] + seam[0][:1], strict=True)}
    faces: list[Loop] = []
    for face in half.faces:
        if face is seam[0]:
            continue
        mirrored = tuple(int(twin[v]) for v in reversed(face))
        joint = [i for i in range(len(face)) if (face[i], face[(i + 1) % len(face)]) in across]
        if len(joint) == 1 and abs(_unit(_area_vectors(vertices[None, list(face)])[0])[1]) <= _UPRIGHT:
            start = joint[0] + 1
            first = face[start:] + face[:start]
            place = mirrored.index(first[-1])
            second = mirrored[place:] + mirrored[:place]
            faces.append(first + second[1:-1])
        else:
            faces += [face, mirrored]
    return _compact(np.vstack([vertices, image]), faces)


def triangles(solid: Polyhedron) -> Ints:
    """The faces cut into triangles (m, 3), each as a fan from the corner that gives the least slender ones.

    Right for convex faces, and for those that some corner sees whole.
    """
    found: list[Ints] = []
    for _, loops in solid._by_size():
        count, size = loops.shape
        turns = (np.arange(size)[:, None] + np.arange(size)[None, :]) % size
        if size > 3:
            corners = solid.vertices[loops]
            normals = _area_vectors(corners)
            fans = corners[:, turns]
            spokes = fans[:, :, 1:] - fans[:, :, :1]
            areas = np.einsum("fatk,fk->fat", np.cross(spokes[:, :, :-1], spokes[:, :, 1:]), normals)
            apex = areas.min(axis=2).argmax(axis=1)
        else:
            apex = np.zeros(count, dtype=np.int64)
        turned = np.take_along_axis(loops, turns[apex], axis=1)
        first = np.repeat(turned[:, :1], size - 2, axis=1)
        found.append(np.stack([first, turned[:, 1:-1], turned[:, 2:]], axis=2).reshape(-1, 3))
    return np.vstack(found)


def _area_vectors(corners: Floats) -> Floats:
    """Twice the area of closed loops (m, k, 3) as vectors along their normals (m, 3)."""
    relative = corners - corners[:, :1]
    around: Floats = np.cross(relative, np.roll(relative, -1, axis=1)).sum(axis=1)
    return around


def _unit(vector: Floats) -> Floats:
    """The vector with length one."""
    unit: Floats = vector / np.linalg.norm(vector)
    return unit


def _compact(vertices: Floats, faces: list[Loop]) -> Polyhedron:
    """Without the vertices that no face uses, and without those that only two faces share (middles of an edge)."""
    count = np.zeros(len(vertices), dtype=int)
    for face in faces:
        for v in face:
            count[v] += 1
    number = np.full(len(vertices), -1)
    used = count > 2
    number[used] = np.arange(int(used.sum()))
    return Polyhedron(vertices[used], tuple(tuple(int(number[v]) for v in face if used[v]) for face in faces))
