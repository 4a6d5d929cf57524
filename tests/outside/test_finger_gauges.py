"""Gemological Institute of America, page on the quality of finger sizing: gauges, and marks of the US mandrel."""

from __future__ import annotations

import math

import pytest

from ringwright.steps.finger import circumference_mm, fit, rows_of
from ringwright.terms.commission import FingerBrief
from tests.agrees import agrees
from tests.tables import tables

SOURCE = "Gemological Institute of America, page on the quality of finger sizing"
ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))


@pytest.mark.parametrize(("parts", "diameter"), [(0.25, 0.2), (0.5, 0.4), (1.0, 0.8)])
def test_steps_of_the_us_mandrel(parts: float, diameter: float) -> None:
    ours = (circumference_mm(f"{6 + parts}", "us", ROWS) - circumference_mm("6", "us", ROWS)) / math.pi
    agrees(ours, diameter, within=0.05, source=SOURCE, what=f"{parts:g} US sizes, inner diameter in mm")


def test_the_narrow_gauge_ends_at_4_mm() -> None:
    limit = next(r.limit for r in fit(FingerBrief(size="54", system="iso"), 6.0, ROWS).remarks if r.kind == "gauge")
    assert limit is not None
    agrees(limit, 4.0, within=1e-9, absolute=True, source=SOURCE, what="widest band for the narrow gauge, in mm")
    assert fit(FingerBrief(size="54", system="iso"), 3.5, ROWS).result.gauge == "narrow"
    assert fit(FingerBrief(size="54", system="iso"), 5.0, ROWS).result.gauge == "wide"
