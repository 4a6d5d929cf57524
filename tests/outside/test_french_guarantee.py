"""France: Code de commerce, articles L. 832-1 ff and L. 833-1 ff; the weight limits by the public service's page."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

LIMITS = "public service's page on the guarantee: gold and platinum under 3 g, silver under 30 g"
LEGAL = "Code de commerce, article L. 832-1 ff (formerly Code général des impôts, article 522)"


@pytest.mark.parametrize(("metal", "limit"), [("gold", 3.0), ("silver", 30.0), ("platinum", 3.0)])
def test_weight_limits(metal: str, limit: float) -> None:
    result = law("fr", metal, 950, limit, ROWS).result
    assert result.exempt_below_g is not None and not result.exempt
    agrees(result.exempt_below_g, limit, within=1e-9, absolute=True, source=LIMITS, what=f"France {metal}, limit in g")


@pytest.mark.parametrize(("mass", "guarantee"), [(29.0, False), (30.0, True)])
def test_under_the_limit_the_makers_mark_stays(mass: float, guarantee: bool) -> None:
    must = law("fr", "silver", 925, mass, ROWS).result.must
    assert any(line.startswith("maker's mark") for line in must)
    assert any(line.startswith("guarantee mark") for line in must) is guarantee


@pytest.mark.parametrize(
    ("metal", "figures"),
    [("gold", (375, 585, 750, 916, 999)), ("silver", (800, 925, 999)), ("platinum", (850, 900, 950, 999))],
)
def test_legal_finenesses_without_minus_tolerance(metal: str, figures: tuple[int, ...]) -> None:
    for figure in figures:
        ours = law("fr", metal, figure + 0.4, 40, ROWS).result.fineness_permille
        assert ours is not None
        agrees(
            ours, figure, within=1e-9, absolute=True, source=LEGAL, what=f"France {metal} of {figure}.4, figure marked"
        )
        assert law("fr", metal, figure - 0.1, 40, ROWS).result.fineness_permille != figure
