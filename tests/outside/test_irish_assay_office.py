"""Ireland: Company of Goldsmiths of Dublin, page on legislation (since 1 October 2019)."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

IRISH = "Company of Goldsmiths of Dublin, page on legislation (since 1 October 2019)"


@pytest.mark.parametrize("figure", [375, 417, 585, 750, 833, 916, 990, 999])
def test_irish_gold(figure: int) -> None:
    ours = law("ie", "gold", figure, 5, ROWS).result.fineness_permille
    assert ours is not None
    agrees(ours, figure, within=1e-9, absolute=True, source=IRISH, what=f"Ireland, gold of {figure}")


@pytest.mark.parametrize("metal", ["gold", "silver", "platinum", "palladium"])
def test_nothing_is_too_light_for_an_irish_hallmark(metal: str) -> None:
    result = law("ie", metal, 950, 0.1, ROWS).result
    agrees(
        result.exempt_below_g or 0.0, 0.0, within=1e-9, absolute=True, source=IRISH, what=f"Ireland {metal}, limit in g"
    )
    assert not result.exempt and len(result.must) == 3
