"""Published tables of round diamonds, diameter to mass: where they agree with the cube law, we agree with them.

The tables say nothing of proportions. Ours are those of the cut's row: table 57 %, crown 34.0°, girdle 3.0 % at its
thick places, pavilion 43.0 %, total depth 60.5 %.
"""

from __future__ import annotations

import pytest

from ringwright.steps import gems
from ringwright.terms.gems import RoundDiameter
from tests.agrees import agrees
from tests.steps.gem_stones import CUTS, FACTS, MATERIALS

SOURCE = "trade tables of round diamond sizes, several"
ROWS = [row for row in FACTS.round_diameters if row.agrees_with_cube_law]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.key)
def test_a_round_of_the_tables(row: RoundDiameter) -> None:
    ours = gems.round_mass_ct(row.diameter_mm, CUTS["round brilliant"], MATERIALS["diamond"])
    agrees(ours, row.mass_ct, within=0.02, source=SOURCE, what=f"round diamond of {row.diameter_mm} mm, ct")


def test_there_are_enough_rows_to_mean_something() -> None:
    assert len(ROWS) >= 9
    assert min(row.diameter_mm for row in ROWS) <= 3 and max(row.diameter_mm for row in ROWS) >= 9


def test_worked_rows() -> None:
    source = "trade tables of round diamond sizes: 6.5 mm 1.00 ct, 5.2 mm 0.50, 4.1 mm 0.25, 8.2 mm 2.00"
    for diameter, mass in ((6.5, 1.00), (5.2, 0.50), (4.1, 0.25), (8.2, 2.00)):
        ours = gems.round_mass_ct(diameter, CUTS["round brilliant"], MATERIALS["diamond"])
        agrees(ours, mass, within=0.04, source=source, what=f"round diamond of {diameter} mm, ct (4 %)")
