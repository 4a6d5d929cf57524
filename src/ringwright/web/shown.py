"""Values of ``dossier.json`` as a page shows them: digits, unit and spread, metric first, the trade's unit beside."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any, TypeGuard

from ringwright.desk import asking
from ringwright.papers.say import CARATS_PER_GRAM, GRAMS_PER_DWT, with_unit
from ringwright.web.html import Markup, el
from ringwright.web.pages.columns import parted
from ringwright.words import _, facts
from ringwright.words.numbers import NONE, number
from ringwright.words.sentences import source, spoken

Data = dict[str, Any]

MM_PER_INCH = 25.4


def value(told: Any, unit: str, digits: int, currency: str = "", name: str = "") -> str:
    """A value of a figure or of a cell, with its unit; ``name`` is the figure's, by which its words are said."""
    text = bare(told, digits, name)
    if unit == "money":
        return f"{text}\u00a0{currency}" if currency and text != NONE else text
    return with_unit(text, unit) if _is_number(told) or isinstance(told, (dict, list)) else text


def bare(told: Any, digits: int, name: str = "") -> str:
    """A value without its unit."""
    if told is None or told == "":
        return NONE
    if isinstance(told, bool):
        return _("yes") if told else _("no")
    if isinstance(told, (int, float)):
        return number(told, 0 if isinstance(told, int) else digits)
    if isinstance(told, dict) and "plus_minus" in told:
        return f"{number(told['value'], digits)}\u00a0±\u00a0{number(told['plus_minus'], digits)}"
    if isinstance(told, dict):
        return ", ".join(
            f"{spoken(part.replace('_', ' '))} {bare(amount, digits, part)}" for part, amount in told.items()
        )
    if isinstance(told, list):
        return ", ".join(bare(part, digits, name) for part in told)
    return words(name, str(told))


_NAME = re.compile(r"[a-z]+(_[A-Za-z0-9]+)+")
"""A figure's own name, as the facts call their columns."""

OWN = frozenset(("crucible", "flask", "kiln", "material", "name", "piece", "pieces", "printer", "text", "treatment"))
"""Columns in which the client's or the workshop's own words stand: an inscription, the name of a stone or a flask."""

TITLED = {"cautions": "cautions", "stones.material": "gem_materials", "stones.cut": "cuts"}
"""Columns that hold keys of a table of the facts, and are shown by their titles, by how their name ends."""

RESERVED = "marks of the assay office"
"""What stands in the place of an inscription where room is kept free: our words, not the client's."""


def words(name: str, text: str) -> str:
    """What a figure or column of that name says in words: as the facts say it, or the steps; keys stay as they are."""
    column = name.rpartition(".")[2]
    table = next((kept for ending, kept in TITLED.items() if name.endswith(ending)), "")
    if table:
        return facts.said(table, "title", _titles(table).get(text, text))
    if column in facts.AS_WRITTEN or (column in OWN and text != RESERVED):
        return text
    if _NAME.fullmatch(text):
        return facts.column_name(parted(text)[0])
    if column.endswith("source"):
        return source(text)
    told = facts.said("", column, text)
    return told if told != text else spoken(text)


@cache
def _titles(table: str) -> dict[str, str]:
    """The titles of a table's rows by their keys."""
    return {str(row["key"]): str(row["title"]) for row in asking.table(table)}


def beside(told: Any, unit: str) -> str:
    """The same in the trade's other unit: pennyweight for grams, grams for carats, inches for millimetres; or ""."""
    amount = told.get("value") if isinstance(told, dict) else told
    if not _is_number(amount) or not math.isfinite(amount):
        return ""
    if unit == "g":
        return with_unit(number(amount / GRAMS_PER_DWT, 2), "dwt")
    if unit == "ct":
        return with_unit(number(amount / CARATS_PER_GRAM, 3), "g")
    if unit == "mm":
        return with_unit(number(amount / MM_PER_INCH, 3), "in")
    if unit == "°C":
        return with_unit(number(amount * 1.8 + 32, 0), "°F")
    return ""


def figures(rows: list[Data], currency: str, *, others: bool = False) -> Markup:
    """Figures as a list of name and value; ``others`` puts the trade's other unit beside."""
    parts = []
    for one in rows:
        told = value(one["value"], one["unit"], one["digits"], currency, one["name"])
        other = beside(one["value"], one["unit"]) if others else ""
        parts.append(
            el(
                "div",
                el("dt", spoken(one["help"] or one["name"].replace("_", " "))),
                el("dd", told, el("span", other, class_="beside") if other else None),
            )
        )
    return el("dl", *parts, class_="figures")


def table(data: Data, currency: str) -> Markup:
    """A table of a step: units in the heads, numbers to the right."""
    columns = [column for column in data["columns"] if _told(column, data)]
    places = [data["columns"].index(column) for column in columns]
    called = spoken(data["help"] or data["name"].replace("_", " "))
    if data["name"].endswith("cautions"):
        called = facts.table_name("cautions")  # the keys are shown by their titles
    heads = []
    for column in columns:
        unit = currency if column["unit"] == "money" else column["unit"]
        name = spoken(column["help"] or ("" if column["name"] == "key" else column["name"].replace("_", " ")))
        heads.append(
            el(
                "th",
                called if column["name"] == "value" else name or _("which"),
                el("span", f" {with_unit('', unit).strip()}") if unit else None,
                scope="col",
            )
        )
    rows = []
    for row in data["rows"]:
        cells = []
        for column, place in zip(columns, places, strict=True):
            told = row[place]
            numeric = _is_number(told) or isinstance(told, dict) or column["unit"] != ""
            name = data["name"] if column["name"] == "value" else f"{data['name']}.{column['name']}"
            said = bare(told, column["digits"], name)
            cells.append(el("td", said, class_="number" if numeric else None))
        rows.append(el("tr", cells))
    head = el("thead", el("tr", heads))
    return el(
        "div",
        el("table", el("caption", called), head, el("tbody", rows)),
        class_="wide",
        tabindex="0",
        role="region",
        aria_label=called,
    )


def _told(column: Data, data: Data) -> bool:
    """Whether a column says anything in any row, in so few words that a table can hold it."""
    names = {one["name"] for one in data["columns"]}
    if column["name"] == "key" and names & {"title", "what"}:
        return False
    place = data["columns"].index(column)
    cells = [row[place] for row in data["rows"]]
    if all(cell in (None, "", [], {}) for cell in cells):
        return False
    return not any(isinstance(cell, list) and len(cell) > 3 for cell in cells)


def _is_number(told: Any) -> TypeGuard[int | float]:
    return isinstance(told, (int, float)) and not isinstance(told, bool)
