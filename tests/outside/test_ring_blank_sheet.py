"""A bench supplier's sheet on cutting a ring blank."""

from __future__ import annotations

from ringwright.steps.finger import blank_length_mm, circumference_mm, rows_of
from tests.agrees import agrees
from tests.tables import tables

SOURCE = "a bench supplier's sheet on cutting a ring blank (circumference + 3.14 x thickness, 0.5 mm more over 4 mm)"
ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))


def test_the_strip_for_a_us_6_of_1_8_mm_5_mm_wide() -> None:
    ours = blank_length_mm(circumference_mm("6", "us", ROWS), 1.8, 5.0, ROWS)
    agrees(ours, 51.87 + 3.14 * 1.8 + 0.5, within=0.05, absolute=True, source=SOURCE, what="strip for US 6, 1.8 x 5 mm")
