"""Walls and gaps of solids whose largest ball is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.thickness import at_vertices, on_cells
from ringwright.science.voxels import fill
from ringwright.terms.body import Mesh
from tests.agrees import agrees
from tests.science import shapes

EXACT = "exact: the largest ball that touches the surface from inside, in closed form"


@pytest.mark.parametrize(
    ("what", "mesh", "wide_mm"),
    [
        ("sphere of 3 mm", shapes.ball(1.5, 4), 3.0),
        ("torus of 2 mm section", shapes.torus(5.0, 1.0, 160, 48), 2.0),
        ("tube of 1.2 mm wall", shapes.tube(4.0, 5.2, 6.0, 128, finest=0.4), 1.2),
    ],
)
def test_walls_of_round_solids(what: str, mesh: Mesh, wide_mm: float) -> None:
    agrees(
        float(np.median(at_vertices(mesh))), wide_mm, within=0.01, source=EXACT, what=f"wall of a {what}, on vertices"
    )
    grid = fill(mesh, 0.1)
    cells = on_cells(mesh, grid)[grid.inside]
    agrees(float(np.median(cells)), wide_mm, within=0.02, source=EXACT, what=f"wall of a {what}, on cells of 0.1 mm")


def test_the_wall_of_a_wedge_grows_with_the_way_from_its_edge() -> None:
    """A ball that touches both sides at a distance x from the edge has the radius x tan(angle / 2)."""
    mesh = shapes.wedge(40.0, 6.0, 8.0, 0.3)
    found, v = at_vertices(mesh), mesh.vertices_mm
    x = np.hypot(v[:, 0], v[:, 1])
    on_side = np.abs(np.abs(np.arctan2(v[:, 1], v[:, 0])) - np.radians(20.0)) < 1e-6
    inner = on_side & (x > 0.4) & (x < 2.5) & (np.abs(v[:, 2]) < 2.0)
    slope = float(np.median(found[inner] / x[inner]))
    agrees(slope, 2.0 * np.tan(np.radians(20.0)), within=0.01, source=EXACT, what="wall of a 40 degree wedge over x")


def test_the_gap_inside_a_tube_is_its_bore() -> None:
    gap = at_vertices(shapes.tube(3.0, 4.0, 2.0, 128, finest=0.5), outside=True)
    agrees(float(gap.min()), 6.0, within=0.02, source=EXACT, what="gap across the bore of a tube (mm)")
