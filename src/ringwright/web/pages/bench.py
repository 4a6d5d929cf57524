"""The first page: every open commission, those promised first coming first."""

from __future__ import annotations

import datetime as dt
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse

from ringwright.desk import shelf as desk
from ringwright.desk.shelf import Card, Shelf, State
from ringwright.web.frame import heading, level_word, page
from ringwright.web.html import Markup, el, level, shape
from ringwright.web.pages.drawn import says
from ringwright.words import _, numbers
from ringwright.words.sentences import spoken

SOON_DAYS = 7
"""A promise within so many days is marked."""


def bench(request: Request) -> HTMLResponse:
    """The first page."""
    shelf: Shelf = request.app.state.shelf
    closed = request.query_params.get("show") == "closed"
    found = desk.cards(shelf, State.CLOSED) if closed else desk.cards(shelf, State.OPEN)
    busy = {one.key for one in desk.makings(shelf) if not one.stage.over}
    today = dt.date.today()
    other = (
        el("a", _("Open commissions"), href="/")
        if closed
        else el("a", _("Closed commissions"), href="/?show=closed", class_="quiet")
    )
    rows = [_row(card, today, card.key in busy) for card in found]
    title = _("Closed commissions") if closed else _("On the bench")
    return page(
        request,
        _("Closed commissions") if closed else _("Bench"),
        heading(
            title,
            el("span", _count(len(found)), class_="muted"),
            el("nav", other, el("a", _("New commission"), href="/new", class_="button"), class_="ways",
               aria_label=_("Commissions")),
        ),
        _drop_words() if not closed else None,
        el("ul", rows, class_="cards") if rows else _empty(closed=closed),
        scripts=("drop",),
    )  # fmt: skip


def _count(count: int) -> str:
    return _("1 commission") if count == 1 else _("{count} commissions").format(count=count)


def _empty(*, closed: bool) -> Markup:
    """What to do first, where there is nothing yet."""
    if closed:
        return el("p", _("No commission is closed."), class_="empty")
    steps = (
        _("Drop a ring's model on this page, or begin a commission with a starter shape."),
        _("Say finger, alloy, stones and the promised day; Ringwright works the making through."),
        _("See on the ring what would go wrong, change it, and take the cards to the bench."),
    )
    return el(
        "div", el("h2", _("Nothing lies on the bench")), el("ol", [el("li", step) for step in steps]), class_="empty"
    )


def _drop_words() -> Markup:
    """A way to give a model for those who do not drop."""
    return el(
        "p",
        el("label", _("Drop a model anywhere on the page, or choose its file:"), for_="model-file"),
        " ",
        el("input", type="file", id="model-file", accept=".stl,.3mf,.obj,.ply,.glb,.gltf,.step,.stp"),
        class_="hint drop-here",
    )


def _row(card: Card, today: dt.date, busy: bool) -> Markup:
    """One commission: the ring, what is next, and what its making says."""
    dossier = card.dossier
    picture = (
        el("img", src=f"/pictures/{dossier.picture}", alt="", loading="lazy", width="144", height="108")
        if dossier is not None and dossier.picture is not None
        else el("span", shape("ring"), class_="no-picture")
    )
    verdict = "halt" if card.mistakes else dossier.verdict.value if dossier is not None else "none"
    return el(
        "li",
        el("div", picture, class_="picture"),
        el(
            "div",
            el("h2", el("a", card.title or card.key, href=f"/c/{quote(card.key)}")),
            el("p", card.order_number or card.key, class_="number-of"),
            el("p", el("span", _("Promised"), class_="small"), " ", _due(card.due, today), class_="due"),
            class_="what",
        ),
        el(
            "div",
            el("span", _("Next"), class_="small"),
            el("span", _("being worked through") if busy else _next(card), class_="do"),
            class_="next",
        ),
        el("div", _verdict(card), class_="verdict"),
        class_=f"card verdict-{verdict}",
        data_key=card.key,
    )


def _next(card: Card) -> str:
    told = card.next_step
    return spoken(_(told)) if told else _("hand it over")


def _due(due: dt.date | None, today: dt.date) -> Markup:
    if due is None:
        return el("span", _("no day"), class_="muted")
    days = (due - today).days
    if days < 0:
        return el("span", shape("halt"), numbers.day(due), " · ", _("past"), class_="level level-halt")
    if days <= SOON_DAYS:
        return el("span", shape("heed"), numbers.day(due), class_="level level-heed")
    return el("span", numbers.day(due))


def _verdict(card: Card) -> Markup:
    """What the making says, the worst remark first; or why it says nothing."""
    if card.mistakes:
        return el(
            "div",
            level("halt", word=_("cannot be read")),
            el("p", spoken(card.mistakes[0]), class_="worst"),
            class_="says",
        )
    if card.dossier is None:
        return el("span", _("not worked through yet"), class_="muted")
    name = card.dossier.verdict.value
    worst = card.dossier.worst
    return el(
        "div",
        level(name, word=level_word(name)),
        el("span", f" {spoken(card.stale)}", class_="stale") if card.stale else None,
        el("p", says(worst["step"], worst), class_="worst") if worst else None,
        class_="says",
    )
