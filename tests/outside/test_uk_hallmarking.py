"""United Kingdom: Hallmarking Act 1973 (weight limits as amended), and the Hallmarking Convention's country profile."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, passes, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

ACT = "Hallmarking Act 1973, schedule 1, as amended; Hallmarking Convention, country profile United Kingdom"


@pytest.mark.parametrize(
    ("metal", "fineness", "limit"),
    [("gold", 750, 1.0), ("silver", 925, 7.78), ("platinum", 950, 0.5), ("palladium", 950, 1.0)],
)
def test_an_article_of_less_than_the_limit_is_exempt_and_one_of_just_the_limit_is_not(
    metal: str, fineness: float, limit: float
) -> None:
    exactly = law("uk", metal, fineness, limit, ROWS).result
    assert exactly.exempt_below_g is not None
    agrees(exactly.exempt_below_g, limit, within=1e-9, absolute=True, source=ACT, what=f"UK {metal}, limit in g")
    assert not exactly.exempt
    assert law("uk", metal, fineness, limit - 0.01, ROWS).result.exempt


@pytest.mark.parametrize(
    ("metal", "mass", "exempt"),
    [
        ("gold", 0.99, True),
        ("gold", 1.00, False),
        ("silver", 7.5, True),
        ("silver", 7.77, True),
        ("silver", 7.78, False),
    ],
)
def test_worked_masses(metal: str, mass: float, exempt: bool) -> None:
    assert law("uk", metal, 925, mass, ROWS).result.exempt is exempt


@pytest.mark.parametrize(
    ("metal", "figures"),
    [
        ("gold", (375, 585, 750, 916, 990, 999)),
        ("silver", (800, 925, 958, 999)),
        ("platinum", (850, 900, 950, 999)),
        ("palladium", (500, 950, 999)),
    ],
)
def test_the_legal_finenesses(metal: str, figures: tuple[int, ...]) -> None:
    """Each figure is marked as itself, and a thousandth less as the one below: there is no minus tolerance."""
    below = None
    for figure in figures:
        ours = law("uk", metal, figure, 5, ROWS).result.fineness_permille
        assert ours is not None
        agrees(ours, figure, within=1e-9, absolute=True, source=ACT, what=f"UK {metal} of {figure}, figure marked")
        assert law("uk", metal, figure - 1, 5, ROWS).result.fineness_permille == below
        below = figure


def test_an_indication_may_understate_and_never_overstate() -> None:
    assert passes("uk", "gold", "750", 760.0, "whole", ROWS)
    assert not passes("uk", "gold", "750", 749.9, "whole", ROWS)
