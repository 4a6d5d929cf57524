"""The marking step: the law of marks and words as rows, the marks and their layout as results."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Figure
from ringwright.terms.remark import Point


@dataclass(frozen=True, kw_only=True)
class MarketFact(Row):
    """The law of marks of one market (key: uk, us, ch …), as a check-list and no legal advice.

    ``duty`` is "marks" (an article sold as precious metal must bear them), "voluntary" (no duty to mark) or
    "route" (a way into several countries that the maker may choose). In the texts ``{fineness}``, ``{mark}``,
    ``{metal}`` and ``{height}`` stand for this ring's figures. ``exempt_must`` is what an article under the
    weight limit still needs. ``struck_by`` says who strikes the marks: "office" or "maker".
    """

    title: str
    law: str
    duty: str
    must: tuple[str, ...] = ()
    exempt_must: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    struck_by: str = "maker"
    sponsor_needed: bool = False
    least_height_mm: float | None = None
    weighed: str = "the metal of the article, without stones"
    checked_on: dt.date | None = None
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FinenessFact(Row):
    """The finenesses that may be marked (key: market-metal): a list, any, or none where the law is silent.

    ``legal_karat`` lists karats (24ths) instead of ``legal_permille``. ``mark`` is how a figure is written:
    ``{fineness}`` and ``{karat}`` are filled in; ``marks`` names exceptions by figure. ``covered`` is false where
    the law does not know the metal; ``duty`` stands where it differs from the market's.
    """

    market: str
    metal: str
    legal_permille: tuple[float, ...] = ()
    legal_karat: tuple[float, ...] = ()
    any_fineness: bool = False
    covered: bool = True
    duty: str = ""
    mark: str = "{fineness}"
    marks: dict[str, str] | None = None
    checked_on: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class ExemptionFact(Row):
    """The mass under which an article need not be marked (key: market-metal); 0 where there is no such limit."""

    market: str
    metal: str
    exempt_below_g: float
    checked_on: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class ToleranceFact(Row):
    """How far an assay may lie under the mark (key: market-metal-part). ``part``: "body" without solder, or "whole".

    ``metal`` may be "any".
    """

    market: str
    metal: str
    part: str
    minus_permille: float
    checked_on: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class MarkLimitFact(Row):
    """A limit of place, size or tool (keys: letter-least, wall-for-punch, sizing-area, edge, gap, line …)."""

    letter_height_mm: float | None = None
    wall_mm: float | None = None
    arc_mm: float | None = None
    clearance_mm: float | None = None
    line_width_mm: float | None = None
    run_per_height: float | None = None


@dataclass(frozen=True, kw_only=True)
class WordingFact(Row):
    """What may be said of a stone or a metal in the papers of one market ("any": everywhere).

    ``subject`` is "stone", "gold", "silver", "platinum", "palladium" or "carats". A row of a stone holds for
    stones whose ``origin`` it names. One of ``needs_before`` must stand immediately before the name, with only
    words of ``between`` in between; none of ``forbids`` may stand beside it (``alone``: unless one of
    ``needs_before`` stands there too). For a metal the bare word is allowed from ``least_permille`` up; below
    it the ``figure`` ("karat" or "permille") must stand before the word.
    """

    market: str
    subject: str
    origin: str = ""
    names: tuple[str, ...] = ()
    needs_before: tuple[str, ...] = ()
    between: tuple[str, ...] = ()
    forbids: tuple[str, ...] = ()
    alone: tuple[str, ...] = ()
    least_permille: float | None = None
    figure: str = ""
    right: str
    law: str
    checked_on: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class GlyphFact(Row):
    """A letter of the engraving alphabet: centre lines of the graver, y up, 10 units to the height of a capital.

    ``path`` is written in the manner of SVG with absolute M, L and C; ``glyph_width`` is the letter's own width.
    """

    glyph_width: float
    path: str


@dataclass(frozen=True, kw_only=True)
class MarkingRows:
    """The tables that the marking step works from."""

    markets: tuple[MarketFact, ...]
    finenesses: tuple[FinenessFact, ...]
    exemptions: tuple[ExemptionFact, ...]
    tolerances: tuple[ToleranceFact, ...]
    limits: tuple[MarkLimitFact, ...]
    wordings: tuple[WordingFact, ...] = ()
    letters: tuple[GlyphFact, ...] = ()


@dataclass(frozen=True, kw_only=True)
class MarkPlace:
    """The place inside the band where the marks go."""

    inner_diameter_mm: Annotated[float, Figure("mm", 2, "Inner diameter of the finished ring")]
    band_width_mm: Annotated[float, Figure("mm", 2, "Width of the flat inside, along the finger")]
    wall_mm: Annotated[float | None, Figure("mm", 2, "Metal behind the mark")] = None
    open_from_deg: Annotated[float | None, Figure("deg", 0, "Where the head's openings begin")] = None
    open_to_deg: Annotated[float | None, Figure("deg", 0, "Where the head's openings end")] = None


@dataclass(frozen=True, kw_only=True)
class Marks:
    """What may and must be struck in one market."""

    market: Annotated[str, Figure("", 0, "The market")]
    market_title: Annotated[str, Figure("", 0, "Name of the market")]
    metal: Annotated[str, Figure("", 0, "The metal that gives the name")]
    actual_permille: Annotated[float, Figure("permille", 1, "Fineness of the alloy")]
    fineness_permille: Annotated[float | None, Figure("permille", 1, "Fineness that may be marked")]
    mark: Annotated[str, Figure("", 0, "How the fineness mark reads", chief=True)]
    duty: Annotated[str, Figure("", 0, "marks, voluntary or route")]
    exempt: Annotated[bool, Figure("", 0, "Whether the article is under the weight limit of the duty", chief=True)]
    exempt_below_g: Annotated[float | None, Figure("g", 2, "The weight limit")]
    mass_g: Annotated[float, Figure("g", 2, "Mass that counts")]
    minus_permille: Annotated[float, Figure("permille", 1, "How far an assay without solder may lie under the mark")]
    least_height_mm: Annotated[float | None, Figure("mm", 2, "Least height of the figures by law")]
    must: Annotated[tuple[str, ...], Figure("", 0, "What must be done")]
    may: Annotated[tuple[str, ...], Figure("", 0, "What may be done")]
    never: Annotated[tuple[str, ...], Figure("", 0, "What must never be done")]
    source: Annotated[str, Figure("", 0, "The law and where it was read")]
    checked_on: Annotated[dt.date | None, Figure("", 0, "When all of these rows were last checked at a source")]
    note: Annotated[str, Figure("", 0, "What this list is not")]


@dataclass(frozen=True, kw_only=True)
class TextRun:
    """A piece of text to be laid inside the band, or a place kept free for marks that somebody else strikes.

    ``kind`` is "mark", "inscription" or "reserved"; a reserved place has its ``reserve_mm`` and a text that is not
    drawn.
    """

    text: Annotated[str, Figure("", 0, "The text")]
    kind: Annotated[str, Figure("", 0, "mark, inscription or reserved")] = "inscription"
    reserve_mm: Annotated[float | None, Figure("mm", 2, "Length of a reserved place")] = None


@dataclass(frozen=True, kw_only=True)
class PlacedRun:
    """A run where it lies; ``start_mm`` and ``end_mm`` are arcs from the bottom of the shank to the reader's right."""

    text: Annotated[str, Figure("", 0, "The text")]
    kind: Annotated[str, Figure("", 0, "mark, inscription or reserved")]
    height_mm: Annotated[float, Figure("mm", 2, "Height of a capital")]
    start_mm: Annotated[float, Figure("mm", 2, "Where it begins, from the bottom of the shank")]
    end_mm: Annotated[float, Figure("mm", 2, "Where it ends")]
    base_mm: Annotated[float, Figure("mm", 2, "Height of its base line over the lower edge of the band")]
    middle_deg: Annotated[float, Figure("deg", 1, "Angle of its middle about the finger, 0 at x, 90 at the head")]
    middle_mm: Annotated[Point, Figure("mm", 2, "Its middle, in the ring's frame")]


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Text on the developed inside of the band."""

    strip_length_mm: Annotated[float, Figure("mm", 2, "Inner circumference")]
    strip_width_mm: Annotated[float, Figure("mm", 2, "Width of the inside")]
    height_mm: Annotated[float, Figure("mm", 2, "Height of a capital that was asked for")]
    sizing_area_mm: Annotated[float, Figure("mm", 1, "Arc at the bottom that is kept free for resizing")]
    open_from_mm: Annotated[float | None, Figure("mm", 1, "Where the openings of the head begin")]
    open_to_mm: Annotated[float | None, Figure("mm", 1, "Where they end")]
    runs: Annotated[tuple[PlacedRun, ...], Figure("", 0, "The runs in their places")]
    fits: Annotated[bool, Figure("", 0, "Whether all of it fits")]
    too_long_mm: Annotated[float, Figure("mm", 2, "By how much the text is too long")]
    too_high_mm: Annotated[float, Figure("mm", 2, "By how much the letters are too high")]
    height_that_fits_mm: Annotated[float, Figure("mm", 2, "Greatest height at which all of it fits")]


@dataclass(frozen=True, kw_only=True)
class Marking:
    """The marking step whole: the law, and where the text lies."""

    marks: Annotated[Marks, Figure("", 0, "The law's demands")]
    layout: Annotated[Layout | None, Figure("", 0, "The text inside the band")] = None
