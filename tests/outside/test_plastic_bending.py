"""Bending of claws against the closed forms of the handbooks of plastic bending."""

from __future__ import annotations

import math

import numpy as np

from ringwright.steps.setting._bend import bending_strain, springback_deg
from ringwright.steps.setting._head import plastic_mm3
from tests.agrees import agrees

HANDBOOK = "exact: plastic section modulus, Young & Budynas, Roark's Formulas for Stress and Strain, 7th ed., Table A.1"


def raster(inside: np.ndarray, h: float, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, float]:
    return np.column_stack([x[inside], y[inside]]), h * h


def test_plastic_modulus_of_a_rectangle_and_a_circle() -> None:
    h = 0.01
    axis = np.arange(-0.6 + h / 2, 0.6, h)
    x, y = np.meshgrid(axis, axis, indexing="ij")
    cells, area = raster((np.abs(x) < 0.4) & (np.abs(y) < 0.5), h, x, y)
    agrees(plastic_mm3(cells, area), 1.0 * 0.8**2 / 4, within=0.01, source=HANDBOOK, what="rectangle 1.0 x 0.8 mm")
    cells, area = raster(np.hypot(x, y) < 0.55, h, x, y)
    agrees(plastic_mm3(cells, area), 1.1**3 / 6, within=0.01, source=HANDBOOK, what="round claw of 1.1 mm")


def test_springback_of_a_strip() -> None:
    """Gardiner's relation without its small cubic term: Ri / Rf = 1 - 3 Ri Y / (E t)."""
    radius, thick, yield_MPa, youngs_GPa = 1.5, 0.6, 300.0, 90.0
    ratio = (
        4 * (radius * yield_MPa / (youngs_GPa * 1000 * thick)) ** 3
        - 3 * radius * yield_MPa / (youngs_GPa * 1000 * thick)
        + 1
    )
    length = radius * math.radians(70.0)
    back = springback_deg(yield_MPa, youngs_GPa, thick, length)
    agrees(
        70.0 - back, 70.0 * ratio, within=0.002,
        source="F. J. Gardiner, The springback of metals, Trans. ASME 79 (1957) 1-9, formula from memory",
        what="angle left after springback of a 70 degree bend",
    )  # fmt: skip


def test_outer_strain_of_a_bend() -> None:
    agrees(
        bending_strain(0.5, 90.0, math.pi / 2 * 1.25), 0.5 / 2.5, within=1e-9,
        source="exact: e = t / (2 R + t) about the inner radius R, 1.25 mm to the middle line",
        what="strain of the outside of a strip bent about 1 mm",
    )  # fmt: skip
