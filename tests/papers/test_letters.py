"""Letters: the table of what the fonts have is true, and what they lack is written otherwise and told."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import pytest

from ringwright.papers.letters import has, printable


def fonts_inside() -> dict[str, set[int]]:
    """The code points of each font that the installed Typst holds, read from its library."""
    import typst
    from fontTools.ttLib import TTFont

    (library,) = Path(typst.__file__).parent.glob("_typst*.so")
    data = library.read_bytes()
    found: dict[str, set[int]] = {}
    for magic in (b"OTTO", b"\0\1\0\0"):
        at = data.find(magic)
        while at >= 0:
            (count,) = struct.unpack(">H", data[at + 4 : at + 6])
            rows = [data[at + 12 + 16 * n : at + 28 + 16 * n] for n in range(count)] if 8 <= count <= 40 else []
            tags = [row[:4] for row in rows]
            if b"cmap" in tags and b"name" in tags and tags == sorted(tags):
                end = max(sum(struct.unpack(">II", row[8:16])) for row in rows)
                font = TTFont(io.BytesIO(data[at : at + end + 4]), lazy=True)
                found[font["name"].getDebugName(4)] = set(font.getBestCmap())
            at = data.find(magic, at + 4)
    return found


def test_the_table_is_that_of_the_installed_fonts() -> None:
    fonts = fonts_inside()
    text = [points for name, points in fonts.items() if name.startswith("Libertinus Serif")]
    assert len(text) == 6, "six styles of the text face"
    have = set.intersection(*text) | fonts["DejaVu Sans Mono"]
    for point in range(0x20, 0x20000):
        if not 0xE000 <= point <= 0xF8FF:
            assert has(chr(point)) == (point in have), f"U+{point:04X}"


@pytest.mark.parametrize(
    ("given", "written", "lacking"),
    [
        ("Żółć für Ольга, Ωmega, שלום, مرحبا – 750 ‰", "Żółć für Ольга, Ωmega, שלום, مرحبا – 750 ‰", ""),
        ("金の指輪", "[U+91D1]no[U+6307][U+8F2A]", "金の指輪"),
        ("ソラ", "sora", "ソラ"),
        ("김", "gim", "김"),
        ("Ａ１", "A1", "Ａ１"),
        ("💍 for you", "[ring] for you", "💍"),
        ("e\u0301", "é", ""),
        ("one\ntwo\tthree", "one two three", ""),
        ("abc\u202edef\u0007", "abcdef", "\u202e\u0007"),
        ("❤\ufe0f", "❤", ""),
    ],
)
def test_letters(given: str, written: str, lacking: str) -> None:
    text, rewritten = printable(given)
    assert text == written
    assert "".join(one.letter for one in rewritten) == lacking
    assert all(f"U+{ord(one.letter):04X}" in one.told for one in rewritten)
    assert all(has(letter) for letter in text)
