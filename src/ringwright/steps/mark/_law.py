"""Fineness, exemption and marks of one market: the rows turned into what this ring may and must bear.

Nothing here is legal advice: the rows are a check-list with their sources and the day they were last checked.
"""

from __future__ import annotations

import datetime as dt
import math
import re

from ringwright.steps.mark._place import of_the_place
from ringwright.steps.mark._rows import market_of, metal_of
from ringwright.terms.commission import MarkBrief
from ringwright.terms.fact import Basis, Row
from ringwright.terms.facts import used
from ringwright.terms.mark import ExemptionFact, FinenessFact, MarketFact, MarkingRows, MarkPlace, Marks, ToleranceFact
from ringwright.terms.mistake import BadInput, Mistake, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level, Remark

_KARATS = 24
_ROUNDING = 1e-6
_LEANS = 0.5
"""A mark more than half a thousandth over the alloy leans on the law's tolerance; less is rounding (14 karat)."""

NOTE = "A check-list from the sources named, not legal advice: in doubt ask the assay office or the authority."


def law(
    market: str,
    metal: str,
    fineness_permille: float,
    mass_g: float | Estimate,
    rows: MarkingRows,
    brief: MarkBrief | None = None,
    place: MarkPlace | None = None,
) -> Outcome[Marks]:
    """What a ring of this alloy and mass may and must bear in a market.

    ``mass_g`` is the mass of the metal, stones out. The fineness that may be marked is the highest legal figure
    that the alloy reaches, or misses by no more than the market's tolerance. An article is exempt where it weighs
    less than the limit (not where it weighs just as much).

    Raises :class:`~ringwright.terms.mistake.BadInput` for an unknown market or metal, and for a fineness or mass
    that is none.
    """
    market_row = market_of(market, rows)
    metal = metal_of(metal)
    mass = mass_g if isinstance(mass_g, Estimate) else Estimate(mass_g, 0.0)
    _check(fineness_permille, mass)
    key = f"{market_row.key}-{metal}"
    fineness_row = used(rows.finenesses, key, "fineness list")
    exemption = next((used(rows.exemptions, key) for row in rows.exemptions if row.key == key), None)
    tolerance = _tolerance(market_row.key, metal, "body", rows)
    duty = fineness_row.duty or market_row.duty
    figure = _figure(fineness_permille, fineness_row, tolerance)
    limit = exemption.exempt_below_g if exemption is not None else None
    exempt = duty == "marks" and fineness_row.covered and limit is not None and mass.value < limit
    mark = _mark(figure, fineness_row)
    must, may, never = _lists(market_row, fineness_row, figure, mark, metal, exempt, duty)
    result = Marks(
        market=market_row.key,
        market_title=market_row.title,
        metal=metal,
        actual_permille=fineness_permille,
        fineness_permille=figure,
        mark=mark,
        duty=duty if fineness_row.covered else "none",
        exempt=exempt,
        exempt_below_g=limit or None,
        mass_g=mass.value,
        minus_permille=tolerance.minus_permille if tolerance is not None else 0.0,
        least_height_mm=market_row.least_height_mm,
        must=must,
        may=may,
        never=never,
        source=_sources(market_row, fineness_row, exemption),
        checked_on=_checked(market_row, fineness_row, exemption, tolerance),
        note=NOTE,
    )
    remarks = [*_of_the_fineness(result, fineness_row, market_row, tolerance)]
    remarks += _of_the_mass(result, mass, exemption, market_row)
    remarks += _of_the_memory(result, (fineness_row, exemption))
    if brief is not None:
        remarks += _of_the_sponsor(result, market_row, brief)
        if place is not None:
            remarks += of_the_place(result, market_row, brief, place, rows)
    return Outcome("mark", result, tuple(remarks))


def permille_of(mark: str, rows: MarkingRows | None = None) -> float:
    """The fineness that a mark claims: "14K" is 583.33, "585" is 585, "22K916" is 916, "950Pt" is 950.

    A karat is a 24th. With ``rows``, words that a market uses as marks (sterling, coin) are known too. Raises
    :class:`BadInput` for what is no fineness mark.
    """
    text = mark.strip().upper().replace(" ", "")
    for row in rows.finenesses if rows is not None else ():
        for figure, words in (row.marks or {}).items():
            if text in words.upper().split(" OR "):
                return float(figure)
    match = re.fullmatch(r"(?:(?P<karat>\d{1,2})(?:KT|CT|K))?(?P<figure>\d{3}(?:[.,]\d)?)?(?:PT|PD|AU|AG|S)?", text)
    if match and match["figure"]:
        return float(match["figure"].replace(",", "."))
    if match and match["karat"] and int(match["karat"]) <= _KARATS:
        return int(match["karat"]) / _KARATS * 1000
    raise bad("mark", f"'{mark}' is no fineness mark", "a figure in thousandths or in karats, such as 750 or 18K")


