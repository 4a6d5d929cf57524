"""India: Hallmarking of Gold Jewellery and Gold Artefacts Order 2020, by the press."""

from __future__ import annotations

from ringwright.steps.mark import law, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

INDIAN = "Hallmarking of Gold Jewellery and Gold Artefacts Order 2020, by the press of 15 January 2020"


def test_indian_gold_under_two_grams() -> None:
    limit = law("in", "gold", 916, 1.9, ROWS).result.exempt_below_g
    assert limit is not None
    agrees(limit, 2.0, within=1e-9, absolute=True, source=INDIAN, what="India gold, limit in g")
    assert law("in", "gold", 916, 2.0, ROWS).result.mark == "22K916"
    assert any("HUID" in line for line in law("in", "gold", 916, 2.0, ROWS).result.must)
