"""What a card is made of: plain data for the pages of ``typ/paper.typ``. No layout is decided elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from ringwright.terms.bench import Caution
from ringwright.terms.remark import Level

Block = dict[str, Any]
Cell = Any
"""A text, None, a list of cells (one under the other), or what :func:`strong`, :func:`tick` … give."""


@dataclass(frozen=True)
class Card:
    """One card: its title, the question that it answers, what stands at its right, and its blocks."""

    title: str
    under: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Paper:
    """A paper of some cards, with the pictures that its blocks name."""

    title: str
    shop: str
    foot: str
    right: tuple[str, ...]
    cards: tuple[Card, ...]
    pictures: dict[str, bytes] = field(default_factory=dict)
    framed: bool = False

    def data(self) -> Block:
        """The paper as plain data."""
        return {
            "title": self.title,
            "shop": self.shop,
            "foot": self.foot,
            "framed": self.framed,
            "cards": [
                {
                    "head": {"title": card.title, "under": card.under, "right": list(self.right)},
                    "blocks": list(card.blocks),
                }
                for card in self.cards
            ],
        }


@dataclass(frozen=True)
class Column:
    """A column of a table: its head, its width ("auto", a share "2fr", or mm), how it is aligned."""

    title: str
    width: str = "auto"
    align: str = "left"


def right(title: str) -> Column:
    """A column of numbers, as wide as they need."""
    return Column(title, align="right")


# ---- cells -----------------------------------------------------------------------------------------------------


def strong(text: str) -> Cell:
    """A text in semibold."""
    return {"text": text, "bold": True}


def small(text: str) -> Cell:
    """A text in small."""
    return {"text": text, "small": True}


def large(text: str) -> Cell:
    """A text in large semibold."""
    return {"text": text, "large": True, "bold": True}


def tick() -> Cell:
    """A box to tick."""
    return {"tick": True}


def write(width_mm: float, unit: str = "") -> Cell:
    """A line to write on."""
    return {"write": width_mm, "unit": unit}


def sign(level: Level) -> Cell:
    """The sign of a level."""
    return {"level": level.value}


# ---- blocks ----------------------------------------------------------------------------------------------------


def heading(text: str, note: str = "") -> Block:
    """A heading within a card."""
    return {"kind": "heading", "text": text, "note": note}


def text(words: str, *, small: bool = False, italic: bool = False) -> Block:
    """A paragraph."""
    return {"kind": "text", "text": words, "small": small, "italic": italic}


def tiles(*figures: tuple[str, str, str, str], wide: Sequence[float] = (), height_mm: float = 17) -> Block:
    """Figures to be read from afar: label, value, unit and a note for each."""
    widths = list(wide) or [1.0] * len(figures)
    return {
        "kind": "tiles",
        "height": height_mm,
        "tiles": [
            {"label": label, "value": value, "unit": unit, "note": note, "wide": width}
            for (label, value, unit, note), width in zip(figures, widths, strict=True)
        ],
    }


def pairs(items: Iterable[tuple[str, Cell]], columns: int = 2) -> Block:
    """Names and values in columns."""
    return {"kind": "pairs", "columns": columns, "pairs": [list(item) for item in items]}


def table(
    columns: Sequence[Column],
    rows: Iterable[Sequence[Cell]],
    *,
    strong_rows: Sequence[int] = (),
    small: bool = False,
    top: bool = False,
    loose_mm: float = 1.35,
) -> Block:
    """A table; ``strong_rows`` are set off with a rule and in semibold, as sums are."""
    found = [list(row) for row in rows]
    if any(len(row) != len(columns) for row in found):
        raise ValueError("a row of a table has not as many cells as the table has columns")
    return {
        "kind": "table",
        "columns": [{"title": c.title, "width": c.width, "align": c.align} for c in columns],
        "rows": found,
        "strong": list(strong_rows),
        "small": small,
        "top": top,
        "loose": loose_mm,
    }


def bullets(items: Iterable[Cell], *, columns: int = 1, small: bool = False) -> Block:
    """A list."""
    return {"kind": "list", "mark": "dash", "items": list(items), "columns": columns, "small": small}


def ticks(items: Iterable[Cell]) -> Block:
    """A list to tick."""
    return {"kind": "list", "mark": "tick", "items": list(items)}


def signed(items: Iterable[tuple[Level, Cell]], *, columns: int = 1, small: bool = False) -> Block:
    """A list with the sign of a level before each item."""
    told = [{"level": level.value, "body": body} for level, body in items]
    return {"kind": "list", "mark": "level", "items": told, "columns": columns, "small": small}


def cautions(found: Sequence[Caution], deferral: str, title: str = "Cautions") -> tuple[Block, ...]:
    """The cautions of a card in their frame; nothing where there are none."""
    if not found:
        return ()
    items = [
        {"title": c.title, "says": c.says.removesuffix(deferral).strip(), "figures": list(c.figures)} for c in found
    ]
    return ({"kind": "cautions", "title": title, "deferral": deferral, "columns": _balanced(items)},)


_LINE = 62
"""Letters in a line of a caution's column, near enough to balance two of them."""


def _balanced(items: list[Block]) -> list[list[Block]]:
    """The cautions in order in one column or two, so parted that the longer column is as short as can be."""
    if len(items) < 3:
        return [items]
    lines = [
        sum(-(-len(part) // _LINE) for part in (f"{item['title']}. {item['says']}", *item["figures"])) + 1
        for item in items
    ]
    best = min(range(1, len(items)), key=lambda n: max(sum(lines[:n]), sum(lines[n:])))
    return [items[:best], items[best:]]


def balanced(block: Block, items: list[Block]) -> Block:
    """The block of cautions with these, parted anew."""
    return block | {"columns": _balanced(items)}


def chain(stations: Sequence[tuple[str, str, str, bool, bool]], links: Sequence[str]) -> Block:
    """Stations of a figure (title, value, note, strong, room to write), and what happens between them."""
    return {
        "kind": "chain",
        "stations": [
            {"title": title, "value": value, "note": note, "strong": bold, "write": room}
            for title, value, note, bold, room in stations
        ],
        "links": list(links),
    }


def row(*cells: Sequence[Block], widths: Sequence[float] = ()) -> Block:
    """Blocks side by side."""
    return {"kind": "row", "cells": [list(one) for one in cells], "widths": list(widths) or [1.0] * len(cells)}


def together(*blocks: Block) -> Block:
    """Blocks that no page parts."""
    return {"kind": "together", "blocks": list(blocks)}


def bottom() -> Block:
    """What follows stands at the bottom of the page."""
    return {"kind": "fill"}


def image(file: str, width_mm: float, alt: str) -> Block:
    """A picture."""
    return {"kind": "image", "file": file, "width": width_mm, "alt": alt}