def floor_permille(market: str, metal: str, mark: str, part: str, rows: MarkingRows) -> float:
    """The least assay that a mark allows in a market; ``part`` is "body" (no solder in it) or "whole" (with solder)."""
    if part not in {"body", "whole"}:
        raise bad("part", f"'{part}' is no part that is assayed", "body or whole")
    tolerance = _tolerance(market_of(market, rows).key, metal_of(metal), part, rows)
    return permille_of(mark, rows) - (tolerance.minus_permille if tolerance is not None else 0.0)


def passes(market: str, metal: str, mark: str, assay_permille: float, part: str, rows: MarkingRows) -> bool:
    """Whether an assay bears a mark out in a market; see :func:`floor_permille`."""
    return assay_permille >= floor_permille(market, metal, mark, part, rows) - _ROUNDING


def _check(fineness: float, mass: Estimate) -> None:
    faults = []
    if not 0 < fineness <= 1000:
        faults.append(Mistake("fineness", f"{fineness:g} thousandths is no fineness", "above 0, up to 1000"))
    if not (math.isfinite(mass.value) and mass.value > 0):
        faults.append(Mistake("mass", f"{mass.value:g} g is no mass of a ring", "a mass above 0 g"))
    if faults:
        raise BadInput(*faults)


def _tolerance(market: str, metal: str, part: str, rows: MarkingRows) -> ToleranceFact | None:
    """The tolerance of the part, or of any part, or of any metal: the narrowest row that there is."""
    found = {row.key: row for row in rows.tolerances}
    for key in (f"{market}-{metal}-{part}", f"{market}-{metal}-any", f"{market}-any-{part}", f"{market}-any-any"):
        if key in found:
            return found[key]
    return None


def _legal(row: FinenessFact) -> tuple[float, ...]:
    """The legal figures in thousandths, lowest first."""
    return tuple(sorted({*row.legal_permille, *(karat / _KARATS * 1000 for karat in row.legal_karat)}))


def _figure(actual: float, row: FinenessFact, tolerance: ToleranceFact | None) -> float | None:
    """The highest figure that may be marked; None where the law does not know the metal or it is too low."""
    if not row.covered:
        return None
    if row.any_fineness:
        return float(math.floor(actual + _ROUNDING))
    reach = actual + (tolerance.minus_permille if tolerance is not None else 0.0) + _ROUNDING
    return max((figure for figure in _legal(row) if figure <= reach), default=None)


def _mark(figure: float | None, row: FinenessFact) -> str:
    """How the figure is written in that market."""
    if figure is None:
        return ""
    plain = str(int(figure + _ROUNDING))
    return (row.marks or {}).get(plain) or _filled(row.mark, {"fineness": plain, "karat": f"{figure * 0.024:.0f}"})


def _filled(text: str, words: dict[str, str]) -> str:
    for key, word in words.items():
        text = text.replace("{" + key + "}", word)
    return text


