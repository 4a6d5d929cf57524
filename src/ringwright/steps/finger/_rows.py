"""The tables of this step, taken from all facts."""

from __future__ import annotations

from ringwright.terms.facts import Facts
from ringwright.terms.finger import SizeRows


def rows_of(facts: Facts) -> SizeRows:
    """The size systems, charts and fit allowances."""
    return SizeRows(systems=facts.size_systems, charts=facts.size_charts, fits=facts.fit_allowances)
