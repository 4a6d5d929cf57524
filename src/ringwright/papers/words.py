"""What the papers for the client say of stones and metal: in words that the law of the market allows.

Each wording is put to the rows of the law (:mod:`ringwright.steps.mark`) before it is printed. What a client's or a
seller's own words may not say is not printed; the bench reads why.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from ringwright.papers.care import facts_of
from ringwright.papers.generic import found
from ringwright.papers.say import measure, sentence
from ringwright.steps.mark import check_metal_words, check_stone_words, rows_of
from ringwright.terms.alloy import Alloy
from ringwright.terms.commission import StoneBrief
from ringwright.terms.facts import Facts
from ringwright.terms.gems import Gem
from ringwright.terms.making import GemsFound, MetalFound
from ringwright.terms.mark import MarkingRows
from ringwright.terms.remark import Level, Remark
from ringwright.words.numbers import number

_GROWN = "laboratory-grown"
_KARATS = 24


@dataclass(frozen=True)
class Said:
    """A wording for the client's papers, and what stands against the words that were given."""

    text: str
    remarks: tuple[Remark, ...] = ()


def stone_name(material: str, facts: Facts | None) -> str:
    """The plain name of a material as the law knows it: diamond, sapphire, pyrope."""
    title = material
    if facts is not None:
        title = next((row.title for row in facts.gem_materials if row.key == material), material)
    return re.sub(r"\s*\(.*\)$", "", title).removeprefix(f"{_GROWN} ").split(",")[0].strip().casefold()


def origin_of(brief: StoneBrief) -> str:
    """The stone's origin: as said, or what the material's own name says."""
    if _GROWN in brief.material.casefold() and "grown" not in brief.origin.casefold():
        return _GROWN
    return brief.origin.strip().casefold()


def stone_words(brief: StoneBrief, market: str, facts: Facts | None) -> Said:
    """What the stone is called: its name with its origin before it, as the law of the market wants it.

    The origin's own words are kept where the law allows them; else the law's word stands in their place and a remark
    says why. An origin that nobody said is said to be unknown.
    """
    name, origin = stone_name(brief.material, facts), origin_of(brief)
    own = f"{origin} {name}" if origin else f"{name}, origin not stated"
    if facts is None or not origin:
        return Said(own)
    rows = rows_of(facts)
    against = check_stone_words(own, name, origin, market, rows)
    if not against:
        return Said(own, _contradiction(brief))
    for word in _qualifiers(market, rows):
        if not check_stone_words(f"{word} {name}", name, origin, market, rows):
            return Said(f"{word} {name}", (*against, *_contradiction(brief)))
    return Said(f"{name}, see the seller's paper", against)


def _qualifiers(market: str, rows: MarkingRows) -> Iterable[str]:
    """The words that a law asks for before a stone's name, those of the market first."""
    stones = [row for row in rows.wordings if row.subject == "stone"]
    for wanted in (market, "any"):
        for row in stones:
            if row.market == wanted:
                yield from row.needs_before


def _contradiction(brief: StoneBrief) -> tuple[Remark, ...]:
    """A grown material that is said to be natural."""
    if _GROWN not in brief.material.casefold() or "natural" not in brief.origin.casefold():
        return ()
    says = f"The material of '{brief.name}' is laboratory-grown, its origin is said to be '{brief.origin}'."
    change = "write the origin that the seller's paper states; the papers say laboratory-grown until then"
    return (Remark("gems", Level.HALT, "origin-contradicts", says, place=f"stone {brief.name}", change=change),)


def treatment_words(brief: StoneBrief, facts: Facts | None) -> str:
    """What is said of the stone's treatment, and what is usual for its kind where nobody knows."""
    said = brief.treatment.strip()
    if facts is not None:
        row = next((r for r in facts.gem_treatments if said.casefold() in {r.key, *r.also}), None)
        key = row.key if row is not None else said.casefold()
    else:
        key = said.casefold()
    if key in {"", "unknown"}:
        usual = _usual(brief, facts)
        return f"treatment not known{f'; usual for this stone: {usual}' if usual else ''}"
    if key == "none":
        return "no treatment, as stated to us"
    return f"treated: {said}, as stated to us"


