"""United States: 15 USC 295 (gold, as amended 1976) and 296 (silver): how far an assay may lie under the mark."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import floor_permille, law, passes, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

GOLD = "15 USC 295 as amended by Public Law 94-450: 3 thousandths without solder, 7 with it"
SILVER = "15 USC 296: 4 thousandths without solder by trade press, 10 with it from memory"


@pytest.mark.parametrize(
    ("mark", "part", "floor"),
    [("14K", "body", 580.33), ("14K", "whole", 576.33), ("585", "body", 582), ("585", "whole", 578)],
)
def test_gold_floors(mark: str, part: str, floor: float) -> None:
    ours = floor_permille("us", "gold", mark, part, ROWS)
    agrees(ours, floor, within=0.005, absolute=True, source=GOLD, what=f"US {mark}, floor of the {part}")


@pytest.mark.parametrize(("part", "floor"), [("body", 921.0), ("whole", 915.0)])
def test_silver_floors(part: str, floor: float) -> None:
    ours = floor_permille("us", "silver", "sterling", part, ROWS)
    agrees(ours, floor, within=1e-6, absolute=True, source=SILVER, what=f"US sterling, floor of the {part}")


@pytest.mark.parametrize(
    ("assay", "part", "good"),
    [(580.5, "body", True), (577.0, "whole", True), (580.2, "body", False), (576.2, "whole", False)],
)
def test_worked_assays_of_a_14_karat_mark(assay: float, part: str, good: bool) -> None:
    assert passes("us", "gold", "14K", assay, part, ROWS) is good


def test_a_karat_is_a_24th() -> None:
    ours = law("us", "gold", 585, 5, ROWS).result.fineness_permille
    assert ours is not None
    agrees(ours, 583.3, within=0.1, absolute=True, source="exact: 14/24 of 1000", what="US 14 karat, thousandths")
    assert not passes("uk", "gold", "585", ours, "whole", ROWS), "14 karat fails a 585 mark where nothing is tolerated"


def test_a_mark_asks_for_a_name_beside_it() -> None:
    """15 USC 297(b)."""
    result = law("us", "gold", 750, 5, ROWS).result
    assert result.duty == "voluntary" and any("297(b)" in line for line in result.must)
    assert "no mark at all" in result.may
