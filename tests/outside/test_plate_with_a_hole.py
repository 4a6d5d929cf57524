"""The stress beside a hole in a pulled plate: the best known of all stress factors."""

from __future__ import annotations

import numpy as np

from ringwright.science.bricks import bricks_of, lame, stiffness, within
from ringwright.science.stress import fitting
from ringwright.terms.body import Floats
from tests.agrees import agrees
from tests.science.voxelled import solved, voxels

HALF_MM, RADIUS_MM = 6.0, 1.5


def eighth(p: Floats) -> Floats:
    """An eighth of a plate of 18 x 12 x 1.2 mm with a hole of 3 mm: the three planes of symmetry are its own sides."""
    far = np.minimum.reduce([9.0 - p[:, 0], p[:, 0], HALF_MM - p[:, 1], p[:, 1], 0.6 - p[:, 2], p[:, 2]])
    return np.minimum(far, np.hypot(p[:, 0], p[:, 1]) - RADIUS_MM)


def test_a_plate_with_a_hole_is_stressed_as_the_handbook_says() -> None:
    metal = voxels(eighth, np.zeros(3), np.array([9.0, HALF_MM, 0.6]), 0.075)
    bricks = bricks_of(metal, 4)
    p = bricks.points_mm
    across = np.array([[9.0, y, z] for y in (np.arange(40) + 0.5) * HALF_MM / 40 for z in (0.15, 0.45)])
    pull = np.zeros((len(across), 3, 1))
    pull[:, 0, 0] = HALF_MM * 0.6 / len(across)  # 1 MPa over the whole width
    moved = solved(bricks, stiffness(bricks, 90.0, 0.3), np.abs(p) < 1e-6, across, pull)
    full = np.argwhere(metal.share > 0.5)
    places, volumes = metal.h_mm * (full + 0.5), metal.share[tuple(full.T)].astype(float)
    inside = within(bricks, places).stress(moved, *lame(90.0, 0.3))[:, :1, 0]
    far = (places[:, 0] > 6.5) & (places[:, 0] < 8.0)
    agrees(
        float(np.average(inside[far, 0], weights=volumes[far])), 1.0, within=0.005,
        source="exact: force over section", what="pulled plate, stress far from the hole (MPa)",
    )  # fmt: skip
    at = np.array([[0.0, RADIUS_MM, z] for z in (0.2, 0.4)])
    beside = float((fitting(places, volumes, at, 0.4) @ inside).mean())
    share = RADIUS_MM / HALF_MM
    net = 3.0 - 3.13 * share + 3.66 * share**2 - 1.53 * share**3
    agrees(
        beside, net / (1.0 - share), within=0.05, what="pulled plate, stress beside the hole (MPa)",
        source="Young & Budynas, Roark's Formulas for Stress and Strain, 7th ed., Table 17.1, round hole in a plate of "
        "finite width, from memory (Kirsch 1898 for a wide plate: 3)",
    )  # fmt: skip
