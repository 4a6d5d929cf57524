"""The pages' own words in the reader's language, and numbers and days as that language writes them.

Texts stand in English in the code, marked ``_("…")``; ``locale/LANGUAGE.po`` holds the others. What the steps say
(remarks, names of figures) comes from the dossier, in English: see :mod:`ringwright.web.sentences`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from ringwright.papers import say

ENGLISH = "en"
_LANGUAGE: ContextVar[str] = ContextVar("language", default=ENGLISH)


@cache
def languages() -> dict[str, str]:
    """The languages that the pages speak: code to the language's own name."""
    from babel import Locale

    found = sorted(one.name.removesuffix(".po") for one in _folder().iterdir() if one.name.endswith(".po"))
    return {code: (Locale.parse(code).display_name or code).capitalize() for code in (ENGLISH, *found)}


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Within this, the pages speak that language."""
    before = _LANGUAGE.set(code if code in languages() else ENGLISH)
    try:
        yield
    finally:
        _LANGUAGE.reset(before)


def language() -> str:
    """The language that is spoken now."""
    return _LANGUAGE.get()


def wanted(cookie: str | None, accepted: str) -> str:
    """The language for a reader: the one chosen before, else the first accepted one that there is."""
    if cookie in languages():
        return str(cookie)
    for part in accepted.split(","):
        code = part.split(";")[0].strip().lower().split("-")[0]
        if code in languages():
            return code
    return ENGLISH


def marked(text: str) -> str:
    """The text as it is: marked for translation where it stands, spoken elsewhere."""
    return text


def _(text: str) -> str:
    """The text in the language that is spoken now."""
    code = _LANGUAGE.get()
    return text if code == ENGLISH else catalogue(code).get(text, text)


@cache
def catalogue(code: str) -> dict[str, str]:
    """All texts of a language, by their English."""
    from babel.messages.pofile import read_po

    with (_folder() / f"{code}.po").open("rb") as file:
        found = read_po(file, locale=code)
    return {str(one.id): str(one.string) for one in found if one.id and one.string and not one.fuzzy}


def day(value: dt.date) -> str:
    """A day as the language writes it."""
    if language() == ENGLISH:
        return say.day(value)
    from babel.dates import format_date

    return str(format_date(value, "long", locale=language()))


def moment(value: dt.datetime) -> str:
    """A day and time in this machine's zone."""
    local = value.astimezone()
    return f"{day(local.date())}, {local:%H:%M}"


def number(value: float | None, digits: int) -> str:
    """A number with so many decimals, with the language's own sign for the decimals."""
    text = say.number(value, digits)
    if language() == ENGLISH:
        return text
    from babel.numbers import get_decimal_symbol

    return text.replace(".", str(get_decimal_symbol(language()))) if text[-1:].isdigit() else text


def steps_file(code: str) -> Traversable:
    """The file of what the steps say in a language."""
    return _folder() / "steps" / f"{code}.po"


def _folder() -> Traversable:
    return files("ringwright.web") / "locale"
