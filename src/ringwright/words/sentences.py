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
from ringwright.words.facts import cited
from ringwright.words.numbers import MONTHS, day, localised

KIND = "remark"
"""The context under which the kinds of remarks have their titles."""

_GAP = re.compile(r"\{(\d+)\}")
_WORD = re.compile(r"[A-Za-z]{2}")
_UNIT = r"[A-Za-z]+(?:[/ ](?!(?:of|to|at|in|by)\b)[A-Za-z]{1,3})?[23²³]?"
_FIGURE = re.compile(rf"(?:[A-Z][a-z]? )?[^A-Za-z]*\d[^A-Za-z]*({_UNIT})?[^A-Za-z]*")
"""A number, or a few with signs between them, with a unit behind or without."""

_LONG_DAY = re.compile(r"(\d{1,2}) ([A-Z][a-z]+) (\d{4})")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_CLOCK = re.compile(r"\d+\s?h\s\d+\s?min")
_SPAN = "{1} to {2}"
_SYMBOL = 3
"""Units of so many letters are symbols; longer ones are words."""

_RANGE = re.compile(r"(\S{1,6}) to (\S{1,6}(?:\s[a-z°%]{1,3})?)")
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
_DECIMALS = re.compile(r"\d+\.\d+")
_SEAMS = (re.compile(r"(?<=[.?]) "), re.compile("; "), re.compile(": "), re.compile(r" (?=\()"), re.compile(", "))
"""Where a text is joined of several that stand in the catalogue each for itself, the strongest first."""

_DEEPEST = 5
_SURE, _DISTINCT = 1 / 3, 24
"""A sentence of which this share or so many letters stand in the catalogue is meant; one of less only where the parts
of the text are not known."""

_NAME = 24
"""A part of so many letters may be a name; a longer one that is not known is something unsaid."""

_TO_WRITE = ("write ", "known", "one of ", "say ", "give ", "name ", "did you mean ")
"""How sentences begin in whose gaps stands what is to be written letter for letter, as do quotes and brackets."""

_KEYS = re.compile(r"[\w.-]+(, [\w.-]+)+")
"""Keys and names, one after the other."""

_MOST_LACKING = 0.4
"""A text of which more cannot be said is left as it is."""


@dataclass(frozen=True)
class Sentence:
    """A text with gaps: how its English is found, and what is said instead. What stands in quotes is a name."""

    pattern: re.Pattern[str]
    longest: str
    gaps: tuple[int, ...]
    names: frozenset[int]
    other: str
    letters: int


Met = tuple[Sentence, tuple[str, ...], bool]


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
    return _said(text, catalogue(code), _DEEPEST)[0]


def source(text: str) -> str:
    """Where a limit is from: ours in the language that is spoken, a citation as it was printed."""
    code = language()
    if code == ENGLISH or not text:
        return text
    found = catalogue(code)
    known = text in found.texts or _said(text, found, 2)[1] == 0
    return cited(text) or (_spoken(text, code) if known else text)


def unsaid(text: str) -> int:
    """How many letters of a text have no words in the language that is spoken now."""
    code = language()
    return 0 if code == ENGLISH else _said(text, catalogue(code), _DEEPEST)[1]


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

    by_context: dict[str | None, dict[str, str]] = {None: {}, KIND: {}}
    for file in files_of(code):
        with file.open("rb") as opened:
            for one in read_po(opened, locale=code):
                if one.id and one.string and not one.fuzzy and one.context in by_context:
                    by_context[one.context][str(one.id)] = str(one.string)
    texts = by_context[None]
    found = [_sentence(text, other) for text, other in texts.items() if _GAP.search(text) and text != _SPAN]
    found.sort(key=lambda one: -one.letters)  # the more of a sentence is given, the surer it is meant
    return Catalogue(texts, by_context[KIND], tuple(found))


def _sentence(text: str, other: str) -> Sentence:
    parts = _GAP.split(text)
    pattern, names = "", set()
    for at, part in enumerate(parts):
        if at % 2 == 0:
            pattern += re.escape(part)
            continue
        if text.startswith(_TO_WRITE) or "".join(parts[:at:2]).count('"') % 2 or parts[at - 1].endswith("["):
            names.add(int(part))
        if parts[at - 1].endswith("'") and parts[at + 1].startswith("'"):
            pattern += r"((?:[^']|'(?=\w))+)"
            names.add(int(part))
        else:  # what is joined to the word before it may be nothing
            pattern += "(.*?)" if re.search(r"[\w³.]$", parts[at - 1]) else "(.+?)"
    gaps = tuple(int(part) for part in parts[1::2])
    texts = parts[::2]
    letters = sum(map(len, texts))
    return Sentence(re.compile(pattern, re.DOTALL), max(texts, key=len), gaps, frozenset(names), other, letters)


