"""Plain solids that the tests of the kernels share."""

from __future__ import annotations

import numpy as np

from ringwright.terms.body import Floats, Mesh


def _of(solid: object) -> Mesh:
    return Mesh(np.array(solid.vertices), np.array(solid.faces))  # type: ignore[attr-defined]


def block(x: float, y: float, z: float, *, finest: float | None = None) -> Mesh:
    import trimesh

    solid = trimesh.creation.box((x, y, z))
    return _of(solid if finest is None else solid.subdivide_to_size(finest))


def ball(radius: float, splits: int = 4) -> Mesh:
    import trimesh

    return _of(trimesh.creation.icosphere(splits, radius))


def rod(radius: float, length: float, sections: int = 64, *, finest: float | None = None) -> Mesh:
    import trimesh

    solid = trimesh.creation.cylinder(radius, length, sections=sections)
    return _of(solid if finest is None else solid.subdivide_to_size(finest))


def tube(inner: float, outer: float, length: float, sections: int = 96, *, finest: float | None = None) -> Mesh:
    import trimesh

    solid = trimesh.creation.annulus(inner, outer, length, sections=sections)
    return _of(solid if finest is None else solid.subdivide_to_size(finest))


def torus(major: float, minor: float, around: int = 160, section: int = 32) -> Mesh:
    import trimesh

    return _of(trimesh.creation.torus(major, minor, major_sections=around, minor_sections=section))


def wedge(angle_deg: float, side: float, length: float, finest: float) -> Mesh:
    """A prism along z whose section has its edge at the origin and two sides of that length, symmetric to x."""
    import trimesh

    half = np.radians(angle_deg) / 2
    a = side * np.array([np.cos(half), np.sin(half)])
    section = np.array([[0.0, 0.0], [a[0], -a[1]], [a[0], a[1]]])
    vertices = np.vstack([np.column_stack([section, np.full(3, z)]) for z in (-length / 2, length / 2)])
    faces = [[0, 2, 1], [3, 4, 5], [0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4], [2, 0, 3], [2, 3, 5]]
    return _of(trimesh.Trimesh(vertices, faces, process=False).subdivide_to_size(finest))


def turned(mesh: Mesh, seed: int = 1) -> Mesh:
    """The mesh turned and shifted at random, so that nothing lies on the grid by chance."""
    chance = np.random.default_rng(seed)
    q, _ = np.linalg.qr(chance.normal(size=(3, 3)))
    rotation: Floats = q if np.linalg.det(q) > 0 else -q
    return mesh.moved(rotation, chance.normal(size=3))
