"""Plain solids with a known measure, for the tests of pattern and tree: made here, not by the code under test."""

from __future__ import annotations

import numpy as np

from ringwright.terms.body import Mesh


def turned(section: list[tuple[float, float]], segments: int = 256) -> Mesh:
    """A section of (radius, height along z), counter-clockwise, turned about z."""
    count = len(section)
    angle = 2 * np.pi * np.arange(segments) / segments
    r, z = np.array(section).T
    points = np.stack(
        [np.outer(np.cos(angle), r), np.outer(np.sin(angle), r), np.broadcast_to(z, (segments, count))], axis=-1
    )
    faces = []
    for s in range(segments):
        t = (s + 1) % segments
        for i in range(count):
            j = (i + 1) % count
            a, b, c, d = s * count + i, s * count + j, t * count + j, t * count + i
            faces += [(a, d, c), (a, c, b)]
    mesh = Mesh(points.reshape(-1, 3), np.array(faces))
    return mesh if volume(mesh) > 0 else Mesh(mesh.vertices_mm, mesh.faces[:, ::-1])


def band(inner_mm: float = 17.3, width_mm: float = 5.0, thick_mm: float = 1.9, segments: int = 256) -> Mesh:
    """A flat band about z."""
    a, b, h = inner_mm / 2, inner_mm / 2 + thick_mm, width_mm / 2
    return turned([(a, -h), (b, -h), (b, h), (a, h)], segments)


def united(*meshes: Mesh) -> Mesh:
    """Their union, by an exact library."""
    import manifold3d as m

    whole = m.Manifold()
    for mesh in meshes:
        whole += m.Manifold(m.Mesh64(np.array(mesh.vertices_mm), np.array(mesh.faces).astype(np.uint64)))
    out = whole.to_mesh64()
    return Mesh(np.asarray(out.vert_properties)[:, :3], np.asarray(out.tri_verts).astype(np.int64))


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    """A box between two corners."""
    a, b = np.array(low), np.array(high)
    corners = np.array([[(a, b)[i][0], (a, b)[j][1], (a, b)[k][2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return Mesh(corners, np.array([t for p, q, r, s in quads for t in ((p, q, r), (p, r, s))]))


def rod(start: tuple[float, ...], end: tuple[float, ...], radius_mm: float, segments: int = 32) -> Mesh:
    """A round rod between two points."""
    along = np.subtract(end, start)
    length = float(np.linalg.norm(along))
    z = along / length
    x = np.cross(z, (1.0, 0.0, 0.0) if abs(z[0]) < 0.9 else (0.0, 1.0, 0.0))
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
    angle = 2 * np.pi * np.arange(segments) / segments
    circle = radius_mm * (np.outer(np.cos(angle), x) + np.outer(np.sin(angle), y))
    points = np.concatenate([circle + start, circle + end, [start, end]])
    n = segments
    faces = []
    for i in range(n):
        j = (i + 1) % n
        faces += [(i, j, n + j), (i, n + j, n + i), (2 * n, j, i), (2 * n + 1, n + i, n + j)]
    return Mesh(points, np.array(faces))


def solitaire(inner_mm: float = 17.0) -> Mesh:
    """A round-shanked ring with a gallery ring and four claws at the head (+y)."""
    a = inner_mm / 2
    arc = [(a + 0.9 + 0.9 * np.cos(t), 0.9 * np.sin(t)) for t in 2 * np.pi * np.arange(24) / 24]
    shank = turned(arc)
    top = a + 1.2
    collar = turned([(1.4, 0.0), (2.4, 0.0), (2.4, 1.0), (1.4, 1.0)], 64)
    gallery = collar.moved(np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]), np.array([0.0, top, 0.0]))
    claws = [
        rod((1.3 * c, top - 0.6, 1.3 * s), (2.9 * c, top + 4.0, 2.9 * s), 0.5)
        for c, s in ((np.cos(t), np.sin(t)) for t in np.pi / 4 + np.pi / 2 * np.arange(4))
    ]
    return united(shank, gallery, *claws)


def signet(inner_mm: float = 19.0) -> Mesh:
    """A shank with a solid head: heavy on top."""
    a = inner_mm / 2
    shank = turned([(a, -2.0), (a + 1.6, -2.0), (a + 1.6, 2.0), (a, 2.0)])
    import manifold3d as m

    head = box((-6.0, 6.0, -5.5), (6.0, a + 3.6, 5.5))
    hole = m.Manifold.cylinder(20.0, a, a, 256, True)
    solid = m.Manifold(m.Mesh64(np.array(head.vertices_mm), np.array(head.faces).astype(np.uint64))) - hole
    out = solid.to_mesh64()
    cut = Mesh(np.asarray(out.vert_properties)[:, :3], np.asarray(out.tri_verts).astype(np.int64))
    return united(shank, cut)


def volume(mesh: Mesh) -> float:
    """Signed volume by the divergence theorem."""
    a, b, c = np.moveaxis(mesh.corners_mm, 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def closed(mesh: Mesh) -> bool:
    """Whether every edge is met once each way."""
    f = mesh.faces
    edges = np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]])
    n = len(mesh.vertices_mm)
    there, back = edges[:, 0] * n + edges[:, 1], edges[:, 1] * n + edges[:, 0]
    return len(np.unique(there)) == len(there) and bool(np.array_equal(np.sort(there), np.sort(back)))
