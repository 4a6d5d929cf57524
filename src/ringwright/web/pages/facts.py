"""The trade's figures, to be searched: each with its source, and where sources disagree, all of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse

from ringwright.desk import asking
from ringwright.web import shown
from ringwright.web.frame import heading, page
from ringwright.web.html import Markup, el, shape
from ringwright.web.pages.columns import parted
from ringwright.words import ENGLISH, _, language
from ringwright.words.facts import column_name, said, table_name, told
from ringwright.words.numbers import localised

ABOUT = ("source", "basis", "condition", "preference")
"""Columns that say where a row is from; they stand last."""

MOST_ROWS = 400


def show(request: Request) -> HTMLResponse:
    """The tables; or the rows of one, or of all, in which the searched words stand."""
    wanted = request.query_params.get("q", "").strip()[:100]
    name = request.query_params.get("table", "")
    tables = asking.table()
    names = [one["table"] for one in tables]
    chosen = name if name in names else ""
    options = [el("option", table_name(one), value=one, selected=one == chosen) for one in names]
    form = el(
        "form",
        el("label", _("Search for"), for_="q"),
        el("input", type="search", id="q", name="q", value=wanted),
        el("label", _("in"), for_="table"),
        el("select", el("option", _("all tables"), value=""), options, id="table", name="table"),
        el("button", _("Search"), class_="button"),
        method="get",
        class_="search",
        role="search",
    )
    if not wanted and not chosen:
        body: Markup = _tables(tables)
    else:
        body = _found([chosen] if chosen else names, wanted)
    return page(request, _("Facts"), heading(_("Facts")), form, body, wide=bool(wanted or chosen))


def _tables(tables: list[dict[str, Any]]) -> Markup:
    rows = [
        el(
            "tr",
            el("th", el("a", table_name(one["table"]), href=f"/facts?table={one['table']}"), scope="row"),
            el("td", str(one["rows"]), class_="number"),
            el("td", told(language(), one["row"]) or one["row"]),
        )
        for one in tables
        if one["rows"]
    ]
    head = el("thead", el("tr", [el("th", word, scope="col") for word in (_("Table"), _("Rows"), _("What a row is"))]))
    return el("table", el("caption", _("All tables"), class_="unseen"), head, el("tbody", rows))


def _found(names: list[str], wanted: str) -> Markup:
    """The rows in which every searched word stands, in English or in the reader's language, table by table."""
    terms = wanted.lower().split()
    parts, left = [], MOST_ROWS
    for name in names:
        rows = [row for row in asking.table(name) if _holds(name, row, terms)]
        if rows and left > 0:
            parts.append(_rows(name, rows[:left]))
            left -= len(rows)
    if not parts:
        return el("p", _("Nothing is found for “{words}”.").format(words=wanted), class_="empty")
    cut = el("p", _("There is more: search for more words."), class_="muted") if left < 0 else None
    return el("div", parts, cut)


def _rows(name: str, rows: list[dict[str, Any]]) -> Markup:
    """The rows found in one table: each with its figures, and below them where they are from."""
    columns = [one for one in rows[0] if one not in ABOUT and any(row[one] not in (None, "", [], {}) for row in rows)]
    counts = Counter(row["key"] for row in asking.table(name))
    bodies = []
    for row in rows:
        quarrel = (
            el("span", shape("heed"), el("span", _("sources disagree")), class_="level level-heed small")
            if counts[row["key"]] > 1
            else None
        )
        cells = [
            el("td", _cell(name, one, row[one]), class_="number" if isinstance(row[one], (int, float)) else None)
            for one in columns[1:]
        ]
        bodies.append(
            el(
                "tbody",
                el("tr", el("th", str(row["key"]), quarrel, scope="row"), cells),
                el("tr", el("td", _from(name, row), colspan=len(columns), class_="from")),
            )
        )
    head = el("thead", el("tr", [_head(one) for one in columns]))
    table = el("table", el("caption", table_name(name)), head, bodies, class_="rows")
    return el("div", table, class_="wide", tabindex="0", role="region", aria_label=table_name(name))


def _head(column: str) -> Markup:
    """What a column is called, with its unit."""
    called, unit = parted(column)
    return el("th", column_name(called), el("span", f" {unit}") if unit else None, scope="col")


def _from(table: str, row: dict[str, Any]) -> list[Markup]:
    """Where a row is from, on what it stands, when it holds, and why it is used where others disagree."""
    source, basis, condition, used = (said(table, one, row[one]) for one in ABOUT)
    found = [el("span", f"{source} ({basis})")]
    if condition:
        found.append(el("span", " · ", _("holds"), f": {condition}"))
    if used:
        found.append(el("strong", " · ", _("used"), f": {used}"))
    return found


def _cell(table: str, column: str, value: Any) -> str:
    if isinstance(value, float):
        return localised(f"{value:g}")
    if isinstance(value, str):
        return said(table, column, value)
    if isinstance(value, list):
        return "; ".join(_cell(table, column, one) for one in value)
    return "" if value is None else shown.bare(value, 3)


def _holds(table: str, row: dict[str, Any], terms: list[str]) -> bool:
    """Whether all these words stand in a row, in English or in the language that is spoken."""
    text = " ".join(_texts(row)).lower()
    if language() != ENGLISH:
        text += " " + " ".join(said(table, one, part) for one in row for part in _texts(row[one])).lower()
    return all(term in text for term in terms)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, (dict, list)):
        for part in value.values() if isinstance(value, dict) else value:
            yield from _texts(part)
    else:
        yield str(value)
