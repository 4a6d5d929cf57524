"""Germany: Gesetz über den Feingehalt der Gold- und Silberwaren of 1884, section 5."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import floor_permille, law, passes, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

SOURCE = "Gesetz über den Feingehalt der Gold- und Silberwaren, section 5(2): 10 thousandths, the whole piece melted"


def test_the_limit_of_error() -> None:
    ours = 585 - floor_permille("de", "gold", "585", "whole", ROWS)
    agrees(
        ours, 10, within=1e-9, absolute=True, source=SOURCE, what="Germany, jewellery, limit of error in thousandths"
    )


@pytest.mark.parametrize(("melt", "good"), [(574.0, False), (575.5, True)])
def test_worked_melts_of_a_585_stamp(melt: float, good: bool) -> None:
    assert passes("de", "gold", "585", melt, "whole", ROWS) is good


def test_jewellery_may_be_stamped_in_any_fineness_and_need_not_be() -> None:
    """Section 5(1)."""
    result = law("de", "gold", 635, 5, ROWS).result
    assert result.mark == "635" and result.duty == "voluntary"


def test_the_law_speaks_of_gold_and_silver_only() -> None:
    assert law("de", "platinum", 950, 5, ROWS).result.duty == "none"
