"""Volumes and holes of our solids against the theorems of Pappus and Guldin, and the standard's definition."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ringwright.science import solids, sweeps
from ringwright.steps.piece import measure, starter
from ringwright.terms.commission import StarterBrief
from tests.agrees import agrees
from tests.science.test_solids import rotation
from tests.steps import starter_volumes as exact
from tests.steps.piece_facts import LIMITS, PROPORTIONS
from tests.steps.test_piece_measure import turned

PAPPUS = "exact: Pappus and Guldin, volume = area times the way of its centroid"
ISO = "ISO 8653:2016: the size is that of the largest cylinder that passes through the ring; here the circle as drawn"


def test_a_torus() -> None:
    count = sweeps.turns(400)
    torus = sweeps.revolved(np.stack([9.0 + 1.2 * np.cos(count), 1.2 * np.sin(count)], axis=1), 600)
    agrees(solids.volume(torus), 2 * math.pi**2 * 9.0 * 1.44, within=1e-4, source=PAPPUS, what="volume of a torus, mm3")
    agrees(
        solids.area(torus), 4 * math.pi**2 * 9.0 * 1.2, within=1e-4,
        source="exact: Pappus and Guldin, surface = outline times the way of its centroid",
        what="surface of a torus, mm2",
    )  # fmt: skip
    inertia = solids.mass_properties(torus).inertia_mm5[2, 2]
    agrees(
        float(inertia), 2 * math.pi**2 * 9.0 * 1.44 * (81.0 + 0.75 * 1.44), within=2e-4,
        source="exact: moment of a torus about its axis, V (R² + 3 r² / 4)", what="moment of inertia of a torus, mm5",
    )  # fmt: skip


@pytest.mark.parametrize("section", ["flat", "D", "court", "oval"])
def test_a_plain_band_of_each_section(section: str) -> None:
    brief = StarterBrief(shape="band", section=section, width_mm=4.0, thickness_mm=1.8)
    drawn = starter(brief, 17.3, PROPORTIONS)
    should = exact.band(brief, 8.65, False, exact.Rows(PROPORTIONS))
    agrees(solids.volume(drawn.metal), should, within=1e-3, source=PAPPUS, what=f"volume of a band, {section}, mm3")


def test_the_hole_of_a_turned_comfort_band() -> None:
    brief = StarterBrief(shape="band", section="court", width_mm=6.0, thickness_mm=1.8)
    drawn = turned(starter(brief, 18.14, PROPORTIONS, inside="comfort"), rotation(77), np.array([12.0, -30.0, 4.0]))
    piece, _ = measure(drawn, (), LIMITS)
    agrees(piece.hole.diameter_mm, 18.14, within=0.02, absolute=True, source=ISO, what="hole of a turned band, mm")
