"""A paper in the language of the workshop: made in English from the making, then said in the other, text by text.

Words that are a person's own (names, titles, an inscription) stand in every language as they were written: :func:`own`
marks them, and the mark is taken off again before anything is printed.
"""

from __future__ import annotations

import re
from typing import Any

from ringwright.words import ENGLISH, language
from ringwright.words.facts import cited
from ringwright.words.facts import told as word
from ringwright.words.sentences import spoken

_FIRST, _LAST = "\ue000", "\ue001"
_FROM, _TO = "\ue002", "\ue003"
_SOURCE = re.compile(f"{_FROM}(.*?){_TO}", re.DOTALL)
_OWN = re.compile(f"{_FIRST}(.*?){_LAST}", re.DOTALL)
_KEPT_FROM, _KEPT_TO = 0xE100, 0xF8FF
_MARKED = re.compile(f"[{chr(_KEPT_FROM)}-{chr(_KEPT_TO)}]")
"""What stands for kept words meanwhile: a sign that is no letter."""

_NO_WORDS = frozenset(("kind", "width", "align", "file", "level", "mark", "shop"))
"""Parts of a block that say how it is drawn, and the shop's name."""


def own(words: str) -> str:
    """Words that no language changes."""
    return f"{_FIRST}{words.replace(_FIRST, '').replace(_LAST, '')}{_LAST}" if words else words


def source(words: str) -> str:
    """Where a figure is from: said as the facts say it."""
    return f"{_FROM}{words}{_TO}" if words else words


def said(value: Any) -> Any:
    """The data of a paper with every text in the language that is spoken now."""
    if isinstance(value, str):
        return _said(value)
    if isinstance(value, dict):
        return {key: part if key in _NO_WORDS else said(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [said(part) for part in value]
    return value


def _said(text: str) -> str:
    """The text in the other language, around the words that stay."""
    kept: list[str] = []

    def keep(words: str) -> str:
        kept.append(words)
        return chr(_KEPT_FROM + len(kept) - 1)

    text = _OWN.sub(lambda found: keep(found[1]), text)
    text = _SOURCE.sub(lambda found: keep(cited(found[1])), text)
    told = spoken(text)
    if told == text and language() != ENGLISH:  # words of the facts that stand among a few
        told = ", ".join(word(language(), part) or spoken(part) for part in text.split(", "))
    return _MARKED.sub(
        lambda found: kept[ord(found[0]) - _KEPT_FROM] if ord(found[0]) - _KEPT_FROM < len(kept) else found[0], told
    )
