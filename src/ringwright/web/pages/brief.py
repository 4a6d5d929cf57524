"""Changing a brief: as a form, or as the text itself; two who save at once are told of each other."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from ringwright.desk import shelf as desk
from ringwright.desk.reading import commission_in, workshop_in
from ringwright.desk.shelf import CommissionVersion, Conflict, Shelf
from ringwright.terms.mistake import BadInput, Mistake, bad
from ringwright.web import fields
from ringwright.web.forms import Form, number, text, whole
from ringwright.web.frame import field_of, heading, line_of, mistakes, page
from ringwright.web.html import Child, Markup, el, joined
from ringwright.web.pages import form as forms
from ringwright.words import _, marked, numbers
from ringwright.words.sentences import spoken

TITLES = {
    "commission": marked("Commission"),
    "finger": marked("Finger"),
    "metal": marked("Metal"),
    "stone": marked("Stone"),
    "model": marked("Model"),
    "starter": marked("Starter shape, where nothing is drawn yet"),
    "tree": marked("Tree and flask"),
    "thermocouple": marked("Thermocouple log of your own"),
    "mark": marked("Marks"),
    "price": marked("Price"),
}
FIRST = (
    "number", "title", "market", "currency", "due", "size", "system", "alloy", "cut", "material", "length", "width",
    "depth", "setting", "flask", "sponsor", "text", "budget", "compare",
)  # fmt: skip


def by(form: Form) -> str:
    """Who saves, in words for other pages."""
    opened = text(form, "opened")[:20]
    return f"the page opened {opened}" if opened else "a page"


def show(request: Request) -> HTMLResponse:
    """The brief of a commission, to be changed."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    head = desk.commission(shelf, key)
    stones = request.query_params.get("stones", "")
    return _page(request, head, head.text, head.number, stones=int(stones) if stones.isdecimal() else None)


def save(request: Request, form: Form) -> Response:
    """Save what the form or the text says, and begin to work it through."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    head = desk.commission(shelf, key)
    based_on = number(form, "based_on") or head.number
    began = desk.commission(shelf, key, based_on)
    written = whole(form, "text") if "text" in form else None
    values = forms.values(form)
    try:
        new = written if written is not None else fields.changed(began.text, values)
        if "remove" in form:
            new = fields.without_stone(new, number(form, "remove") or 0)
        desk.save_commission(shelf, key, new, based_on=based_on, by=by(form))
    except Conflict as fault:
        return _conflict(request, key, fault, new)
    except BadInput as fault:
        told = written if written is not None else began.text
        return _page(request, head, told, based_on, fault=fault, values=values)
    desk.start_making(shelf, key)
    return RedirectResponse(f"/c/{quote(key)}", 303)


def gates(request: Request, form: Form) -> Response:
    """Save the gates and feeders that were chosen on the ring, and begin to work it through."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    based_on = number(form, "based_on") or desk.commission(shelf, key).number
    feeders = _places(text(form, "feeders")) if "feeders" in form else []
    new = desk.text_with_gates(shelf, key, based_on, _places(text(form, "points")), feeders)
    try:
        desk.save_commission(shelf, key, new, based_on=based_on, by=by(form))
    except Conflict as fault:
        return _conflict(request, key, fault, new)
    desk.start_making(shelf, key)
    return RedirectResponse(f"/c/{quote(key)}", 303)


def _places(told: str) -> list[tuple[float, float, float]]:
    """Places that a page sends: a list of three numbers each."""
    try:
        found = json.loads(told)
        if isinstance(found, list):
            return [(float(x), float(y), float(z)) for x, y, z in found]
        raise ValueError
    except (ValueError, TypeError, RecursionError) as fault:
        raise bad("points", "they are no places on the ring", "choose the gates on the ring again") from fault


def check(request: Request, form: Form) -> Response:  # noqa: ARG001 - every form's page is handed both
    """What is wrong in a text, line by line, while it is written."""
    name = text(form, "name")[:80] or "text"
    try:
        if text(form, "kind") == "workshop":
            workshop_in(whole(form, "text"), name)
        else:
            commission_in(whole(form, "text"), name)
    except BadInput as fault:
        return JSONResponse([_told(one) for one in fault.mistakes])
    return JSONResponse([])


def _told(one: Mistake) -> dict[str, str | int | None]:
    line = line_of(one.where)
    return {
        "line": int(line) if line else None,
        "field": field_of(one.where),
        "what": spoken(one.what),
        "right": spoken(one.right),
    }