def _usual(brief: StoneBrief, facts: Facts | None) -> str:
    if facts is None:
        return ""
    row = next((r for r in facts.gem_materials if r.key == brief.material), None)
    return ", ".join(row.treatments) if row is not None else ""


def metal_words(alloy: Alloy, market: str, facts: Facts | None) -> Said:
    """The metal with its fineness before its name: ``18 carat gold, 750 ‰``."""
    fineness = f"{number(alloy.fineness_permille, 0)} ‰"
    karats = int(alloy.fineness_permille * _KARATS / 1000 + 1e-6)
    if alloy.metal == "gold":
        text = f"{karats} {'karat' if market == 'us' else 'carat'} gold"
    else:
        text = f"{number(alloy.fineness_permille, 0)} {alloy.metal}"
    if facts is None:
        return Said(f"{text}, {fineness}")
    against = check_metal_words(text, alloy.metal, alloy.fineness_permille, market, rows_of(facts))
    return Said(f"{fineness} fine" if against else f"{text}, {fineness}", against)


def alloy_words(key: str, title: str, market: str, facts: Facts | None) -> str:
    """The alloy's name in the trade where it may stand on the client's papers, else its fineness before its metal."""
    row = next((one for one in facts.alloys if one.key == key), None) if facts is not None else None
    if facts is None or row is None:
        return title
    if not check_metal_words(title, row.metal, row.fineness_permille, market, rows_of(facts)):
        return title
    return f"{number(row.fineness_permille, 0)} {row.metal}"


def title_words(making: Any) -> Said:
    """The commission's title where it may stand on the client's papers; else nothing, and why."""
    order, facts = making.commission, facts_of(making)
    title = order.commission.title
    if facts is None:
        return Said(title)
    market, rows = order.commission.market, rows_of(facts)
    against: list[Remark] = []
    for stone in order.stone:
        against += check_stone_words(title, stone_name(stone.material, facts), origin_of(stone), market, rows)
    metal = found(making, "metal", MetalFound)
    if metal is not None:
        against += check_metal_words(title, metal.alloy.metal, metal.alloy.fineness_permille, market, rows)
    return Said("" if against else title, tuple(dict.fromkeys(against)))


def remarks(making: Any) -> tuple[Remark, ...]:
    """What the given words may not say, for the bench: they do not stand on the client's papers."""
    order, facts = making.commission, facts_of(making)
    told = [*title_words(making).remarks]
    for stone in order.stone:
        told += stone_words(stone, order.commission.market, facts).remarks
    return tuple(dict.fromkeys(told))


def stone_lines(making: Any) -> list[tuple[str, list[str]]]:
    """Each stone for the client: its name in the ring, and what it is, measures, weighs and was treated with."""
    order, facts = making.commission, facts_of(making)
    gems = found(making, "gems", GemsFound)
    known: dict[str, Gem] = {gem.name: gem for gem in gems.stones} if gems is not None else {}
    lines = []
    for brief in order.stone:
        said = stone_words(brief, order.commission.market, facts)
        told = [f"{sentence(said.text)}, {brief.cut}", _size(brief), _mass(brief, known.get(brief.name))]
        told.append(sentence(treatment_words(brief, facts)))
        lines.append((brief.name, told))
    return lines


def _size(brief: StoneBrief) -> str:
    width = brief.width_mm if brief.width_mm is not None else brief.length_mm
    return f"{number(brief.length_mm, 2)} × {number(width, 2)} × {measure(brief.depth_mm, 'mm', 2)}"


def _mass(brief: StoneBrief, gem: Gem | None) -> str:
    if brief.stated_mass_ct is not None:
        stated = f"{measure(brief.stated_mass_ct, 'ct', 2)}, as stated to us"
        return stated if gem is None else f"{stated}; {measure(gem.mass_ct, 'ct', 2)} by its size"
    return "mass not stated" if gem is None else f"{measure(gem.mass_ct, 'ct', 2)} by its size"
