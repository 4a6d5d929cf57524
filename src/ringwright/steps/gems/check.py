"""What a stone's brief must satisfy before a solid can be made of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from ringwright.steps.gems.naming import by_name
from ringwright.terms.commission import StoneBrief
from ringwright.terms.gems import CutFact
from ringwright.terms.mistake import BadInput, Mistake

_MM_PER = {"cm": 10.0, "1/10 mm": 0.1, "1/100 mm": 0.01, "µm": 0.001}


def measured(stone: StoneBrief, cuts: Iterable[CutFact]) -> CutFact:
    """The cut of a stone whose measures can be those of such a stone.

    Raises :class:`BadInput` with everything that is wrong: an unknown cut with the nearest known one, a missing
    width, sizes that are not numbers, zero or negative, in the wrong unit, or impossible for the cut.
    """
    fact = by_name(cuts, stone.cut, "cut", f"stone '{stone.name}', cut")
    mistakes = list(_sizes(stone, fact))
    if not mistakes:
        mistakes = list(_proportions(stone, fact))
    if mistakes:
        raise BadInput(*mistakes)
    return fact


def _sizes(stone: StoneBrief, fact: CutFact) -> Iterator[Mistake]:
    """What is wrong with each figure by itself."""
    where = f"stone '{stone.name}'"
    if stone.width_mm is None and fact.outline != "round":
        yield Mistake(
            f"{where}, width", f"the width of the {fact.title} is missing", 'give width as measured, such as "5.0 mm"'
        )
    for name, value in (("length", stone.length_mm), ("width", stone.width_mm), ("depth", stone.depth_mm)):
        if value is None:
            continue
        if not math.isfinite(value) or value <= 0:
            yield Mistake(f"{where}, {name}", f"{name} is {value:g} mm", "a stone's sizes are more than zero, in mm")
        elif name == "length" and not fact.length_min_mm <= value <= fact.length_max_mm:
            yield Mistake(
                f"{where}, length",
                f"length {value:g} mm is outside {fact.length_min_mm:g} to {fact.length_max_mm:g} mm",
                _unit(value, fact),
            )
    for name, value in (("table", stone.table_percent), ("girdle", stone.girdle_percent)):
        if value is not None and not (math.isfinite(value) and 0 <= value < 100 and (value > 0 or name == "girdle")):
            yield Mistake(f"{where}, {name}", f"{name} is {value:g} %", f"{name} in percent of the width")
    stated = stone.stated_mass_ct
    if stated is not None and not (math.isfinite(stated) and stated > 0):
        yield Mistake(f"{where}, stated_mass", f"stated mass is {stated:g} ct", 'more than zero, such as "1.02 ct"')


def _unit(value: float, fact: CutFact) -> str:
    """The hint for a length that no stone of a ring has."""
    for unit, factor in _MM_PER.items():
        if fact.length_min_mm * 4 <= value * factor <= fact.length_max_mm / 4:
            return f"sizes are in mm; if it was measured in {unit}, write {value * factor:g} mm"
    return "sizes are in mm, as measured"


def _proportions(stone: StoneBrief, fact: CutFact) -> Iterator[Mistake]:
    """What is wrong with the figures together."""
    where = f"stone '{stone.name}'"
    width = stone.width_mm if stone.width_mm is not None else stone.length_mm
    ratio = stone.length_mm / width
    if not fact.ratio_never_below <= ratio <= fact.ratio_never_above:
        turned = fact.ratio_never_below <= 1 / ratio <= fact.ratio_never_above
        yield Mistake(
            f"{where}, width",
            f"length {stone.length_mm:g} mm by width {width:g} mm is {ratio:.2f} to 1, which no {fact.title} is",
            f"length is along the stone's axis: write {width:g} x {stone.length_mm:g} mm"
            if turned
            else f"between {fact.ratio_never_below:g} and {fact.ratio_never_above:g} to 1",
        )
        return
    depth = 100 * stone.depth_mm / width
    if not fact.depth_never_below_percent <= depth <= fact.depth_never_above_percent:
        yield Mistake(
            f"{where}, depth",
            f"depth {stone.depth_mm:g} mm is {depth:.0f} % of the width {width:g} mm, which no {fact.title} has",
            f"between {fact.depth_never_below_percent:g} and {fact.depth_never_above_percent:g} %, table to culet",
        )
    elif stone.girdle_percent is not None and stone.girdle_percent >= depth / 2:
        yield Mistake(
            f"{where}, girdle",
            f"a girdle of {stone.girdle_percent:g} % takes half of the depth ({depth:.0f} %) or more",
            f"girdle in percent of the width, usually {fact.girdle_min_percent:g} to {fact.girdle_max_percent:g}",
        )
