"""What the facts say, in the reader's language: the texts of their cells, and the names of tables and columns.

``locale/facts/LANGUAGE.po`` holds all of it: texts by their English, and under a context of their own the words of
columns that choose among a few ("word"), the names of tables ("table") and of columns without their unit ("column").
Sources are said too; the titles of standards, laws and papers in them stand in their own language. A text with named
gaps, as "fineness mark {mark}", stands there with numbered ones, because the steps fill them.
"""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

from ringwright.words import ENGLISH, language

AS_WRITTEN: dict[str, str] = {
    "key": "the name by which files and the command line call the row",
    "element": "a chemical symbol",
    "composition": "chemical symbols and numbers",
    "formula": "a chemical formula",
    "unit": "the symbol of a unit",
    "path": "lines to be drawn",
    "prefix": "a designation, as a standard writes it",
    "mark": "what is stamped, letter for letter",
    "marks": "what is stamped, letter for letter",
    "size_charts.size": "a size as its table prints it",
    "same_as": "sizes as their table prints them",
    "system": "the key of a system of sizes",
    "market": "the key of a market",
    "markets": "keys of markets",
    "alloy": "the key of an alloy",
    "alloy_class": "the key of a class of alloys",
    "cut": "the key of a cut",
    "weighed_as": "the key of a cut",
    "cautions": "keys of cautions",
    "hazards": "keys of hazards",
    "aliases": "further names that files may use for the key",
    "also": "further names that files may use for the key",
    "alone": "a word that is looked for in English descriptions",
    "between": "words that are looked for in English descriptions",
    "forbids": "words that are looked for in English descriptions",
    "names": "words that are looked for in English descriptions",
    "needs_before": "words that are looked for in English descriptions",
}
"""Columns ("column", or "table.column") whose cells are said in every language as they are written, and why."""

WORD, TABLE, COLUMN = "word", "table", "column"
_READ_IN = ". Read in: "
_NAMED = re.compile(r"\{([a-z_]+)\}")
_NUMBERED = re.compile(r"\{(\d)\}")


def said(table: str, column: str, text: str) -> str:
    """The text of a cell in the language that is spoken now; as it is where the column stays as it is written."""
    code = language()
    if code == ENGLISH or column in AS_WRITTEN or f"{table}.{column}" in AS_WRITTEN:
        return text
    return told(code, text) or text


def told(code: str, text: str) -> str:
    """A fact's text in a language, with its named gaps; "" where the language has none."""
    found = catalogue(code)
    names = _NAMED.findall(text)
    if not names:
        return found.get((WORD, text)) or found.get(("", text), "")
    other = found.get(("", numbered(text)), "")
    return _NUMBERED.sub(lambda gap: f"{{{names[int(gap[1]) - 1]}}}", other)


def cited(text: str) -> str:
    """Where a figure is from, as the facts name it: one source, several joined, or a title before one; "" if not so."""
    code = language()
    if code == ENGLISH:
        return text
    law, read, sources = text.partition(_READ_IN)
    if read:
        said_law, said_sources = told(code, law), _sources(code, sources)
        form = catalogue(code).get(("", f"{{1}}{_READ_IN}{{2}}"), "")
        if form and said_law and said_sources:
            return form.replace("{1}", said_law).replace("{2}", said_sources)
    title, _colon, one = text.partition(": ")
    titled = told(code, title), _sources(code, one)
    return _sources(code, text) or (": ".join(titled) if all(titled) else "")


def _sources(code: str, text: str) -> str:
    """Sources joined by semicolons, each said as a whole; "" where one of them is not known."""
    parts, found = text.split("; "), []
    while parts:
        known = next((n for n in range(len(parts), 0, -1) if told(code, "; ".join(parts[:n]))), 0)
        if not known:
            return ""
        found.append(told(code, "; ".join(parts[:known])))
        parts = parts[known:]
    return "; ".join(found)


def numbered(text: str) -> str:
    """A text with its named gaps counted: "{mark}, struck by the {office}" is "{1}, struck by the {2}"."""
    parts = _NAMED.split(text)
    return "".join(part if at % 2 == 0 else f"{{{at // 2 + 1}}}" for at, part in enumerate(parts))


def table_name(name: str) -> str:
    """What a table is called."""
    return _named(TABLE, name)


def column_name(name: str) -> str:
    """What a column is called, given without its unit."""
    return _named(COLUMN, name)


def _named(context: str, name: str) -> str:
    plain = name.replace("_", " ")
    found = "" if language() == ENGLISH else catalogue(language()).get((context, plain), "")
    shown = found or plain
    return shown[:1].upper() + shown[1:]


@cache
def catalogue(code: str) -> dict[tuple[str, str], str]:
    """All that a language says for the facts, by context and English."""
    from babel.messages.pofile import read_po

    file = files("ringwright.words") / "locale" / "facts" / f"{code}.po"
    if not file.is_file():
        return {}
    with file.open("rb") as opened:
        found = read_po(opened, locale=code)
    return {
        (one.context or "", str(one.id)): str(one.string) for one in found if one.id and one.string and not one.fuzzy
    }
