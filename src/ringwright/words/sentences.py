"""What the steps and the facts say, in the reader's language: names of figures, places, sentences with figures in them.

The steps write English, and a dossier keeps it. ``locale/steps/LANGUAGE.po`` and ``locale/facts/LANGUAGE.po`` hold the
other languages: whole texts, texts with gaps (``{1}``, ``{2}`` …) into which what stands in the English is put, and
under the context "remark" a title for each kind of remark ("wear/edge-inside"), which stands before a sentence that
has no translation yet. What the catalogue does not have stays as it is.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from ringwright.words import ENGLISH, files_of, language
from ringwright.words.numbers import day, localised

KIND = "remark"
"""The context under which the kinds of remarks have their titles."""

_GAP = re.compile(r"\{(\d+)\}")
_WORD = re.compile(r"[A-Za-z]{2}")
_FIGURE = re.compile(r"[^A-Za-z]*\d[^A-Za-z]*(?:[A-Za-z]+(?:[/ ][A-Za-z]+)?[23²³]?)?[^A-Za-z]*")
"""A number, or a few with signs between them, with a unit behind or without."""

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
_DECIMALS = re.compile(r"\d+\.\d+")
_SEAMS = (re.compile(r"(?<=[.?]) "), re.compile("; "), re.compile(": "), re.compile(r" (?=\()"), re.compile(", "))
"""Where a text is joined of several that stand in the catalogue each for itself, the strongest first."""

_DEEPEST = 5
_SURE = 1 / 3
"""A sentence of which at least this share stands in the catalogue is meant; one of less only where it has no parts."""


@dataclass(frozen=True)
class Sentence:
    """A text with gaps: how its English is found, and what is said instead."""

    pattern: re.Pattern[str]
    longest: str
    gaps: tuple[int, ...]
    other: str
    letters: int


@dataclass(frozen=True)
class Catalogue:
    """All that a language says for the steps."""

    texts: dict[str, str]
    kinds: dict[str, str]
    sentences: tuple[Sentence, ...]


def spoken(text: str) -> str:
    """A text of the steps in the language that is spoken now; the text itself where there is no other."""
    code = language()
    return text if code == ENGLISH or not text else _spoken(text, code)


@lru_cache(maxsize=8192)
def _spoken(text: str, code: str) -> str:
    return _said(text, catalogue(code), _DEEPEST)


def title(step: str, one: dict[str, Any]) -> str:
    """The title of a remark's kind, where the remark's own sentence is in another language than the page; else ""."""
    code = language()
    if code == ENGLISH or spoken(one["says"]) != one["says"]:
        return ""
    kinds = catalogue(code).kinds
    kind = f"{step}/{one.get('kind', '')}"
    return kinds.get(kind) or kinds.get(f"{kind.rpartition('-')[0]}-*", "")


@cache
def catalogue(code: str) -> Catalogue:
    """All texts of the steps in a language."""
    from babel.messages.pofile import read_po

    texts: dict[str, str] = {}
    kinds: dict[str, str] = {}
    for file in files_of(code):
        with file.open("rb") as opened:
            for one in read_po(opened, locale=code):
                if one.id and one.string and not one.fuzzy and one.context in (None, KIND):
                    (kinds if one.context == KIND else texts)[str(one.id)] = str(one.string)
    found = [_sentence(text, other) for text, other in texts.items() if _GAP.search(text)]
    found.sort(key=lambda one: -one.letters)  # the more of a sentence is given, the surer it is meant
    return Catalogue(texts, kinds, tuple(found))


def _sentence(text: str, other: str) -> Sentence:
    parts = _GAP.split(text)
    pattern = ""
    for at, part in enumerate(parts):
        quoted = at % 2 == 1 and parts[at - 1].endswith("'") and parts[at + 1].startswith("'")
        gap = r"((?:[^']|'(?=\w))+)" if quoted else "(.+?)"
        pattern += re.escape(part) if at % 2 == 0 else gap
    gaps = tuple(int(part) for part in parts[1::2])
    texts = parts[::2]
    return Sentence(re.compile(pattern, re.DOTALL), max(texts, key=len), gaps, other, sum(map(len, texts)))


def _said(text: str, found: Catalogue, deep: int) -> str:
    """The text in the other language: as a whole, else as a sentence with gaps, else part by part."""
    if text in found.texts:
        return found.texts[text]
    if _FIGURE.fullmatch(text):
        return _figures(text)
    if deep == 0 or not _WORD.search(text):
        return text
    met = _met(text, found)
    sure = met is not None and met[0].letters >= _SURE * len(text)
    if not sure:
        for parts, seam in _seams(text):
            said = [_said(part, found, deep - 1) for part in parts]
            known = [one != part or not _WORD.search(part) for one, part in zip(said, parts, strict=True)]
            if all(known) or (met is None and any(known)):
                return seam.join(said)
    if met is not None:
        one, filling = met
        return _filled(one, [_said(part, found, deep - 1) for part in filling])
    return _otherwise(text, found, deep - 1)


def _met(text: str, found: Catalogue) -> tuple[Sentence, tuple[str, ...]] | None:
    """The sentence of the catalogue that the text is, and what stands in its gaps."""
    for one in found.sentences:
        if one.longest in text and (met := one.pattern.fullmatch(text)) is not None:
            return one, met.groups()
    return None


def _seams(text: str) -> Iterator[tuple[list[str], str]]:
    """The text's parts at each kind of seam that it has, and the seam."""
    if text.startswith("(") and text.endswith(")"):
        return
    for seam in _SEAMS:
        met = seam.search(text)
        if met is not None:
            yield seam.split(text), met[0]


def _otherwise(text: str, found: Catalogue, deep: int) -> str:
    """The same within brackets, without its full stop, or with a small letter at its beginning."""
    if text.startswith("(") and text.endswith(")"):
        return f"({_said(text[1:-1], found, deep)})"
    if text.endswith("."):
        return f"{_said(text[:-1], found, deep)}."
    small = text[:1].lower() + text[1:]
    said = found.texts.get(small, text)
    return said[:1].upper() + said[1:] if said != text else text


def _filled(one: Sentence, parts: list[str]) -> str:
    """The other language's sentence with the parts in its gaps."""
    by_gap = dict(zip(one.gaps, parts, strict=True))
    return _GAP.sub(lambda gap: by_gap[int(gap[1])], one.other)


def _figures(text: str) -> str:
    """Numbers and days as the language writes them; their unit as it is."""
    if _DAY.fullmatch(text):
        with suppress(ValueError):
            return day(dt.date.fromisoformat(text))
    parted = _THOUSANDS.sub("\u202f", text)
    return _DECIMALS.sub(lambda met: localised(met[0]), parted)
