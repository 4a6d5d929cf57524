"""The words of pages and papers in the reader's language.

Texts stand in English in the code, marked ``_("…")``; ``locale/LANGUAGE.po`` holds the others. What the steps and the
facts say (remarks, names of figures, tasks, cautions) is written in English and kept so in the dossier: see
:mod:`ringwright.words.sentences`. Numbers and days: :mod:`ringwright.words.numbers`. Babel is imported only where
another language than English is spoken.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

ENGLISH = "en"
_LANGUAGE: ContextVar[str] = ContextVar("language", default=ENGLISH)


@cache
def codes() -> tuple[str, ...]:
    """The codes of the languages that are spoken, English first."""
    found = sorted(one.name.removesuffix(".po") for one in _folder().iterdir() if one.name.endswith(".po"))
    return (ENGLISH, *found)


@cache
def languages() -> dict[str, str]:
    """The languages that are spoken: code to the language's own name."""
    from babel import Locale

    return {code: (Locale.parse(code).display_name or code).capitalize() for code in codes()}


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Within this, the pages speak that language."""
    before = _LANGUAGE.set(code if code in codes() else ENGLISH)
    try:
        yield
    finally:
        _LANGUAGE.reset(before)


def language() -> str:
    """The language that is spoken now."""
    return _LANGUAGE.get()


def wanted(cookie: str | None, accepted: str) -> str:
    """The language for a reader: the one chosen before, else the first accepted one that there is."""
    if cookie in codes():
        return str(cookie)
    for part in accepted.split(","):
        code = part.split(";")[0].strip().lower().split("-")[0]
        if code in codes():
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


def files_of(code: str) -> list[Traversable]:
    """The files of what pages, papers, steps, desk and facts say in a language, as far as they are there."""
    parts = (_folder() / part / f"{code}.po" for part in (".", "papers", "steps", "desk", "facts"))
    return [file for file in parts if file.is_file()]


def _folder() -> Traversable:
    return files("ringwright.words") / "locale"
