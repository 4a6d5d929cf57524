"""Netherlands: Waarborgwet 2019, Waarborgbesluit 2019 and Waarborgregeling 2019."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

DUTCH = "Waarborgbesluit 2019, article 1"
DUTCH_LIST = "Waarborgwet 2019, article 1; Waarborgregeling 2019, article 2"


@pytest.mark.parametrize(("metal", "limit"), [("gold", 1.0), ("silver", 8.0), ("platinum", 0.5)])
def test_dutch_limits(metal: str, limit: float) -> None:
    result = law("nl", metal, 950, limit, ROWS).result
    assert result.exempt_below_g is not None and not result.exempt
    agrees(
        result.exempt_below_g, limit, within=1e-9, absolute=True, source=DUTCH, what=f"Netherlands {metal}, limit in g"
    )


@pytest.mark.parametrize("figure", [585, 750, 833, 916])
def test_dutch_gold(figure: int) -> None:
    ours = law("nl", "gold", figure + 1, 5, ROWS).result.fineness_permille
    assert ours is not None
    agrees(ours, figure, within=1e-9, absolute=True, source=DUTCH_LIST, what=f"Netherlands, gold of {figure + 1}")
    assert law("nl", "gold", 584, 5, ROWS).result.fineness_permille is None
