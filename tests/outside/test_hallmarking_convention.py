"""Hallmarking Convention (Vienna 1972): its news of the survey of 2012."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import law, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

CONVENTION = "Hallmarking Convention, news of 20 November 2012"


@pytest.mark.parametrize(
    ("metal", "figure"), [("platinum", 950), ("gold", 750), ("gold", 585), ("silver", 925), ("silver", 800)]
)
def test_figures_that_are_legal_in_every_state_of_the_convention(metal: str, figure: int) -> None:
    ours = law("convention", metal, figure, 0.1, ROWS).result
    assert ours.fineness_permille is not None and not ours.exempt
    agrees(
        ours.fineness_permille,
        figure,
        within=1e-9,
        absolute=True,
        source=CONVENTION,
        what=f"Convention {metal} {figure}",
    )
