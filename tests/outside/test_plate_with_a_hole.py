"""The stress beside a hole in a pulled plate: the best known of all stress factors."""

from __future__ import annotations

import numpy as np

from ringwright.science import tetra10
from ringwright.science.elastic import face_forces, quadratic, solve, stiffness
from ringwright.science.stress import _fitted
from ringwright.science.tetra import fill
from ringwright.terms.body import Floats
from tests.agrees import agrees

HALF_MM, RADIUS_MM = 6.0, 1.5


def eighth(p: Floats) -> Floats:
    """An eighth of a plate of 18 x 12 x 1.2 mm with a hole of 3 mm: the three planes of symmetry are its own sides."""
    far = np.minimum.reduce([9.0 - p[:, 0], p[:, 0], HALF_MM - p[:, 1], p[:, 1], 0.6 - p[:, 2], p[:, 2]])
    return np.minimum(far, np.hypot(p[:, 0], p[:, 1]) - RADIUS_MM)


def test_a_plate_with_a_hole_is_stressed_as_the_handbook_says() -> None:
    mesh = quadratic(fill(eighth, np.zeros(3), np.array([9.0, HALF_MM, 0.6]), 0.35), eighth)
    matrix = stiffness(mesh, 90.0, 0.3)
    p, faces = mesh.points_mm, mesh.skin_faces
    end = faces[(p[faces[:, :3], 0] > 8.999).all(axis=1)]
    load = face_forces(mesh, end, np.array([HALF_MM * 0.6, 0.0, 0.0]))  # 1 MPa over the whole width
    moved = solve(matrix, load[:, :, None], np.abs(p) < 1e-6).moved_mm
    places, volumes, inside = tetra10.stress_inside(p, mesh.cells, moved, matrix.lame_MPa, matrix.shear_MPa)
    far = (places[:, 0] > 6.5) & (places[:, 0] < 8.0)
    # The cells round the plate's edges off, so its section is a little smaller than drawn.
    agrees(
        float(np.average(inside[far, 0, 0], weights=volumes[far])), 1.0, within=0.02,
        source="exact: force over section", what="pulled plate, stress far from the hole (MPa)",
    )  # fmt: skip
    at = np.array([[0.0, RADIUS_MM, z] for z in (0.2, 0.4)])
    beside = float(_fitted(places, volumes, inside[:, :1, 0], at, 0.4).mean())
    share = RADIUS_MM / HALF_MM
    net = 3.0 - 3.13 * share + 3.66 * share**2 - 1.53 * share**3
    agrees(
        beside, net / (1.0 - share), within=0.05, what="pulled plate, stress beside the hole (MPa)",
        source="Young & Budynas, Roark's Formulas for Stress and Strain, 7th ed., Table 17.1, round hole in a plate of "
        "finite width, from memory (Kirsch 1898 for a wide plate: 3)",
    )  # fmt: skip
