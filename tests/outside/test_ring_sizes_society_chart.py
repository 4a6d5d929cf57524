"""An older comparison chart of a gem society: where it agrees with the systems' own rules, and where it does not."""

from __future__ import annotations

import math

import pytest

from ringwright.steps.finger import circumference_mm, disagreements, labels, rows_of
from tests.agrees import agrees
from tests.tables import tables

SOURCE = "comparison chart of a gem society, an older trade chart"
ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))


@pytest.mark.parametrize(("us", "inch"), [("6", 0.650), ("6 1/2", 0.666), ("7", 0.683)])
def test_us_diameters_near_the_middle_agree(us: str, inch: float) -> None:
    ours = labels(circumference_mm(us, "us", ROWS), ROWS).inner_diameter_mm
    agrees(ours, inch * 25.4, within=0.03, absolute=True, source=SOURCE, what=f"US {us}, inner diameter in mm")


@pytest.mark.parametrize(("us", "inch", "apart"), [("12", 0.846, 0.10), ("13", 0.879, 0.13)])
def test_us_diameters_at_the_large_end_differ_and_we_say_by_how_much(us: str, inch: float, apart: float) -> None:
    """Two generations of the US stick: 0.0327 inch a size in the chart, 0.032 in the rule."""
    told = [
        one.difference_mm / math.pi
        for one in disagreements(us, "us", ROWS)
        if one.chart == "older gem-society chart" and one.theirs == f"diameter {inch * 25.4:.4g} mm"
    ]
    assert len(told) == 1
    agrees(told[0], apart, within=0.005, absolute=True, source=SOURCE, what=f"US {us}, chart less rule, diameter in mm")


def test_us_7_is_o_in_this_chart_and_n_and_a_half_by_the_rules() -> None:
    told = next(one for one in disagreements("7", "us", ROWS) if one.theirs == "uk O")
    assert told.ours == "uk N 1/2" and told.other_label
    agrees(
        next(one.difference_mm for one in disagreements("7", "us", ROWS) if one.theirs == "iso 55 1/4"),
        0.83,
        within=0.01,
        absolute=True,
        source=SOURCE,
        what="US 7: circumference in the chart less the rule's, in mm",
    )


@pytest.mark.parametrize(("letter", "circumference"), [("K", 50.0), ("W", 65.0), ("Y", 67.5), ("Z", 68.75)])
def test_letters_that_agree(letter: str, circumference: float) -> None:
    ours = circumference_mm(letter, "uk", ROWS)
    agrees(ours, circumference, within=0.005, absolute=True, source=SOURCE, what=f"UK {letter}, circumference in mm")


@pytest.mark.parametrize(("swiss", "circumference"), [("14", 54.0), ("10", 50.0), ("27 1/2", 67.5)])
def test_swiss_numbers(swiss: str, circumference: float) -> None:
    ours = circumference_mm(swiss, "ch", ROWS)
    agrees(ours, circumference, within=1e-9, absolute=True, source=SOURCE, what=f"Swiss {swiss}, circumference in mm")


@pytest.mark.parametrize(("us", "uk"), [("6", "L 1/2"), ("7", "N 1/2")])
def test_what_four_shop_charts_print(us: str, uk: str) -> None:
    """Four shops' charts print N 1/2 for US 7, as the rules do; the residual is under 0.1 mm."""
    found = labels(circumference_mm(us, "us", ROWS), ROWS).labels["uk"]
    assert found.label == uk
    agrees(
        found.residual_mm, 0.0, within=0.1, absolute=True, source="four shops' charts", what=f"US {us} to UK {uk}, mm"
    )
