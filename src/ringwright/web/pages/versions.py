"""The versions of a commission, and two of them side by side."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse

from ringwright.desk import shelf as desk
from ringwright.desk.shelf import CommissionVersion, Difference, Shelf
from ringwright.terms.order import step as step_of
from ringwright.web import shown
from ringwright.web.frame import heading, level_word, page
from ringwright.web.html import Markup, el, level
from ringwright.web.pages.drawn import says
from ringwright.words import _, numbers
from ringwright.words.sentences import spoken


def show(request: Request) -> HTMLResponse:
    """All versions; the newest and the one before it side by side unless others are named."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    found = desk.history(shelf, key)
    numbers = [one.number for one in found]
    one = _chosen(request, "one", numbers, numbers[1] if len(numbers) > 1 else numbers[0])
    other = _chosen(request, "other", numbers, numbers[0])
    heads = (_("Version"), _("Saved"), _("By"), _("Before"), _("After"))
    table = el(
        "table",
        el("caption", _("Versions, the newest first"), class_="unseen"),
        el("thead", el("tr", [el("th", word, scope="col") for word in heads])),
        el("tbody", [_row(version, one, other) for version in found]),
        class_="versions",
    )  # fmt: skip
    form = el("form", table, el("p", el("button", _("Show what differs"), class_="button")), method="get")
    return page(
        request,
        _("Versions"),
        heading(
            _("Versions of {title}").format(title=found[0].title or key),
            el("a", _("Back to the commission"), href=f"/c/{quote(key)}"),
        ),
        form,
        difference(desk.difference(shelf, key, one, other), one, other) if one != other else None,
    )


def _chosen(request: Request, name: str, numbers: list[int], usual: int) -> int:
    told = request.query_params.get(name, "")
    return int(told) if told.isdecimal() and len(told) < 9 and int(told) in numbers else usual


def _row(version: CommissionVersion, one: int, other: int) -> Markup:
    def choice(name: str, chosen: int, word: str) -> Markup:
        about = _("version {number} {word}").format(number=version.number, word=word)
        return el(
            "td",
            el(
                "input",
                type="radio",
                name=name,
                value=version.number,
                checked=version.number == chosen,
                aria_label=about,
            ),
        )

    return el(
        "tr",
        el("th", str(version.number), scope="row"),
        el("td", numbers.moment(version.saved_at)),
        el("td", spoken(version.by)),
        choice("one", one, _("before")),
        choice("other", other, _("after")),
    )


def difference(found: Difference, one: int, other: int) -> Markup:
    """What differs: brief, figures by step, remarks."""
    heads = (_("Version {number}").format(number=one), _("Version {number}").format(number=other))
    parts: list[Markup] = []
    if found.verdicts[0] and found.verdicts[1]:
        parts.append(
            el(
                "p",
                level(found.verdicts[0].value, word=level_word(found.verdicts[0].value)),
                " → ",
                level(found.verdicts[1].value, word=level_word(found.verdicts[1].value)),
            )
        )
    brief = [(change.where, _text(change.before), _text(change.after)) for change in found.fields]
    if found.model[0] != found.model[1]:
        brief.append((_("the model"), (found.model[0] or "–")[:8], (found.model[1] or "–")[:8]))
    parts.append(_table(_("Brief"), heads, brief) if brief else el("p", _("The briefs say the same.")))
    if not found.worked:
        parts.append(el("p", _("Not both were worked through: only the briefs can be compared."), class_="muted"))
    for name in dict.fromkeys(change.step for change in found.figures):
        rows = [
            (
                spoken(change.help or change.name.replace("_", " ")),
                shown.value(change.before, change.unit, change.digits, name=change.name),
                shown.value(change.after, change.unit, change.digits, name=change.name),
            )
            for change in found.figures
            if change.step == name
        ]
        parts.append(_table(_(step_of(name).title), heads, rows))
    parts += [
        _remarks(_("Remarks that are gone"), found.gone),
        _remarks(_("Remarks that are new"), found.new),
        _remarks(_("Remarks that say something else now"), tuple(pair[1] for pair in found.changed)),
    ]
    return el("section", el("h2", _("What differs")), parts, class_="difference")


def _table(title: str, heads: tuple[str, str], rows: list[tuple[str, str, str]]) -> Markup:
    head = el("thead", el("tr", el("td"), [el("th", word, scope="col") for word in heads]))
    body = [el("tr", el("th", name, scope="row"), el("td", before), el("td", after)) for name, before, after in rows]
    return el("table", el("caption", title), head, el("tbody", body), class_="side-by-side")


def _remarks(title: str, found: tuple[dict[str, Any], ...]) -> Markup:
    if not found:
        return el("p", f"{title}: ", _("none"), class_="muted")
    rows = [
        el("li", level(one["level"], word=level_word(one["level"])), el("p", says(one["step"], one)), class_="remark")
        for one in found
    ]
    return el("div", el("h3", title), el("ul", rows, class_="remarks"))


def _text(value: Any) -> str:
    if value is None:
        return "–"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