def _said(text: str, found: Catalogue, deep: int) -> tuple[str, int]:
    """The text in the other language, and how many of its letters could not be said in it.

    It is looked for as a whole, then as a sentence with gaps, then part by part. What stands in a gap may be a name, so
    it is known as it is.
    """
    bare = text.strip()
    if bare != text:
        said, lacking = _said(bare, found, deep)
        return text.replace(bare, said) if bare else text, lacking
    if (whole := _whole(text, found)) is not None:
        return whole, 0
    if deep == 0:
        return text, len(text)
    met = _met(text, found)
    if met is not None and met[0].letters >= min(_SURE * len(text), _DISTINCT):
        return _filled(met, found, deep)[0], 0
    tries = [_filled(met, found, deep)] if met is not None else []
    tries += [_joined(parts, seam, found, deep) for parts, seam in _seams(text)]
    said, lacking = min([*tries, _otherwise(text, found, deep - 1)], key=lambda one: one[1])
    return (said, lacking) if lacking <= _MOST_LACKING * len(text) else (text, len(text))


def _whole(text: str, found: Catalogue) -> str | None:
    """A text of the catalogue, figures with their unit, or what has no words; None for anything else."""
    if text in found.texts:
        return found.texts[text]
    if (small := found.texts.get(text[:1].lower() + text[1:], "")) and not text[1:2].isupper():
        return small[:1].upper() + small[1:]
    if (one := _FIGURE.fullmatch(text)) is not None:
        said = found.texts.get(one[1], "") if len(one[1] or "") > _SYMBOL and text[one.start(1) - 1].isspace() else ""
        return _figures(text).replace(one[1], said) if said else _figures(text)
    if (span := _RANGE.fullmatch(text)) is not None and _SPAN in found.texts:
        return found.texts[_SPAN].format("", *map(_figures, span.groups()))
    return text if not _WORD.search(text) or _CLOCK.fullmatch(text) else None


def _joined(parts: list[str], seam: str, found: Catalogue, deep: int) -> tuple[str, int]:
    """The parts each by itself, joined as they were."""
    said = [_said(part, found, deep - 1) for part in parts]
    return seam.join(one for one, _ in said), sum(lacking for one, lacking in said)


def _met(text: str, found: Catalogue) -> Met | None:
    """The sentence of the catalogue that the text is, what stands in its gaps, and whether it has a capital more."""
    begun = text[:1].lower() + text[1:] if text[:1].isupper() and not text[1:2].isupper() else text
    for one in found.sentences:
        for said in dict.fromkeys((text, begun)):
            if one.longest in said and (met := one.pattern.fullmatch(said)) is not None:
                return one, met.groups(), said != text
    return None


def _seams(text: str) -> Iterator[tuple[list[str], str]]:
    """The text's parts at each kind of seam that it has, and the seam."""
    if text.startswith("(") and text.endswith(")"):
        return
    for seam in _SEAMS:
        met = seam.search(text)
        if met is not None:
            yield seam.split(text), met[0]


def _otherwise(text: str, found: Catalogue, deep: int) -> tuple[str, int]:
    """The same within brackets, without its full stop, or with a small letter at its beginning."""
    if text.startswith("(") and text.endswith(")"):
        said, lacking = _said(text[1:-1], found, deep)
        return f"({said})", lacking
    tries = [(text, len(text))]
    if text[:1].isupper() and not text[1:2].isupper():
        said, lacking = _said(text[:1].lower() + text[1:], found, deep)
        tries.append((said[:1].upper() + said[1:], lacking))
    if text.endswith("."):
        said, lacking = _said(text[:-1], found, deep)
        tries.append((f"{said}.", lacking))
    return min(tries, key=lambda one: one[1])


def _filled(met: Met, found: Catalogue, deep: int) -> tuple[str, int]:
    """The other language's sentence with the parts in its gaps, and what of longer parts could not be said."""
    one, filling, begun = met
    by_gap, lacking = {}, 0
    for gap, part in zip(one.gaps, filling, strict=True):
        by_gap[gap], unsaid = (part, 0) if gap in one.names else _said(part, found, deep - 1)
        if unsaid and _KEYS.fullmatch(part):
            by_gap[gap], unsaid = part, 0
        lacking += unsaid if len(part) > _NAME else 0
    told = _GAP.sub(lambda gap: by_gap[int(gap[1])], one.other)
    return told[:1].upper() + told[1:] if begun else told, lacking


def _figures(text: str) -> str:
    """Numbers and days as the language writes them; their unit as it is."""
    if (long := _LONG_DAY.fullmatch(text)) is not None and long[2] in MONTHS:
        return day(dt.date(int(long[3]), MONTHS.index(long[2]) + 1, int(long[1])))
    if _DAY.fullmatch(text):
        with suppress(ValueError):
            return day(dt.date.fromisoformat(text))
    parted = _THOUSANDS.sub("\u202f", text)
    return _DECIMALS.sub(lambda met: localised(met[0]), parted)