def _lists(
    market: MarketFact, row: FinenessFact, figure: float | None, mark: str, metal: str, exempt: bool, duty: str
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """What must, may and must never be done, with this ring's figures in the words."""
    words = {"mark": mark, "fineness": mark, "metal": metal, "height": f"{market.least_height_mm or 0:g}"}
    must, may, never = (
        tuple(_filled(text, words) for text in texts) for texts in (market.must, market.may, market.never)
    )
    if not row.covered:
        return (), (f"the law of marks of this market does not speak of {metal}: the maker's own figure",), never
    if figure is None:
        lowest = min(_legal(row))
        return (), (), (f"call it {metal}: its fineness is under the lowest legal figure, {lowest:g}", *never)
    over = "strike a figure above the assay of the metal"
    if exempt:
        return tuple(_filled(text, words) for text in market.exempt_must), (*must, *may), (over, *never)
    if duty == "voluntary" and market.duty == "marks":
        return (), (*must, *may), (over, *never)
    return must, may, (over, *never)


def _sources(*rows: Row | None) -> str:
    law_of = rows[0].law + ". " if isinstance(rows[0], MarketFact) else ""
    return law_of + "Read in: " + "; ".join(dict.fromkeys(row.source for row in rows if row is not None))


def _checked(
    market: MarketFact, row: FinenessFact, exemption: ExemptionFact | None, tolerance: ToleranceFact | None
) -> dt.date | None:
    """The oldest day on which one of the rows was checked; None where one of them never was."""
    days = [one.checked_on for one in (market, row, exemption, tolerance) if one is not None]
    known = [day for day in days if day is not None]
    return min(known) if len(known) == len(days) else None


def _of_the_fineness(
    result: Marks, row: FinenessFact, market: MarketFact, tolerance: ToleranceFact | None
) -> list[Remark]:
    """Whether the alloy reaches a legal figure, and how well."""
    actual, figure = result.actual_permille, result.fineness_permille
    if not row.covered:
        says = f"The law of marks of {market.title} does not speak of {result.metal}; no mark is laid down for it."
        change = "Ask the authority, and state the composition in the papers."
        return [Remark("mark", Level.HEED, "metal-not-covered", says, place="inside of the band", change=change)]
    legal = _legal(row)
    if figure is None:
        says = f"With {actual:g} thousandths this metal may not be sold as {result.metal} in {market.title}."
        change = f"Take an alloy of {legal[0]:g} thousandths or more."
        return [_fineness(Level.HALT, "fineness-below", says, actual, legal[0], row, change)]
    if figure > actual + _LEANS and tolerance is not None:
        says = (
            f"The mark {result.mark} claims {figure:.1f} thousandths, the alloy has {actual:.1f}: "
            f"within the law's {tolerance.minus_permille:g}, but nothing is left for solder or a poor melt."
        )
        change = "Take an alloy of the full fineness, or mark the next lower figure."
        return [_fineness(Level.HEED, "mark-leans", says, actual, figure, tolerance, change)]
    above = min((one for one in legal if one > figure + _ROUNDING), default=None)
    if above is not None and above - actual < actual - figure:
        says = (
            f"The alloy has {actual:.1f} thousandths and misses {above:g}; in {market.title} it may only be marked "
            f"{result.mark}."
        )
        change = f"Take an alloy of at least {above:g} thousandths, if it is to be sold as {above:g}."
        return [_fineness(Level.HEED, "mark-just-missed", says, actual, above, row, change)]
    says = f"The alloy has {actual:.1f} thousandths; the mark is {result.mark}."
    return [_fineness(Level.FINE, "mark", says, actual, figure, row, "")]


def _fineness(level: Level, kind: str, says: str, figure: float, limit: float, row: Row, change: str) -> Remark:
    return Remark(
        "mark", level, kind, says, figure, limit, "permille", row.source, "inside of the band", None, change
    )  # fmt: skip


def _of_the_mass(result: Marks, mass: Estimate, exemption: ExemptionFact | None, market: MarketFact) -> list[Remark]:
    """Whether the ring is under the weight limit, and whether that is sure."""
    limit = result.exempt_below_g
    if limit is None or exemption is None or result.duty != "marks":
        return []
    counted = _filled(market.weighed, {"metal": result.metal})
    remarks = []
    if result.exempt:
        says = f"At {mass.value:.2f} g it is under the limit of {limit:g} g ({counted}); {exemption.condition}."
        remarks.append(_mass(Level.FINE, "exempt", says, mass.value, limit, exemption, ""))
    if mass.low < limit <= mass.high:
        says = (
            f"The mass of {mass.value:.2f} ± {mass.plus_minus:.2f} g straddles the limit of {limit:g} g, "
            "under which no mark is needed."
        )
        change = "Weigh the finished ring without stones before deciding, or have it marked in any case."
        remarks.append(_mass(Level.HEED, "mass-near-limit", says, mass.value, limit, exemption, change))
    return remarks


def _mass(level: Level, kind: str, says: str, figure: float, limit: float, row: Row, change: str) -> Remark:
    return Remark("mark", level, kind, says, figure, limit, "g", row.source, "whole ring", None, change)


def _of_the_memory(result: Marks, rows: tuple[Row | None, ...]) -> list[Remark]:
    """Rows that nobody checked at a source."""
    if not any(row is not None and row.basis is Basis.MEMORY for row in rows):
        return []
    says = f"Rows of the law of {result.market_title} rest on memory and were not checked at a source."
    change = "Look the finenesses up with the authority before the ring is marked."
    return [Remark("mark", Level.HEED, "law-from-memory", says, place="inside of the band", change=change)]


def _of_the_sponsor(result: Marks, market: MarketFact, brief: MarkBrief) -> list[Remark]:
    """A mark of who answers for the ring is asked for, and the commission names none."""
    needed = market.sponsor_needed and result.fineness_permille is not None
    if not needed or brief.sponsor.strip() or (result.exempt and not result.must):
        return []
    says = f"{market.title} asks for a mark of who answers for the ring, and the commission names no sponsor."
    change = "Write the registered initials into the commission: [mark] sponsor."
    return [Remark("mark", Level.HEED, "sponsor-missing", says, place="inside of the band", change=change)]
