"""The tables of this step, taken from all facts, and how a row of them is found."""

from __future__ import annotations

import difflib

from ringwright.terms.facts import Facts, used
from ringwright.terms.mark import MarketFact, MarkingRows, MarkLimitFact
from ringwright.terms.mistake import bad

METALS = ("gold", "silver", "platinum", "palladium")


def rows_of(facts: Facts) -> MarkingRows:
    """The law of marks, the limits of a mark, the wordings and the engraving alphabet."""
    return MarkingRows(
        markets=facts.markets,
        finenesses=facts.finenesses,
        exemptions=facts.mark_exemptions,
        tolerances=facts.mark_tolerances,
        limits=facts.mark_limits,
        wordings=facts.wordings,
        letters=facts.letters,
    )


def market_of(name: str, rows: MarkingRows) -> MarketFact:
    """The market of that key, alias or title. Raises ``BadInput`` that names the nearest known one."""
    word = name.strip().casefold()
    known = {row.key: row for row in rows.markets}
    for row in rows.markets:
        if word in {row.key, row.title.casefold(), *row.aliases}:
            return row
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.4)
    hint = f"did you mean '{near[0]}'? " if near else ""
    raise bad("market", f"no market is called '{name}'", f"{hint}known: {', '.join(sorted(known))}")


def struck_by_office(market: str, rows: MarkingRows) -> bool:
    """Whether an assay office strikes the marks of this market, so that the ring must travel."""
    found = market_of(market, rows)
    return found.struck_by == "office" and found.duty == "marks"


def metal_of(name: str) -> str:
    """The metal's name as the tables have it. Raises ``BadInput`` for what is no precious metal."""
    word = name.strip().casefold()
    if word not in METALS:
        raise bad("metal", f"'{name}' is no precious metal with a mark", f"one of {', '.join(METALS)}")
    return word


def limit_of(key: str, rows: MarkingRows) -> MarkLimitFact:
    """The limit of that key."""
    return used(rows.limits, key, "limit of a mark")
