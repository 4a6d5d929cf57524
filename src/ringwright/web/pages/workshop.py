"""The workshop: tools, stock and rates, as the text that they are kept in."""

from __future__ import annotations

import datetime as dt

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from ringwright.desk import shelf as desk
from ringwright.desk.shelf import Conflict, Shelf
from ringwright.terms.mistake import BadInput
from ringwright.web.forms import Form, number, whole
from ringwright.web.frame import heading, mistakes, page
from ringwright.web.html import el, level
from ringwright.web.pages.brief import by, editor
from ringwright.words import _, numbers
from ringwright.words.sentences import spoken

FIRST = '[shop]\nname = ""\ncurrency = ""\nhour_rate = ""\n'
"""What the page shows where there is no workshop yet: what a workshop must say at least."""


def show(request: Request) -> HTMLResponse:
    """The workshop's text, to be changed."""
    shelf: Shelf = request.app.state.shelf
    try:
        head = desk.workshop(shelf)
    except BadInput:
        return _page(request, FIRST, None, "")
    saved = _("version {number}, saved {when} by {who}").format(
        number=head.number, when=numbers.moment(head.saved_at), who=spoken(head.by)
    )
    return _page(request, head.text, head.number, saved)


def save(request: Request, form: Form) -> Response:
    """Save the workshop's text."""
    shelf: Shelf = request.app.state.shelf
    content, based_on = whole(form, "text"), number(form, "based_on")
    try:
        desk.save_workshop(shelf, content, based_on=based_on, by=by(form))
    except Conflict as fault:
        return _page(request, content, fault.head.number, "", fault=fault, theirs=fault.head.text, status=409)
    except BadInput as fault:
        return _page(request, content, based_on, "", fault=fault, status=422)
    return RedirectResponse("/workshop?saved=1", 303)


def _page(
    request: Request,
    content: str,
    based_on: int | None,
    saved: str,
    *,
    fault: BadInput | None = None,
    theirs: str | None = None,
    status: int = 200,
) -> HTMLResponse:
    form = el(
        "form",
        el("input", type="hidden", name="based_on", value="" if based_on is None else based_on),
        el("input", type="hidden", name="opened", value=f"{dt.datetime.now():%H:%M:%S}"),
        editor(content, "workshop", "workshop.toml", _("Tools, stock, rates and habits")),
        el("p", el("button", _("Save the workshop"), class_="button"), class_="doings"),
        method="post",
        action="/workshop",
    )
    other = (
        el("div", el("h2", _("What was saved meanwhile")), el("pre", theirs, tabindex="0"))
        if theirs is not None
        else None
    )
    told = el("p", level("fine", word=_("Saved.")), role="status") if "saved" in request.query_params else None
    return page(
        request,
        _("Workshop"),
        heading(_("Workshop"), el("span", saved, class_="muted") if saved else None),
        told,
        mistakes(fault.mistakes) if fault else None,
        el("div", el("div", form), other, class_="two") if other else form,
        scripts=("editor",),
        status=status,
    )
