"""Closed triangle meshes as solids: volume, centroid, inertia, shells, sections, and what they have in common.

Lengths are in mm. A solid's surface is wound outward by the right-hand rule; its volume is then positive.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import ComputingFault

if TYPE_CHECKING:
    import manifold3d

CHUNK = 500_000
"""Faces that are worked at a time where a mesh may be very large."""


@dataclass(frozen=True, eq=False)
class MassProperties:
    """Volume, surface, centroid, and the moments of inertia about the centroid at a density of one (mm5)."""

    volume_mm3: float
    area_mm2: float
    centroid_mm: Floats
    inertia_mm5: Floats


def volume(mesh: Mesh) -> float:
    """Volume in mm3 by the divergence theorem: exact for the mesh; negative if it is wound inward."""
    vertices, six = mesh.vertices_mm - _middle(mesh), 0.0
    for first in range(0, len(mesh.faces), CHUNK):
        corners = np.take(vertices, mesh.faces[first : first + CHUNK], axis=0)
        six += float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])))
    return six / 6.0


def area(mesh: Mesh) -> float:
    """Surface in mm2."""
    return float(face_areas(mesh).sum())


def mass_properties(mesh: Mesh) -> MassProperties:
    """All of :class:`MassProperties`, exact for the mesh (tetrahedra from one point to each triangle)."""
    middle = _middle(mesh)
    corners = mesh.corners_mm - middle
    six_volumes = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    total = float(six_volumes.sum() / 6.0)
    if total == 0.0:
        raise ComputingFault("mass properties of a mesh without volume")
    sums = corners.sum(axis=1)
    centroid = six_volumes @ sums / 24.0 / total
    spread = sums.T @ (six_volumes[:, None] * sums)
    spread += corners.reshape(-1, 3).T @ (six_volumes[:, None, None] * corners).reshape(-1, 3)
    second = spread / 120.0 - total * np.outer(centroid, centroid)
    inertia = np.trace(second) * np.eye(3) - second
    return MassProperties(total, area(mesh), centroid + middle, inertia)


def bounds(mesh: Mesh) -> tuple[Floats, Floats]:
    """The lowest and the highest x, y, z."""
    # Column by column: numpy is twenty times slower along the first of two axes.
    columns = mesh.vertices_mm.T
    return np.array([c.min() for c in columns]), np.array([c.max() for c in columns])


def face_vectors(mesh: Mesh) -> Floats:
    """The normal of each face, as long as twice the face's area."""
    corners = mesh.corners_mm
    vectors: Floats = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return vectors


def face_areas(mesh: Mesh) -> Floats:
    """The area of each face in mm2."""
    return 0.5 * lengths(face_vectors(mesh))


def face_normals(mesh: Mesh) -> Floats:
    """The unit normal of each face; zero for a face without area."""
    vectors = face_vectors(mesh)
    size = lengths(vectors)[:, None]
    normals: Floats = vectors / np.where(size > 0, size, 1.0)
    return normals


def lengths(vectors: Floats) -> Floats:
    """The length of each of some vectors (n, 3)."""
    found: Floats = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    return found


def half_edges(faces: Ints) -> Ints:
    """The three directed edges of every face (3 m, 2): edge ``k`` of face ``i`` stands at ``3 i + k``."""
    return faces[:, (0, 1, 1, 2, 2, 0)].reshape(-1, 2)


def is_closed(mesh: Mesh) -> bool:
    """Whether every edge is run through as often in one direction as in the other.

    Each directed edge adds a 64-bit mark that its two ends give, and its opposite takes it away again: without sorting,
    and wrong for one open mesh in 10^19.
    """
    faces = mesh.faces.astype(np.uint64)
    total = 0
    for first in range(0, len(faces), CHUNK):
        some = faces[first : first + CHUNK]
        for i, j in ((0, 1), (1, 2), (2, 0)):
            total += int((_mark(some[:, i], some[:, j]) - _mark(some[:, j], some[:, i])).sum(dtype=np.uint64))
    return len(faces) > 0 and total % 2**64 == 0


