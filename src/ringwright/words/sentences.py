"""What the steps and the facts say, in the reader's language: names of figures, places, sentences with figures in them.

The steps write English, and a dossier keeps it. ``locale/steps/LANGUAGE.po`` and ``locale/facts/LANGUAGE.po`` hold the
other languages: whole texts, texts with gaps (``{1}``, ``{2}`` …) into which what stands in the English is put, and
under the context "remark" a title for each kind of remark ("wear/edge-inside"), which stands before a sentence that
has no translation yet. What the catalogue does not have stays as it is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from ringwright.words import ENGLISH, files_of, language

KIND = "remark"
"""The context under which the kinds of remarks have their titles."""

_GAP = re.compile(r"\{(\d)\}")
_DECIMALS = re.compile(r"(?<=\d)\.(?=\d)")
_DEEPEST = 3


@dataclass(frozen=True)
class Sentence:
    """A text with gaps: how its English is found, and what is said instead."""

    pattern: re.Pattern[str]
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
    return text if code == ENGLISH or not text else _said(text, catalogue(code), _DEEPEST)


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
    pattern = "".join(re.escape(part) if at % 2 == 0 else "(.+?)" for at, part in enumerate(parts))
    gaps = tuple(int(part) for part in parts[1::2])
    return Sentence(re.compile(pattern, re.DOTALL), gaps, other, sum(map(len, parts[::2])))


def _said(text: str, found: Catalogue, deep: int) -> str:
    if text in found.texts:
        return found.texts[text]
    if deep == 0:
        return text
    for one in found.sentences:
        met = one.pattern.fullmatch(text)
        if met is not None:
            return _filled(one, [_part(part, found, deep - 1) for part in met.groups()])
    return text


def _filled(one: Sentence, parts: list[str]) -> str:
    """The other language's sentence with the parts in its gaps."""
    by_gap = dict(zip(one.gaps, parts, strict=True))
    return _GAP.sub(lambda gap: by_gap[int(gap[1])], one.other)


def _part(text: str, found: Catalogue, deep: int) -> str:
    """What stands in a gap: a number as the language writes it, words of the catalogue, or a name as it is."""
    from babel.numbers import get_decimal_symbol

    if not re.search(r"[A-Za-z]{2}", text):
        return _DECIMALS.sub(str(get_decimal_symbol(language())), text)
    return _said(text, found, deep)
