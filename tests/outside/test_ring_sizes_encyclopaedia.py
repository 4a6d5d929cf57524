"""The encyclopaedia's two tables of ring sizes: the EN ISO 8653 stick, and all systems on the US half-size grid."""

from __future__ import annotations

import pytest

from ringwright.steps.finger import circumference_mm, disagreements, labels, rows_of
from tests.agrees import agrees
from tests.tables import tables

STICK = "encyclopaedia, table of the EN ISO 8653 ring stick (diameters to 0.1 mm)"
GRID = "encyclopaedia, table of ring sizes on the US grid (diameters to 0.01, circumferences to 0.1 mm)"
ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))


@pytest.mark.parametrize(
    ("iso", "diameter"),
    [(49, 15.6), (52, 16.6), (54, 17.2), (57, 18.1), (60, 19.1), (63, 20.1), (66, 21.0), (69, 22.0), (72, 22.9)],
)
def test_diameters_of_the_stick(iso: int, diameter: float) -> None:
    ours = labels(circumference_mm(str(iso), "iso", ROWS), ROWS).inner_diameter_mm
    agrees(ours, diameter, within=0.05, absolute=True, source=STICK, what=f"ISO {iso}, inner diameter in mm")


@pytest.mark.parametrize(
    ("us", "diameter", "circumference"),
    [
        ("0", 11.63, 36.5),
        ("1/4", 11.84, 37.2),
        ("1", 12.45, 39.1),
        ("2", 13.26, 41.7),
        ("2 1/4", 13.46, 42.3),
        ("3 1/2", 14.48, 45.5),
        ("4", 14.88, 46.8),
        ("4 1/2", 15.29, 48.0),
    ],
)
def test_us_sizes(us: str, diameter: float, circumference: float) -> None:
    ours = circumference_mm(us, "us", ROWS)
    found = labels(ours, ROWS).inner_diameter_mm
    agrees(found, diameter, within=0.0055, absolute=True, source=GRID, what=f"US {us}, inner diameter in mm")
    agrees(ours, circumference, within=0.1, absolute=True, source=GRID, what=f"US {us}, inner circumference in mm")


@pytest.mark.parametrize(("letter", "difference"), [("A", 0.3), ("I", 0.5)])
def test_its_british_letters_stand_above_the_british_rule(letter: str, difference: float) -> None:
    """The table lays the letters on the US half-size grid: 0.3 mm above BS 6820 at A, 0.5 mm at I."""
    told = [
        one.difference_mm
        for one in disagreements(letter, "uk", ROWS)
        if one.chart.startswith("encyclopaedia, all") and one.theirs.startswith("circumference")
    ]
    assert len(told) == 1
    agrees(told[0], difference, within=0.03, absolute=True, source=GRID, what=f"UK {letter} above BS 6820, in mm")
