"""Cells of a closed mesh."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.voxels import fill, fractions
from ringwright.terms.body import Mesh
from ringwright.terms.mistake import BadInput
from tests.science import shapes


def winding(mesh: Mesh, points: np.ndarray) -> np.ndarray:
    """The slow twin: the solid angle of the surface about each point (van Oosterom & Strackee 1983)."""
    total = np.zeros(len(points))
    for corner in mesh.corners_mm:
        a, b, c = (corner[i] - points for i in range(3))
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        over = np.einsum("ij,ij->i", a, np.cross(b, c))
        under = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
        total += 2 * np.arctan2(over, under)
    return total / (4 * np.pi)


def centres(grid: object) -> np.ndarray:
    x, y, z = np.meshgrid(*grid.axes_mm(), indexing="ij")  # type: ignore[attr-defined]
    return np.stack([x, y, z], -1).reshape(-1, 3)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_cells_agree_with_the_solid_angle(seed: int) -> None:
    mesh = shapes.turned(shapes.torus(3.0, 1.0, 18, 9), seed)
    grid = fill(mesh, 0.4)
    assert np.array_equal(grid.inside.ravel(), winding(mesh, centres(grid)) > 0.5)
    assert grid.inside.any() and not grid.inside[0].any() and not grid.inside[:, :, -1].any()


def test_columns_through_edges_and_vertices_are_closed() -> None:
    """Every column of this block goes through a vertex, an edge or along a wall of it."""
    mesh = shapes.block(4.0, 4.0, 4.0, finest=1.0)
    for h in (1.0, 0.5, 0.25):
        for margin in (1, 2):
            grid = fill(mesh, h, margin)
            assert grid.volume_mm3 == pytest.approx(64.0)
    shifted = mesh.moved(np.eye(3), np.array([0.125, 0.25, -0.0625]))
    assert fill(shifted, 0.25).volume_mm3 == pytest.approx(64.0)


def test_volume_comes_nearer_with_smaller_cells() -> None:
    mesh = shapes.turned(shapes.torus(4.0, 1.0))
    exact = float(
        np.einsum("ij,ij->", mesh.corners_mm[:, 0], np.cross(mesh.corners_mm[:, 1], mesh.corners_mm[:, 2])) / 6
    )
    off = [abs(fill(mesh, h).volume_mm3 / exact - 1) for h in (0.4, 0.1)]
    assert off[1] < 0.002
    _, share = fractions(mesh, 0.4, lines=8)
    assert float(share.sum()) * 0.4**3 == pytest.approx(exact, rel=1e-3)
    assert off[0] > 1e-3  # so shares are better than whole cells of the same size


def test_shares_of_a_block_off_the_grid_are_exact() -> None:
    mesh = shapes.block(2.0, 2.0, 1.3).moved(np.eye(3), np.array([0.0, 0.0, 0.07]))
    grid, share = fractions(mesh, 0.5, lines=2)
    assert share.min() >= 0 and share.max() <= 1 + 1e-6
    column = share[grid.shape[0] // 2, grid.shape[1] // 2]
    assert float(column.sum()) * 0.5 == pytest.approx(1.3, rel=1e-6)


def test_overlapping_bodies_count_once_and_a_cavity_is_empty() -> None:
    a = shapes.block(2.0, 2.0, 2.0)
    b = a.moved(np.eye(3), np.array([1.0, 0.0, 0.0]))
    both = Mesh(np.vstack([a.vertices_mm, b.vertices_mm]), np.vstack([a.faces, b.faces + len(a.vertices_mm)]))
    assert fill(both, 0.1).volume_mm3 == pytest.approx(12.0)
    hole = shapes.block(1.0, 1.0, 1.0)
    hollow = Mesh(
        np.vstack([a.vertices_mm, hole.vertices_mm]), np.vstack([a.faces, hole.faces[:, ::-1] + len(a.vertices_mm)])
    )
    assert fill(hollow, 0.1).volume_mm3 == pytest.approx(7.0)
    inside_out = Mesh(a.vertices_mm, a.faces[:, ::-1])
    assert fill(inside_out, 0.1).volume_mm3 == pytest.approx(8.0)


def test_an_open_mesh_is_told() -> None:
    mesh = shapes.ball(1.0, 2)
    with pytest.raises(BadInput, match="not closed"):
        fill(Mesh(mesh.vertices_mm, mesh.faces[5:]), 0.05)


@pytest.mark.parametrize(
    ("mesh", "h", "says"),
    [
        (shapes.block(1, 1, 1), 0.0, "no size"),
        (Mesh(np.zeros((0, 3)), np.zeros((0, 3))), 0.1, "no triangles"),
        (Mesh(np.full((3, 3), np.nan), np.array([[0, 1, 2]])), 0.1, "no number"),
    ],
)
def test_bad_input(mesh: Mesh, h: float, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        fill(mesh, h)
