"""The certificate that goes with the ring: what it is, said as the law wants it, what was stated and what was weighed.

It is printed before the ring is made: what can only be known of the finished ring is left open, to be written in.
"""

from __future__ import annotations

from typing import Any

from ringwright.papers.blocks import (
    Block,
    Card,
    Cell,
    Column,
    bottom,
    bullets,
    heading,
    pairs,
    right,
    row,
    small,
    strong,
    table,
    text,
    ticks,
    together,
    write,
)
from ringwright.papers.care import facts_of
from ringwright.papers.generic import found
from ringwright.papers.heed import asked
from ringwright.papers.say import measure, sentence
from ringwright.papers.tongue import own
from ringwright.papers.words import metal_words, stone_lines
from ringwright.terms.facts import Facts
from ringwright.terms.finger import Fit
from ringwright.terms.gems import Bears, Gem
from ringwright.terms.making import GemsFound, MetalFound
from ringwright.terms.mark import Marking
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.piece import PieceFigures
from ringwright.words.numbers import number

_IN_FULL = 4
"""So many stones are told in lines of their own; more are told closer."""

_MENTIONED = 0.05
"""A share that one decimal shows: what is less would be told as 0.0."""


def certificate_card(making: Any, picture: tuple[Block, ...], title: str) -> Card | None:
    """The ring, its metal, its stones with origin and treatment, its marks and its care."""
    metal = found(making, "metal", MetalFound)
    if metal is None:
        return None
    shop = own(making.workshop.shop.name)
    blocks: list[Block] = [
        row(
            [
                text(f"Made by {shop} to commission {own(making.commission.commission.number)}."),
                *_ring(making, metal),
            ],
            list(picture),
            widths=(1.35, 0.65),
        )
        if picture
        else row(_ring(making, metal)),
    ]
    blocks += _stones(making)
    blocks += _marks(making)
    blocks += _care(making)
    blocks += [bottom(), text(_limits(making), small=True)]
    blocks.append(
        row(
            [pairs([("Place and day", write(40))], columns=1)],
            [pairs([("Signature", write(46))], columns=1)],
        )
    )
    return Card("Certificate", title, tuple(blocks))


def _ring(making: Any, metal: MetalFound) -> list[Block]:
    order, alloy = making.commission, metal.alloy
    said = metal_words(alloy, order.commission.market, facts_of(making))
    told: list[tuple[str, Cell]] = [
        ("Metal", said.text),
        ("Colour", alloy.colour),
        ("Made of, percent of the mass", _composition(alloy.composition)),
        ("Nickel", "in the alloy" if alloy.composition.get("Ni", 0.0) > 0 else "none in the alloy"),
    ]
    pattern = found(making, "pattern", PatternFigures)
    if pattern is not None:
        told.append(("Metal, forecast", measure(pattern.finished_mass_g, "g", 2)))
    told.append(("Metal, weighed", write(26, "g")))
    fit = found(making, "finger", Fit)
    if fit is not None:
        told.append(("Size ordered", asked(fit)))
        told.append(("Size of the finished ring, on the stick", write(26)))
        told.append(("The same size", _sizes(fit)))
    piece = found(making, "piece", PieceFigures)
    if piece is not None:
        band = f"{number(piece.band_width_mm, 1)} × {measure(piece.band_thickness_mm, 'mm', 1)}"
        told.append(("Band at the bottom, as drawn", band))
    lots_g = order.metal.own_g
    if lots_g:
        lots = [f"{measure(mass, 'g', 2)} of {own(name)}" for name, mass in lots_g.items()]
        told.append(("The client's own metal in it", lots))
    return [pairs(told, columns=1)]


def _composition(composition: dict[str, float]) -> str:
    shares = sorted(composition.items(), key=lambda item: -item[1])
    return ", ".join(f"{element} {number(share, 1)}" for element, share in shares if share >= _MENTIONED)


def _sizes(fit: Fit) -> Cell:
    return small(", ".join(f"{key.upper()} {size.label}" for key, size in fit.made.labels.items() if key != "diameter"))


def _stones(making: Any) -> list[Block]:
    lines = stone_lines(making)
    if not lines:
        return [text("There is no stone in this ring.")]
    owners = {stone.name: stone.owner.value for stone in making.commission.stone}
    columns = [Column("Stone"), Column("What it is", "1fr"), Column("Brought by"), right("Weighed")]
    few = len(lines) <= _IN_FULL
    rows = [
        [strong(own(name)), list(told) if few else "; ".join(told), owners.get(name, ""), write(20, "ct")]
        for name, told in lines
    ]
    return [heading("Stones"), table(columns, rows, small=not few)]


def _marks(making: Any) -> list[Block]:
    marking = found(making, "mark", Marking)
    if marking is None:
        return []
    marks = marking.marks
    told: list[Cell] = [sentence(one) for one in marks.must] or ["No mark is asked for by law in this market."]
    text_inside = making.commission.mark.text.strip()
    if text_inside:
        told.append(f"Inscription: {own(text_inside)}")
    return [together(heading("Marks on the ring", f"{marks.market_title}; ticked when struck"), ticks(told))]


def _care(making: Any) -> list[Block]:
    """How to clean the ring, by what all of its stones bear."""
    gems = found(making, "gems", GemsFound)
    stones = gems.stones if gems is not None else ()
    told: list[Cell] = ["Clean it with warm soapy water and a soft brush, rinse it and dry it with a soft cloth."]
    baths = (("ultrasonic", "an ultrasonic bath"), ("steam", "a steam cleaner"))
    told += [sentence(line) for line in (_bath(stones, what, words) for what, words in baths) if line]
    dust = _dust_mohs(facts_of(making))
    told += [
        f"{own(stone.name)}: {number(stone.mohs, 1)} Mohs, softer than the quartz in dust: rinse it first."
        for stone in stones
        if dust is not None and stone.mohs < dust
    ]
    told.append("Keep it apart from harder jewels.")
    if stones:
        told.append("When a stone moves or a claw catches, do not wear it until it was looked over.")
    return [together(heading("Care"), bullets(told))]


def _dust_mohs(facts: Facts | None) -> float | None:
    """The hardness of quartz, which is in the dust of every house."""
    if facts is None:
        return None
    return next((row_.mohs for row_ in facts.gem_materials if row_.key == "quartz"), None)


def _bath(stones: tuple[Gem, ...], what: str, words: str) -> str:
    """Whether the ring may go there, by the stone that bears it worst."""
    if not stones:
        return ""
    worst = max((getattr(stone, what) for stone in stones), key=lambda bears: bears.rank)
    names = ", ".join(own(stone.name) for stone in stones if getattr(stone, what) is worst)
    if worst is Bears.YES:
        return f"it bears {words}."
    if worst is Bears.USUALLY:
        return f"it usually bears {words}, while its stones are clean, untreated and unhurt."
    return f"keep it out of {words} ({names})."


def _limits(making: Any) -> str:
    if making.commission.stone:
        return (
            "Stones are described as they were stated to us and as their size and mass allow; no laboratory has "
            "examined them for this certificate. What is written in by hand was weighed and read on the finished ring."
        )
    return "What is written in by hand was weighed and read on the finished ring."
