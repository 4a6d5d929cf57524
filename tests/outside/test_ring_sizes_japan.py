"""Japanese trade pages: the everyday numbers, and the ISO sizes printed beside some of them."""

from __future__ import annotations

import pytest

from ringwright.steps.finger import circumference_mm, labels, rows_of
from tests.agrees import agrees
from tests.tables import tables

SOURCE = "Japanese trade pages on everyday ring numbers (number 19 is 19 mm)"
ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))


@pytest.mark.parametrize(("number", "diameter"), [("1", 13.0), ("7", 15.0), ("13", 17.0), ("19", 19.0), ("28", 22.0)])
def test_diameters(number: str, diameter: float) -> None:
    ours = labels(circumference_mm(number, "jp", ROWS), ROWS).inner_diameter_mm
    agrees(ours, diameter, within=1e-9, absolute=True, source=SOURCE, what=f"Japan {number}, inner diameter in mm")


@pytest.mark.parametrize(("number", "iso"), [("9", 49), ("11", 51), ("12", 52), ("13", 53), ("15", 56)])
def test_iso_size_beside_it(number: str, iso: int) -> None:
    """The lists that print n + 40 give 55 for number 15; its circumference is 55.50 mm, which rounds to 56."""
    ours = int(labels(circumference_mm(number, "jp", ROWS), ROWS).labels["iso"].label)
    agrees(ours, iso, within=0.5, absolute=True, source=SOURCE, what=f"Japan {number}, ISO size")
