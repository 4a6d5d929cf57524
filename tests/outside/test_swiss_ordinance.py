"""Switzerland: Precious Metals Control Ordinance of 8 May 1934, articles 46 and 47 (as of 1 January 2024)."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, rows_of
from ringwright.terms.commission import MarkBrief
from ringwright.terms.mark import MarkPlace
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

SOURCE = "Precious Metals Control Ordinance of 8 May 1934, article 46(2)"
PLACE = MarkPlace(inner_diameter_mm=17.2, band_width_mm=4.0, wall_mm=1.5)


def test_the_least_height_of_the_figures() -> None:
    height = law("ch", "gold", 750, 5, ROWS).result.least_height_mm
    assert height is not None
    agrees(height, 0.5, within=1e-9, absolute=True, source=SOURCE, what="Swiss fineness mark, least height in mm")


@pytest.mark.parametrize(("height", "good"), [(0.45, False), (0.50, True)])
def test_worked_heights(height: float, good: bool) -> None:
    outcome = law("ch", "gold", 750, 5, ROWS, MarkBrief(sponsor="RW", height_mm=height), PLACE)
    assert ("mark-too-low" not in {r.kind for r in outcome.remarks}) is good


@pytest.mark.parametrize(("metal", "sign"), [("platinum", "Pt"), ("palladium", "Pd")])
def test_platinum_and_palladium_bear_their_name(metal: str, sign: str) -> None:
    """Article 46(5)."""
    assert sign in law("ch", metal, 950, 5, ROWS).result.mark


def test_nothing_is_exempt_by_its_weight() -> None:
    assert not law("ch", "gold", 750, 0.1, ROWS).result.exempt
