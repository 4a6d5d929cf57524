"""Text as lines: from our own engraving alphabet (centre lines of the graver) or from a font file's outlines.

Lengths are in heights of a capital: a capital H reaches from 0 to 1.
"""

from __future__ import annotations

import io
import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from typing import Any

from ringwright.terms.mark import GlyphFact
from ringwright.terms.mistake import bad

Line = tuple[tuple[float, float], ...]

_UNITS = 10.0
_SPACING = 2.4
_LOW_LETTER = 6.8
"""Height of a letter without ascender in our alphabet; accents are drawn to sit over it."""
_STEPS = 12
"""Straight pieces of a curve: the chord of a quarter circle of 0.5 mm strays by 0.001 mm."""


@dataclass(frozen=True)
class Drawn:
    """A text as lines, from x = 0 to ``width``; ``closed`` where they are outlines, not centre lines."""

    width: float
    lines: tuple[Line, ...]
    low: float
    high: float
    closed: bool


def drawn(text: str, letters: tuple[GlyphFact, ...], font: bytes | None = None) -> Drawn:
    """The text in our alphabet, or in a font where its file is given.

    Raises :class:`~ringwright.terms.mistake.BadInput` for a character that is missing there, and for a file that
    is no font.
    """
    width, lines = _in_font(text, font) if font is not None else _in_alphabet(text, letters)
    heights = [y for line in lines for _, y in line]
    low, high = (min(heights), max(heights)) if heights else (0.0, 1.0)
    return Drawn(width, lines, low, high, font is not None)


def missing(text: str, letters: tuple[GlyphFact, ...]) -> tuple[str, ...]:
    """The characters of a text that our alphabet cannot draw."""
    rows = {row.key for row in letters}
    return tuple(dict.fromkeys(char for char in text if not set(_parts(char, rows)) <= rows))


def _parts(char: str, known: set[str]) -> tuple[str, ...]:
    """A character as the alphabet draws it: itself, or a letter and its accents."""
    if char in known:
        return (char,)
    first, *accents = list(unicodedata.normalize("NFD", char))
    if first == "i" and accents and "ı" in known:
        first = "ı"
    return (first, *accents)


def _in_alphabet(text: str, letters: tuple[GlyphFact, ...]) -> tuple[float, tuple[Line, ...]]:
    rows = {row.key: row for row in letters}
    text = unicodedata.normalize("NFC", text)
    absent = missing(text, letters)
    if absent:
        right = "leave them out, or give a font file that has them"
        raise bad("mark.text", f"the engraving alphabet has no {', '.join(repr(char) for char in absent)}", right)
    lines: list[Line] = []
    at = 0.0
    for number, char in enumerate(text):
        if number:
            at += _SPACING
        first, *accents = (rows[part] for part in _parts(char, set(rows)))
        strokes = _flat(first.path)
        top = max((y for line in strokes for _, y in line), default=0.0)
        lines += [_moved(line, at, 0.0) for line in strokes]
        for accent in accents:
            marks = _flat(accent.path)
            above = max(y for line in marks for _, y in line) > _LOW_LETTER
            lift = max(top, _LOW_LETTER) - _LOW_LETTER if above else 0.0
            lines += [_moved(line, at + first.glyph_width / 2, lift) for line in marks]
        at += first.glyph_width
    return at / _UNITS, tuple(tuple((x / _UNITS, y / _UNITS) for x, y in line) for line in lines)


def _moved(line: Line, dx: float, dy: float) -> Line:
    return tuple((x + dx, y + dy) for x, y in line)


@cache
def _flat(path: str) -> tuple[Line, ...]:
    """A path of M, L and C, with its curves cut into straight pieces."""
    lines: list[list[tuple[float, float]]] = []
    for order, text in re.findall(r"([MLC])([^MLC]*)", path):
        numbers = [float(word) for word in text.split()]
        points = list(zip(numbers[::2], numbers[1::2], strict=True))
        if order == "M":
            lines.append(points)
        elif order == "L":
            lines[-1] += points
        else:
            lines[-1] += _cubic(lines[-1][-1], *points)
    return tuple(tuple(line) for line in lines)


def _cubic(*corners: tuple[float, float]) -> list[tuple[float, float]]:
    """The points of a cubic curve after its first."""
    a, b, c, d = corners
    found = []
    for step in range(1, _STEPS + 1):
        t = step / _STEPS
        u = 1 - t
        weights = (u**3, 3 * u * u * t, 3 * u * t * t, t**3)
        found.append((
            sum(w * p[0] for w, p in zip(weights, (a, b, c, d), strict=True)),
            sum(w * p[1] for w, p in zip(weights, (a, b, c, d), strict=True)),
        ))  # fmt: skip
    return found


def _in_font(text: str, font: bytes) -> tuple[float, tuple[Line, ...]]:
    """The text shaped and outlined from a font file (OpenType or TrueType)."""
    import uharfbuzz
    from fontTools.ttLib import TTFont, TTLibError

    try:
        tables = TTFont(io.BytesIO(font), lazy=False)
        glyphs = tables.getGlyphSet()
        names = tables.getGlyphOrder()
        cap = _cap_height(tables, glyphs)
    except (TTLibError, KeyError, AssertionError, ValueError) as fault:
        raise bad("mark.font", "the font file cannot be read", "an OpenType or TrueType font (.otf, .ttf)") from fault
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(uharfbuzz.Font(uharfbuzz.Face(font)), buffer)
    lines: list[Line] = []
    at = 0.0
    for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        if info.codepoint == 0:
            char = text[info.cluster]
            raise bad("mark.text", f"the font has no {char!r}", "leave it out, or give a font that has it")
        dx, dy = at + position.x_offset, float(position.y_offset)
        contours = _contours(glyphs, names[info.codepoint])
        lines += [tuple(((x + dx) / cap, (y + dy) / cap) for x, y in contour) for contour in contours]
        at += position.x_advance
    return at / cap, tuple(lines)


def _cap_height(tables: Any, glyphs: Any) -> float:
    """The height of a capital H in font units."""
    from fontTools.pens.boundsPen import BoundsPen

    cmap = tables.getBestCmap()
    if ord("H") in cmap:
        pen = BoundsPen(glyphs)
        glyphs[cmap[ord("H")]].draw(pen)
        if pen.bounds is not None:
            return float(pen.bounds[3])
    return float(getattr(tables["OS/2"], "sCapHeight", 0) or 0.7 * tables["head"].unitsPerEm)


def _contours(glyphs: Any, name: str) -> list[list[tuple[float, float]]]:
    """A glyph's contours with their curves cut into straight pieces."""
    from fontTools.pens.basePen import BasePen

    found: list[list[tuple[float, float]]] = []

    class Pen(BasePen):  # type: ignore[misc]  # the library gives no types
        """Collects points; the base class turns components and quadratic curves into what is asked for here."""

        def _moveTo(self, point: tuple[float, float]) -> None:
            found.append([point])

        def _lineTo(self, point: tuple[float, float]) -> None:
            found[-1].append(point)

        def _curveToOne(self, b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]) -> None:
            found[-1].extend(_cubic(found[-1][-1], b, c, d))

    glyphs[name].draw(Pen(glyphs))
    return [contour for contour in found if len(contour) > 1]
