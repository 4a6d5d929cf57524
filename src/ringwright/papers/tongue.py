"""A paper in the language of the workshop: made in English from the making, then said in the other, text by text.

Words that are a person's own (names, titles, an inscription) stand in every language as they were written: :func:`own`
marks them, and the mark is taken off again before anything is printed.
"""

from __future__ import annotations

import re
from typing import Any

from ringwright.words.sentences import spoken

_FIRST, _LAST = "\ue000", "\ue001"
_OWN = re.compile(f"{_FIRST}(.*?){_LAST}", re.DOTALL)
_MARKED = re.compile(f"{_FIRST}(\\d+){_LAST}")
_NO_WORDS = frozenset(("kind", "width", "align", "file", "level", "mark", "shop"))
"""Parts of a block that say how it is drawn, and the shop's name."""


def own(words: str) -> str:
    """Words that no language changes."""
    return f"{_FIRST}{words.replace(_FIRST, '').replace(_LAST, '')}{_LAST}" if words else words


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

    def keep(found: re.Match[str]) -> str:
        kept.append(found[1])
        return f"{_FIRST}{len(kept) - 1}{_LAST}"

    told = spoken(_OWN.sub(keep, text))
    return _MARKED.sub(lambda found: kept[int(found[1])], told)
