"""BS 6820:1987 as three independent open code bases state it; the standard itself was not seen."""

from __future__ import annotations

import pytest

from ringwright.steps.finger import circumference_mm, labels, rows_of
from tests.agrees import agrees
from tests.tables import tables

SOURCE = "BS 6820:1987 as three open code bases state it (C = 40 mm, 1.25 mm a letter)"
SHOP = "a British shop's list of letters and diameters"
ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))


@pytest.mark.parametrize(
    ("letter", "circumference"), [("A", 37.5), ("C", 40.0), ("N", 53.75), ("Z", 68.75), ("Z+1", 70)]
)
def test_letters(letter: str, circumference: float) -> None:
    ours = circumference_mm(letter, "uk", ROWS)
    agrees(ours, circumference, within=0.005, absolute=True, source=SOURCE, what=f"UK {letter}, circumference in mm")


def test_half_letters_are_0_625_mm() -> None:
    step = circumference_mm("N 1/2", "uk", ROWS) - circumference_mm("N", "uk", ROWS)
    agrees(step, 0.625, within=1e-6, absolute=True, source=SOURCE, what="half a UK letter, circumference in mm")


def test_the_last_letter_in_a_shops_list() -> None:
    ours = labels(circumference_mm("Z", "uk", ROWS), ROWS).inner_diameter_mm
    agrees(ours, 21.91, within=0.05, absolute=True, source=SHOP, what="UK Z, inner diameter in mm")
