"""Finland: the Safety and Chemicals Agency's pages on fineness requirements and mandatory marks."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

SOURCE = "Finnish Safety and Chemicals Agency, page on fineness requirements"
MARKS = "Finnish Safety and Chemicals Agency, page on mandatory marks"


def test_the_authoritys_own_example() -> None:
    """Gold of 588 bears 585. (Its second example, 584 as 375, does not know the 417 of its own table.)"""
    ours = law("fi", "gold", 588, 5, ROWS).result.fineness_permille
    assert ours is not None
    agrees(ours, 585, within=1e-9, absolute=True, source=SOURCE, what="Finland, gold of 588, figure marked")


@pytest.mark.parametrize(("metal", "least"), [("gold", 375), ("silver", 800), ("platinum", 500), ("palladium", 500)])
def test_least_finenesses(metal: str, least: int) -> None:
    ours = law("fi", metal, least + 0.5, 5, ROWS).result.fineness_permille
    assert ours is not None
    agrees(ours, least, within=1e-9, absolute=True, source=SOURCE, what=f"Finland, least {metal}")
    assert law("fi", metal, least - 0.5, 5, ROWS).result.fineness_permille is None


@pytest.mark.parametrize(("metal", "limit"), [("gold", 1), ("silver", 10), ("platinum", 1), ("palladium", 1)])
def test_weight_limits(metal: str, limit: float) -> None:
    result = law("fi", metal, 950, limit, ROWS).result
    assert result.exempt_below_g is not None and not result.exempt
    agrees(result.exempt_below_g, limit, within=1e-9, absolute=True, source=MARKS, what=f"Finland {metal}, limit in g")
    assert law("fi", metal, 950, limit - 0.01, ROWS).result.exempt