def _page(
    request: Request,
    head: CommissionVersion,
    content: str,
    based_on: int,
    *,
    stones: int | None = None,
    fault: BadInput | None = None,
    values: Mapping[str, str] | None = None,
) -> HTMLResponse:
    """Both ways to change a brief, with what is wrong."""
    shelf: Shelf = request.app.state.shelf
    key = head.key
    wrong = (
        {_place(one): f"{spoken(one.what)}; {spoken(one.right)}" for one in fault.mistakes if field_of(one.where)}
        if fault
        else {}
    )
    common = joined(
        el("input", type="hidden", name="based_on", value=based_on),
        el("input", type="hidden", name="opened", value=_opened()),
    )
    try:
        asked = fields.fields(content, stones if not values else max(stones or 0, _stones(values)))
        parts: Child = _sections(asked, forms.suggestions(shelf), wrong, values or {})
    except BadInput as broken:
        parts = mistakes(broken.mistakes, heading=_("The text must be mended before it can be shown as a form:"))
    count = sum(name.startswith("stone.") for name in (asked if isinstance(parts, list) else ()))
    form = el(
        "form",
        common,
        parts,
        el(
            "p",
            el("button", _("Save and work through"), class_="button"),
            el("a", _("Add a stone"), href=f"/c/{quote(key)}/brief?stones={count + 1}"),
            class_="doings",
        ),
        method="post",
        class_="brief",
    )
    body = el(
        "form",
        common,
        editor(content, "commission", f"{key}.commission.toml", _("The brief as a text")),
        el("p", el("button", _("Save the text and work through"), class_="button"), class_="doings"),
        method="post",
    )
    in_text = fault is not None and not values
    return page(
        request,
        _("Brief of {title}").format(title=head.title or key),
        heading(
            _("Brief of {title}").format(title=head.title or key),
            el("a", _("Back to the commission"), href=f"/c/{quote(key)}"),
            el("span", _("version {number}, saved {when} by {who}").format(
                number=head.number, when=numbers.moment(head.saved_at), who=spoken(head.by)), class_="muted"),
        ),
        mistakes(fault.mistakes) if fault else None,
        el("details", el("summary", _("As a form")), form, open=not in_text, class_="way"),
        el("details", el("summary", _("As a text")), body, open=in_text, class_="way"),
        scripts=("editor",),
        status=422 if fault else 200,
    )  # fmt: skip


def _sections(
    asked: Mapping[str, list[fields.Field]],
    known: forms.Suggestions,
    wrong: Mapping[str, str],
    values: Mapping[str, str],
) -> list[Markup]:
    """The tables of a brief as fieldsets; what was sent and not taken stands in its field still."""
    found = []
    for name, listed in asked.items():
        there = [replace(field, value=values.get(field.place, field.value)) for field in listed]
        first, rest = forms.groups(there, FIRST if any(field.value for field in there) or "." in name else ())
        if name in ("model", "starter", "mark", "tree", "thermocouple", "price") and not any(
            field.value for field in there
        ):
            title = el("summary", _(TITLES[name]))
            found.append(el("details", title, forms.section(_(TITLES[name]), there, known, wrong), class_="unused"))
            continue
        kind, _dot, number = name.partition(".")
        title_ = f"{_(TITLES[kind])} {int(number) + 1}" if number else _(TITLES[kind])
        out = (
            el(
                "label",
                el("input", type="checkbox", name="remove", value=number),
                _("take this stone out"),
                class_="tick",
            )
            if number and any(field.value for field in there)
            else joined()
        )
        found.append(forms.section(title_, first, known, wrong, forms.more(rest, known, wrong), out))
    return found


def editor(content: str, kind: str, name: str, label: str) -> Markup:
    """A text with numbers at its lines; what is wrong is told beside while it is written."""
    return el(
        "div",
        el("label", label, for_=f"text-{kind}"),
        el(
            "textarea",
            f"\n{content}",
            id=f"text-{kind}",
            name="text",
            rows=min(40, content.count("\n") + 4),
            spellcheck="false",
            autocomplete="off",
            data_kind=kind,
            data_name=name,
            class_="toml",
        ),
        el("ul", class_="told-lines", aria_live="polite"),
        class_="editor",
    )


def _conflict(request: Request, key: str, fault: Conflict, mine: str) -> HTMLResponse:
    """Another page saved first: both texts, and what can be done; nothing is lost."""
    head = fault.head
    changed = el("ul", [el("li", one) for one in fault.changed]) if fault.changed else None
    keep = el(
        "form",
        el("input", type="hidden", name="based_on", value=head.number),
        el("input", type="hidden", name="opened", value=_opened()),
        editor(mine, "commission", f"{key}.commission.toml", _("What you wrote; change it as you need, then save")),
        el("p", el("button", _("Save mine upon version {number}").format(number=head.number), class_="button"),
           el("a", _("Leave mine, take theirs"), href=f"/c/{quote(key)}"), class_="doings"),
        method="post",
        action=f"/c/{quote(key)}/brief",
    )  # fmt: skip
    theirs = el(
        "div",
        el("h2", _("What was saved meanwhile (version {number})").format(number=head.number)),
        el("pre", head.text, tabindex="0"),
    )
    return page(
        request,
        _("Saved elsewhere meanwhile"),
        el("h1", _("Saved elsewhere meanwhile")),
        mistakes(fault.mistakes, heading=_("Nothing of yours was saved, and nothing is lost:")),
        el("p", _("What they changed:")) if changed else None,
        changed,
        el("div", el("div", keep), theirs, class_="two"),
        scripts=("editor",),
        status=409,
    )


def _place(one: Mistake) -> str:
    """A field's place as the form names it: ``stone[2].length`` is stone.1.length."""
    return re.sub(r"\[(\d+)\]", lambda found: f".{int(found[1]) - 1}", field_of(one.where))


def _stones(values: Mapping[str, str]) -> int:
    numbers = [int(place.split(".")[1]) for place in values if place.startswith("stone.")]
    return max(numbers, default=-1) + 1


def _opened() -> str:
    return f"{dt.datetime.now():%H:%M:%S}"