def _mark(a: NDArray[np.uint64], b: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """A 64-bit mark of two numbers in their order (the finalizer of splitmix64)."""
    mixed = a * np.uint64(0x9E3779B97F4A7C15) + b + np.uint64(0x632BE59BD9B4E019)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    out: NDArray[np.uint64] = mixed ^ (mixed >> np.uint64(31))
    return out


def shell_of_face(mesh: Mesh) -> Ints:
    """The number of the shell (faces that hang together by vertices) of each face, by first face."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    faces = mesh.faces
    count = len(mesh.vertices_mm)
    rows = np.concatenate([faces[:, 0], faces[:, 1]])
    columns = np.concatenate([faces[:, 1], faces[:, 2]])
    graph = coo_matrix((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(count, count))
    labels = connected_components(graph, directed=False)[1][faces[:, 0]]
    _, first, inverse = np.unique(labels, return_index=True, return_inverse=True)
    order = np.empty(len(first), dtype=np.int64)
    order[np.argsort(first)] = np.arange(len(first))
    numbered: Ints = order[inverse.reshape(-1)]
    return numbered


def shells(mesh: Mesh) -> tuple[Mesh, ...]:
    """The shells, each a mesh of its own."""
    labels = shell_of_face(mesh)
    return tuple(part(mesh, labels == k) for k in range(int(labels.max()) + 1)) if len(labels) else ()


def part(mesh: Mesh, keep: np.ndarray) -> Mesh:
    """The faces chosen by ``keep`` (mask or indices), with the vertices that they use."""
    faces = mesh.faces[keep]
    used, inverse = np.unique(faces, return_inverse=True)
    return Mesh(mesh.vertices_mm[used], inverse.reshape(-1, 3))


def joined(meshes: Iterable[Mesh]) -> Mesh:
    """All in one mesh, side by side: nothing is united."""
    vertices, faces, shift = [np.empty((0, 3))], [np.empty((0, 3), dtype=np.int64)], 0
    for mesh in meshes:
        vertices.append(mesh.vertices_mm)
        faces.append(mesh.faces + shift)
        shift += len(mesh.vertices_mm)
    return Mesh(np.concatenate(vertices), np.concatenate(faces))


def reversed_faces(mesh: Mesh) -> Mesh:
    """The same surface, wound the other way."""
    return Mesh(mesh.vertices_mm, mesh.faces[:, ::-1])


def hull(points_mm: Floats) -> Mesh:
    """The convex hull of points, wound outward."""
    from scipy.spatial import ConvexHull

    points = np.asarray(points_mm, dtype=np.float64)
    found = ConvexHull(points)
    faces = found.simplices.astype(np.int64)
    corners = points[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = np.einsum("ij,ij->i", normals, found.equations[:, :3]) < 0
    faces[inward] = faces[inward][:, ::-1]
    used, inverse = np.unique(faces, return_inverse=True)
    return Mesh(points[used], inverse.reshape(-1, 3))


def convexity(mesh: Mesh) -> float:
    """Volume over that of the convex hull: 1 for a convex solid. 0 where the points lie in a plane."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        around = float(ConvexHull(mesh.vertices_mm).volume)
    except QhullError:
        return 0.0
    return abs(volume(mesh)) / around if around > 0 else 0.0


def section(mesh: Mesh, point_mm: Sequence[float] | Floats, normal: Sequence[float] | Floats) -> Floats:
    """Where a plane cuts the surface: segments (k, 2, 3) in mm, in no order.

    A vertex on the plane counts as above it, so that a closed mesh gives closed outlines.
    """
    direction = np.asarray(normal, dtype=np.float64)
    heights = (mesh.vertices_mm - np.asarray(point_mm, dtype=np.float64)) @ (direction / np.linalg.norm(direction))
    above = heights >= 0
    corner_above = above[mesh.faces]
    crossed = np.flatnonzero(corner_above.any(axis=1) & ~corner_above.all(axis=1))
    if not len(crossed):
        return np.empty((0, 2, 3))
    edges = half_edges(mesh.faces[crossed])
    mixed = above[edges[:, 0]] != above[edges[:, 1]]
    ends = edges[mixed]
    low, high = np.minimum(ends[:, 0], ends[:, 1]), np.maximum(ends[:, 0], ends[:, 1])
    share = heights[low] / (heights[low] - heights[high])
    points: Floats = mesh.vertices_mm[low] + share[:, None] * (mesh.vertices_mm[high] - mesh.vertices_mm[low])
    return points.reshape(-1, 2, 3)


def spread_points(mesh: Mesh, count: int) -> Floats:
    """About ``count`` points spread evenly over the surface; the same mesh gives the same points.

    Each face gets its share of points by area (at least its centre if that is due), placed by the additive
    recurrence of the plastic number, folded into the triangle.
    """
    areas = face_areas(mesh)
    ends = np.cumsum(areas) / max(float(areas.sum()), 1e-300) * count
    numbers = np.arange(count)
    face = np.minimum(np.searchsorted(ends, numbers + 0.5), len(areas) - 1)
    plastic = 1.324717957244746
    u = (0.5 + numbers / plastic) % 1.0
    v = (0.5 + numbers / plastic**2) % 1.0
    folded = u + v > 1.0
    u[folded], v[folded] = 1.0 - u[folded], 1.0 - v[folded]
    corners = mesh.corners_mm[face]
    points: Floats = (
        corners[:, 0] + u[:, None] * (corners[:, 1] - corners[:, 0]) + v[:, None] * (corners[:, 2] - corners[:, 0])
    )
    return points


def to_manifold(mesh: Mesh) -> manifold3d.Manifold:
    """The solid for boolean work, in double precision.

    Raises :class:`ComputingFault` if the mesh is no closed manifold.
    """
    import manifold3d

    vertices = np.array(mesh.vertices_mm, order="C")
    faces = np.array(mesh.faces, dtype=np.uint64, order="C")
    solid = manifold3d.Manifold(manifold3d.Mesh64(vertices, faces))
    if solid.status() != manifold3d.Error.NoError:
        raise ComputingFault(f"a mesh of {len(mesh.faces)} triangles is no closed manifold ({solid.status().name})")
    return solid


def from_manifold(solid: manifold3d.Manifold) -> Mesh:
    """The mesh of a boolean's result."""
    out = solid.to_mesh64()
    return Mesh(np.asarray(out.vert_properties)[:, :3], np.asarray(out.tri_verts).astype(np.int64))


def united(meshes: Sequence[Mesh]) -> Mesh:
    """The union of closed solids. Raises :class:`ComputingFault` if one is no closed manifold."""
    import manifold3d

    solids = [to_manifold(mesh) for mesh in meshes]
    return from_manifold(manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add))


def without(mesh: Mesh, tools: Sequence[Mesh]) -> Mesh:
    """The solid less the tools. Raises :class:`ComputingFault` if one is no closed manifold."""
    import manifold3d

    solids = [to_manifold(m) for m in (mesh, *tools)]
    return from_manifold(manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Subtract))


def common(mesh: Mesh, other: Mesh) -> Mesh:
    """What lies in both solids; no faces if nothing does."""
    return from_manifold(to_manifold(mesh) ^ to_manifold(other))


def gap(mesh: Mesh, other: Mesh, within_mm: float) -> float:
    """The least distance between two solids in mm, or ``within_mm`` if it is greater; 0 where they overlap."""
    return float(to_manifold(mesh).min_gap(to_manifold(other), within_mm))


def _middle(mesh: Mesh) -> Floats:
    low, high = bounds(mesh)
    middle: Floats = 0.5 * (low + high)
    return middle
