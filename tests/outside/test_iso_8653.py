"""ISO 8653 (1986, unchanged in JIS S 4700:1998; 2013/2014 editions for the stick): designation and reach."""

from __future__ import annotations

import math

import pytest

from ringwright.steps.finger import circumference_mm, fit, labels, rows_of
from ringwright.terms.commission import FingerBrief
from tests.agrees import agrees
from tests.tables import tables

SOURCE = "ISO 8653:1986, clauses 2 to 4 (text carried unchanged in JIS S 4700:1998)"
ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))


def test_the_standards_own_example() -> None:
    """A ring of 43 mm inside is designated ISO 8653-43."""
    found = labels(43.0, ROWS).labels["iso"]
    assert found.written == "ISO 8653-43"
    agrees(found.residual_mm, 0.0, within=1e-9, absolute=True, source=SOURCE, what="ring of 43 mm, residual to size 43")


@pytest.mark.parametrize("size", [41, 54, 76])
def test_the_size_is_the_inner_circumference(size: int) -> None:
    ours = circumference_mm(f"ISO 8653-{size}", None, ROWS)
    agrees(ours, size, within=1e-9, absolute=True, source=SOURCE, what=f"ISO 8653-{size}, circumference in mm")
    agrees(
        labels(ours, ROWS).inner_diameter_mm,
        size / math.pi,
        within=1e-9,
        absolute=True,
        source=SOURCE,
        what=f"ISO 8653-{size}, diameter in mm",
    )


@pytest.mark.parametrize(("circumference", "reached"), [("40.4", False), ("41", True), ("76", True), ("76.6", False)])
def test_the_stick_goes_from_41_to_76(circumference: str, reached: bool) -> None:
    outcome = fit(FingerBrief(size=circumference, system="iso"), None, ROWS)
    limits = [r.limit for r in outcome.remarks if r.kind == "size-off-stick"]
    assert (limits == []) is reached
    for limit in limits:
        assert limit is not None
        end = 41 if float(circumference) < 41 else 76
        agrees(limit, end, within=1e-9, absolute=True, source=SOURCE, what=f"end of the ring stick at {end}")
