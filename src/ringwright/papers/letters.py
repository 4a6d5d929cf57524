"""Which letters the papers can print, and how the others are written: never dropped, never an empty box.

The fonts are those that Typst brings; ``typ/letters.txt`` lists what they have. A letter that they lack is written by
its parts (a wide A as A), by its sound where its name in Unicode is its sound (kana, Hangul), else by its number
("[U+91D1]") or, for a sign, by its name ("[ring]"); and the paper says so.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_right
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

_SOUNDS = ("HIRAGANA LETTER ", "KATAKANA LETTER ", "HANGUL SYLLABLE ")
_SILENT = ("VARIATION SELECTOR",)


@dataclass(frozen=True, slots=True)
class Rewritten:
    """A letter that could not be printed, and what stands in its place."""

    letter: str
    written: str

    @property
    def told(self) -> str:
        """What the paper says of it."""
        name = unicodedata.name(self.letter, "without a name").lower()
        stands = f"written {self.written}" if self.written.strip() else "left out"
        return f"U+{ord(self.letter):04X} ({name}): {stands}"


@cache
def _ranges() -> tuple[tuple[int, ...], tuple[int, ...]]:
    """First and last code point of each run of letters that can be printed."""
    text = (files("ringwright.papers") / "typ" / "letters.txt").read_text("utf-8")
    pairs = [line.split("-") for line in text.splitlines() if line and not line.startswith("#")]
    return tuple(int(pair[0], 16) for pair in pairs), tuple(int(pair[-1], 16) for pair in pairs)


def has(letter: str) -> bool:
    """Whether the papers' fonts have this letter."""
    firsts, lasts = _ranges()
    at = bisect_right(firsts, ord(letter)) - 1
    return at >= 0 and ord(letter) <= lasts[at]


def printable(text: str) -> tuple[str, tuple[Rewritten, ...]]:
    """The text as the papers print it, and the letters that had to be written otherwise, each once."""
    if text.isascii() and text.isprintable():
        return text, ()
    found: dict[str, Rewritten] = {}
    parts = []
    for letter in unicodedata.normalize("NFC", text):
        if _plain(letter):
            parts.append(letter)
            continue
        if letter in "\n\r\t\v\f\u2028\u2029":
            parts.append(" ")
            continue
        if unicodedata.name(letter, "").startswith(_SILENT):
            continue
        written = _written(letter)
        parts.append(written)
        found[letter] = Rewritten(letter, written)
    return "".join(parts), tuple(found.values())


def _plain(letter: str) -> bool:
    """Whether the letter can stand as it is: the fonts have it and it does not steer the text around it."""
    return has(letter) and unicodedata.category(letter) not in {"Cc", "Cf", "Cs", "Co", "Cn"}


def _written(letter: str) -> str:
    """What stands for a letter that cannot be printed."""
    category = unicodedata.category(letter)
    if category in {"Cc", "Cf"}:
        return ""
    parts = unicodedata.normalize("NFKD", letter)
    if parts != letter and all(_plain(part) for part in parts):
        return parts
    name = unicodedata.name(letter, "")
    for kind in _SOUNDS:
        if name.startswith(kind):
            return name.removeprefix(kind).split()[-1].lower()
    if category.startswith("S") and name:
        return f"[{name.lower()}]"
    return f"[U+{ord(letter):04X}]"
