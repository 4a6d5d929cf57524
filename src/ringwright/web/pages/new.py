"""A new commission: a form that asks little, filled from a dropped model where there is one."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote, unquote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from ringwright.desk import asking
from ringwright.desk import shelf as desk
from ringwright.desk.reading import workshop_in
from ringwright.desk.shelf import ModelKept, Shelf
from ringwright.terms.mistake import BadInput, bad
from ringwright.web import fields, shown
from ringwright.web.forms import Form, text
from ringwright.web.frame import field_of, heading, level_word, mistakes, page
from ringwright.web.html import Markup, el, level
from ringwright.web.pages import form as forms
from ringwright.web.pages.brief import by
from ringwright.web.pages.drawn import says
from ringwright.words import _, facts

ASKED = ("commission.number", "commission.title", "commission.market", "commission.currency", "commission.due",
         "finger.size", "finger.system", "metal.alloy")  # fmt: skip
STONE = ("name", "cut", "material", "length", "width", "depth", "setting", "owner")
STARTER = ("shape", "section", "width", "thickness", "claws")
_REMEMBERED = 30


@dataclass(frozen=True)
class Looked:
    """A model that was dropped: where it is kept, its first figures, and its picture."""

    model: ModelKept
    figures: Mapping[str, Any]
    picture: bytes | None


class Looks:
    """The models that were looked at last, by the hash of their content. Safe to call from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._found: OrderedDict[str, Looked] = OrderedDict()

    def put(self, looked: Looked) -> None:
        """Remember a look."""
        with self._lock:
            self._found[looked.model.digest] = looked
            while len(self._found) > _REMEMBERED:
                self._found.popitem(last=False)

    def get(self, digest: str) -> Looked:
        """The look at a model. Raises ``BadInput`` where it is no longer remembered."""
        with self._lock:
            found = self._found.get(digest)
        if found is None:
            raise bad("model", "it is no longer at hand", "drop the file again")
        return found


async def look(request: Request) -> Response:
    """Take a dropped file, look at it, keep it, and say where its first figures stand."""
    data = await request.body()
    name = unquote(request.headers.get("x-file-name", "model"))[:200]
    try:
        found = await run_in_threadpool(_looked, request.app.state.shelf, data, name)
    except BadInput as fault:
        one = fault.mistakes[0]
        return JSONResponse({"where": one.where, "what": one.what, "right": one.right}, 422)
    request.app.state.looks.put(found)
    return JSONResponse({"go": f"/new?model={found.model.digest}"})


def _looked(shelf: Shelf, data: bytes, name: str) -> Looked:
    figures = desk.look_at_model(shelf, data, name)
    return Looked(desk.keep_model(shelf, data, name), figures, figures.pop("picture"))


def picture(request: Request) -> Response:
    """The picture of a dropped model."""
    looked: Looked = request.app.state.looks.get(request.path_params["digest"])
    if looked.picture is None:
        raise bad("picture", "the model has none", "look at its figures")
    return Response(looked.picture, media_type="image/png", headers={"cache-control": "private, max-age=86400"})


def show(request: Request) -> HTMLResponse:
    """The form of a new commission."""
    digest = request.query_params.get("model", "")
    looked: Looked | None = request.app.state.looks.get(digest) if digest else None
    return _page(request, looked, {})


def create(request: Request, form: Form) -> Response:
    """Make the commission, begin to work it through, and show it."""
    shelf: Shelf = request.app.state.shelf
    digest = text(form, "model")
    looked: Looked | None = request.app.state.looks.get(digest) if digest else None
    values = {place: told for place, told in forms.values(form).items() if told.strip()}
    if looked is not None:
        values = {place: told for place, told in values.items() if not place.startswith("starter.")}
        values["model.file"] = looked.model.name
    if not any(
        place.startswith("stone.0.") and place.rpartition(".")[2] in ("cut", "material", "length") for place in values
    ):
        values = {place: told for place, told in values.items() if not place.startswith("stone.")}
    try:
        new = fields.changed("", values)
        made = desk.create_commission(shelf, new, by=by(form), model=looked.model if looked else None)
    except BadInput as fault:
        return _page(request, looked, values, fault)
    try:
        desk.start_making(shelf, made.key)
    except BadInput:
        return RedirectResponse(f"/c/{quote(made.key)}/brief", 303)
    return RedirectResponse(f"/c/{quote(made.key)}", 303)


