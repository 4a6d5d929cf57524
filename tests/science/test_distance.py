"""Distances between cells and to a mesh."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from ringwright.science.distance import between_cells, signed
from ringwright.science.surface import surface
from ringwright.science.voxels import fill
from tests.science import shapes


@pytest.mark.parametrize("share", [0.5, 0.9, 0.999])
def test_between_cells_is_exact(share: float) -> None:
    cells = np.random.default_rng(7).random((31, 22, 41)) < share
    assert np.allclose(between_cells(cells, 0.3), ndimage.distance_transform_edt(cells) * 0.3, atol=1e-5)


def test_between_cells_without_an_outside() -> None:
    assert np.isinf(between_cells(np.ones((3, 4, 5), bool), 0.1)).all()
    assert not between_cells(np.zeros((3, 4, 5), bool), 0.1).any()


def test_distance_of_points_to_a_mesh_against_every_triangle() -> None:
    mesh = shapes.turned(shapes.torus(3.0, 1.0, 30, 14))
    points = np.random.default_rng(3).uniform(-6, 6, (400, 3))
    away, which = surface(mesh).nearest(points)
    slow = np.empty((len(points), len(mesh.faces)))
    for m, (a, b, c) in enumerate(mesh.corners_mm):
        slow[:, m] = _slow(points, a, b, c)
    assert np.allclose(away, slow.min(axis=1), atol=1e-12)
    assert np.allclose(slow[np.arange(len(points)), which], away, atol=1e-12)
    near, which = surface(mesh).nearest(points, at_most_mm=0.5)
    assert np.array_equal(np.isinf(near), away >= 0.5) and (which[np.isinf(near)] == -1).all()


def _slow(p: np.ndarray, a: np.ndarray, b: np.ndarray, c: np.ndarray) -> np.ndarray:
    """The distance to a triangle as the least of the plane (where the foot is inside) and the three edges."""
    n = np.cross(b - a, c - a)
    n = n / np.linalg.norm(n)
    off = (p - a) @ n
    foot = p - off[:, None] * n
    inside = np.ones(len(p), bool)
    best = np.full(len(p), np.inf)
    for u, v in ((a, b), (b, c), (c, a)):
        inside &= (np.cross(v - u, foot - u) @ n) >= 0
        t = np.clip((p - u) @ (v - u) / ((v - u) @ (v - u)), 0, 1)
        best = np.minimum(best, np.linalg.norm(p - u - t[:, None] * (v - u), axis=1))
    return np.where(inside, np.abs(off), best)


def test_signed_distance_of_a_ball_and_a_torus() -> None:
    for mesh, exact, facets in (
        (shapes.ball(2.0, 5), lambda p: np.linalg.norm(p, axis=-1) - 2.0, 2e-3),
        (
            shapes.torus(4.0, 1.0, 200, 60),
            lambda p: np.hypot(np.hypot(p[..., 0], p[..., 1]) - 4.0, p[..., 2]) - 1.0,
            3e-3,
        ),
    ):
        grid = fill(mesh, 0.2, 4)
        ours = signed(mesh, grid)
        points = np.stack(np.meshgrid(*grid.axes_mm(), indexing="ij"), -1)
        off = ours - exact(points)
        assert np.array_equal(ours < 0, grid.inside)
        assert np.abs(off[np.abs(ours) < 0.2]).max() < facets
        assert np.abs(off).max() < 0.15 * 0.2  # a seventh of a cell far from the surface


def test_signed_distance_against_the_tree() -> None:
    mesh = shapes.turned(shapes.tube(2.0, 3.0, 1.5, 40))
    grid = fill(mesh, 0.1, 4)
    ours = signed(mesh, grid)
    points = np.stack(np.meshgrid(*grid.axes_mm(), indexing="ij"), -1).reshape(-1, 3)
    true = surface(mesh).distance_mm(points)
    off = np.abs(ours).ravel() - true
    assert off.min() > -1e-6
    assert off[true < 0.0999].max() < 1e-6  # exact next to the surface
    assert np.quantile(off, 0.99) < 0.01
    reached = signed(mesh, grid, reach_mm=0.3).ravel()
    assert np.abs(reached - ours.ravel())[true < 0.29].max() < 0.01
    assert np.abs(reached - ours.ravel()).max() < 0.15
