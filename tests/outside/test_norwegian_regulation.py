"""Norway: regulation FOR-2011-01-10-12 on articles of precious metal, section 2."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

NORSE = "regulation FOR-2011-01-10-12, section 2: between two figures the lower one counts"


@pytest.mark.parametrize(("actual", "figure"), [(749.9, 585), (750.0, 750), (915, 750), (998, 916)])
def test_norwegian_gold(actual: float, figure: int) -> None:
    ours = law("no", "gold", actual, 5, ROWS).result.fineness_permille
    assert ours is not None
    agrees(ours, figure, within=1e-9, absolute=True, source=NORSE, what=f"Norway, gold of {actual:g}")