def _page(
    request: Request, looked: Looked | None, values: Mapping[str, str], fault: BadInput | None = None
) -> HTMLResponse:
    shelf: Shelf = request.app.state.shelf
    known = forms.suggestions(shelf)
    wrong = (
        {field_of(one.where).replace("[1]", ".0"): f"{one.what}; {one.right}" for one in fault.mistakes}
        if fault
        else {}
    )
    there = _first(shelf) | dict(values)
    every = {
        one.place: replace(one, value=there.get(one.place, ""))
        for part in fields.fields("", 1).values()
        for one in part
    }

    def asked(places: list[str]) -> list[Markup]:
        return [forms.control(every[place], known, wrong) for place in places]

    stone = asked([f"stone.0.{key}" for key in STONE])
    starter = asked([f"starter.{key}" for key in STARTER])
    title = el("legend", _("Starter shape, where nothing is drawn yet"))
    drawn = el("fieldset", title, starter) if looked is None else None
    form = el(
        "form",
        el("input", type="hidden", name="model", value=looked.model.digest) if looked else None,
        el("fieldset", el("legend", _("The commission")), asked(list(ASKED))),
        el("fieldset", el("legend", _("Model")), _model_fields(looked, asked)),
        drawn,
        el("details", el("summary", _("A stone")), el("fieldset", el("legend", _("Stone")), stone),
           open=any(place.startswith("stone.") for place in values)),
        el("p", el("button", _("Begin, and work it through"), class_="button"), class_="doings"),
        method="post",
        action="/new",
        class_="brief",
    )  # fmt: skip
    return page(
        request,
        _("New commission"),
        heading(_("New commission")),
        mistakes(fault.mistakes) if fault else None,
        el("div", form, _figures(looked) if looked else None, class_="two" if looked else None),
        scripts=("drop",),
        status=422 if fault else 200,
    )


def _model_fields(looked: Looked | None, asked: Any) -> Any:
    if looked is None:
        return el(
            "p",
            el("label", _("Drop a model anywhere on the page, or choose its file:"), for_="model-file"),
            " ",
            el("input", type="file", id="model-file", accept=".stl,.3mf,.obj,.ply,.glb,.gltf,.step,.stp"),
            class_="hint",
        )
    return [el("p", el("strong", looked.model.name)), *asked(["model.units", "model.state"])]


def _first(shelf: Shelf) -> dict[str, str]:
    """What most likely stands in a new commission: the workshop's currency, and what the last one had."""
    found: dict[str, str] = {"stone.0.name": "centre"}
    with suppress(BadInput):
        found["commission.currency"] = workshop_in(desk.workshop(shelf).text, "workshop.toml").shop.currency
    cards = desk.cards(shelf)
    if cards:
        newest = max(cards, key=lambda card: card.saved_at)
        try:
            last = fields.fields(desk.commission(shelf, newest.key).text)
        except BadInput:
            return found
        by_place = {one.place: one.value for part in last.values() for one in part}
        found |= {place: by_place.get(place, "") for place in ("commission.market", "finger.system")}
    return found


def _figures(looked: Looked) -> Markup:
    """The first figures of a dropped model."""
    told = looked.figures
    hole = told["hole"]
    digest = looked.model.digest
    rows = [
        (_("File"), told["name"]),
        (_("Unit"), f"{told['units']} ({told['units_from']})"),
        (_("Closed as drawn"), _("yes") if told["closed"] else _("no")),
        (_("Mended"), "; ".join(told["mended"]) or _("nothing")),
        (_("Size"), " × ".join(shown.bare(one, 2) for one in told["extent_mm"]) + " mm"),
        (_("Volume"), shown.value(told["volume_mm3"], "mm3", 1)),
        (_("Finger hole"), shown.value(hole["diameter_mm"], "mm", 2) if hole else _("none found")),
        (_("Triangles"), shown.bare(told["triangles"], 0)),
    ]
    titles = {str(row["key"]): facts.said("alloys", "title", str(row["title"])) for row in asking.table("alloys")}
    masses = [
        el("tr", el("th", titles.get(key, key), scope="row"),
           el("td", shown.value(mass, "g", 2), class_="number"), el("td", shown.beside(mass, "g"), class_="number"))
        for key, mass in told["mass_g"].items()
    ]  # fmt: skip
    remarks = [
        el("li", level(one["level"], word=level_word(one["level"])), el("p", says("piece", one)), class_="remark")
        for one in told["remarks"]
    ]
    return el(
        "aside",
        el("h2", _("What was drawn")),
        el("img", src=f"/models/{digest}/picture", alt=_("The model, seen aslant"), class_="look")
        if looked.picture is not None
        else None,
        el("dl", [el("div", el("dt", name), el("dd", value)) for name, value in rows], class_="figures"),
        el("ul", remarks, class_="remarks") if remarks else None,
        el("details", el("summary", _("Mass in each alloy")), el("table", el("tbody", masses))),
        class_="looked",
    )
