"""The largest ball that fits: on cells and on vertices, against brute force and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.distance import signed
from ringwright.science.thickness import at_vertices, on_cells, vertex_normals
from ringwright.science.voxels import fill
from ringwright.terms.body import Mesh
from tests.science import shapes


def test_cells_against_every_ball() -> None:
    """The slow twin takes the balls of a four times finer grid of centres, all of them, and no ridge."""
    mesh = shapes.turned(shapes.tube(1.5, 2.6, 1.6, 40))
    h = 0.2
    grid = fill(mesh, h, 2)
    ours = on_cells(mesh, grid)
    fine = fill(mesh, h / 4, 2)
    r = -signed(mesh, fine)[fine.inside]
    centres = fine.centres_of(np.argwhere(fine.inside))
    at = grid.centres_of(np.argwhere(grid.inside))
    slow = np.array([2 * r[((centres - p) ** 2).sum(axis=1) <= r**2].max(initial=0.0) for p in at])
    off = ours[grid.inside] - slow
    assert not ours[~grid.inside].any()
    assert abs(np.median(off)) < 0.05 * h
    assert np.quantile(np.abs(off), 0.85) < 0.25 * h
    assert ours.max() == pytest.approx(slow.max(), abs=0.2 * h)


@pytest.mark.parametrize(
    ("mesh", "wide"),
    [
        (shapes.ball(1.5, 4), 3.0),
        (shapes.rod(1.0, 8.0, 64), 2.0),
        (shapes.torus(5.0, 1.0, 160, 48), 2.0),
        (shapes.tube(4.0, 5.2, 6.0, 128), 1.2),
    ],
)
def test_cells_of_plain_solids(mesh: object, wide: float) -> None:
    mesh = shapes.turned(mesh)  # type: ignore[arg-type]
    grid = fill(mesh, 0.1)
    found = on_cells(mesh, grid)[grid.inside]
    assert found.max() == pytest.approx(wide, rel=0.02)
    assert np.median(found) == pytest.approx(wide, rel=0.02)


@pytest.mark.parametrize(
    ("mesh", "wide"),
    [
        (shapes.ball(1.5, 4), 3.0),
        (shapes.torus(5.0, 1.0, 160, 48), 2.0),
        (shapes.torus(5.0, 0.4, 64, 12), 0.8),
    ],
)
def test_vertices_of_round_solids(mesh: object, wide: float) -> None:
    found = at_vertices(shapes.turned(mesh))  # type: ignore[arg-type]
    # Facets lie within the round: a twelve-sided section is 0.034 of its radius thinner there.
    assert found.min() > 0.96 * wide and found.max() < 1.006 * wide


def test_vertices_of_tube_and_block_do_not_see_their_own_corners() -> None:
    mesh = shapes.tube(4.0, 5.2, 6.0, 128, finest=0.4)
    found = at_vertices(shapes.turned(mesh))
    r = np.hypot(mesh.vertices_mm[:, 0], mesh.vertices_mm[:, 1])
    wall = (np.abs(mesh.vertices_mm[:, 2]) < 2.3) & ((np.abs(r - 5.2) < 0.01) | (np.abs(r - 4.0) < 0.01))
    assert wall.sum() > 1000
    assert np.abs(found[wall] / 1.2 - 1).max() < 0.01
    assert found.min() > 1.19
    thin = shapes.block(6.0, 4.0, 0.7, finest=0.25)
    assert at_vertices(shapes.turned(thin)).min() > 0.699
    flat = np.abs(np.abs(thin.vertices_mm[:, 2]) - 0.35) < 1e-9
    inner = flat & (np.abs(thin.vertices_mm[:, :2]) < [2.9, 1.9]).all(axis=1)
    assert np.abs(at_vertices(thin)[inner] / 0.7 - 1).max() < 0.006


@pytest.mark.parametrize("angle", [20.0, 40.0, 60.0])
def test_vertices_of_a_wedge(angle: float) -> None:
    """A ball that touches both sides at a distance x from the edge has the radius x tan(angle / 2)."""
    mesh = shapes.wedge(angle, 6.0, 8.0, 0.3)
    found = at_vertices(mesh)
    v = mesh.vertices_mm
    x = np.hypot(v[:, 0], v[:, 1])
    half = np.radians(angle) / 2
    on_side = np.abs(np.abs(np.arctan2(v[:, 1], v[:, 0])) - half) < 1e-6
    inner = on_side & (x > 0.4) & (x < 2.5) & (np.abs(v[:, 2]) < 2.0)
    assert inner.sum() > 50
    assert np.abs(found[inner] / (2 * x[inner] * np.tan(half)) - 1).max() < 0.01


def test_vertices_against_every_triangle() -> None:
    """The slow twin samples the whole surface densely and takes the least ball."""
    import trimesh

    mesh = shapes.turned(shapes.tube(1.0, 1.9, 1.6, 24, finest=0.5), 4)
    solid = trimesh.Trimesh(mesh.vertices_mm, mesh.faces, process=False)
    points, face = trimesh.sample.sample_surface(solid, 60000, seed=1)
    normals = vertex_normals(mesh)
    cosine = np.cos(np.radians(40.0))
    for outside in (False, True):
        found = at_vertices(mesh, outside=outside, at_most_mm=3.0)
        for n in range(0, len(mesh.vertices_mm), 7):
            m = normals[n] if outside else -normals[n]
            d = points - mesh.vertices_mm[n]
            along, d2 = d @ m, (d**2).sum(axis=1)
            sense = -1.0 if outside else 1.0
            turned = solid.face_normals[face]
            sees = (along > 0) & (along**2 >= cosine**2 * d2) & (sense * (turned @ m) >= 2 * cosine**2 - 1)
            sees &= sense * (turned * d).sum(axis=1) > 0
            slow = min(3.0, (d2[sees] / along[sees]).min(initial=3.0))
            assert found[n] == pytest.approx(slow, rel=0.03), (outside, n)


def test_gap_of_a_slot_and_of_a_hole() -> None:
    slot = shapes.block(3.0, 3.0, 1.0, finest=0.4)
    two = Mesh(
        np.vstack([slot.vertices_mm, slot.vertices_mm + np.array([0, 0, 1.6])]),
        np.vstack([slot.faces, slot.faces + len(slot.vertices_mm)]),
    )
    gap = at_vertices(two, outside=True, at_most_mm=5.0)
    facing = np.abs(two.vertices_mm[:, 2] - 0.5) < 1e-9
    inner = facing & (np.abs(two.vertices_mm[:, :2]) < 1.2).all(axis=1)
    assert np.abs(gap[inner] / 0.6 - 1).max() < 0.006
    assert gap[two.vertices_mm[:, 2] < -0.4].min() == 5.0
    # The normal of a vertex between two facets is off the radius by up to half their angle, 1.4 degrees: at the rim of
    # the cone, 40 degrees aside, that is tan 40 times 1.4 degrees = 2 percent.
    hole = at_vertices(shapes.tube(3.0, 4.0, 2.0, 128, finest=0.5), outside=True, at_most_mm=20.0)
    assert hole.min() == pytest.approx(6.0, rel=0.02)
