"""A commission: the ring to be turned, and beside it the steps in the order of the making."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from urllib.parse import quote, urlencode

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from ringwright.desk import shelf as desk
from ringwright.desk.shelf import CommissionVersion, DossierKept, Shelf, Stage, State, Status
from ringwright.papers import voxelfiles
from ringwright.papers.meshfiles import SCALE, UNKNOWN
from ringwright.terms.mistake import BadInput, bad
from ringwright.web.forms import Form, text
from ringwright.web.frame import heading, page
from ringwright.web.html import Markup, el, shape
from ringwright.web.pages import drawn
from ringwright.web.pages.ring import viewer
from ringwright.words import _, numbers
from ringwright.words.sentences import spoken

Data = dict[str, Any]


def show(request: Request) -> HTMLResponse:
    """The page of a commission."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    desk.take_up(shelf)
    head = desk.commission(shelf, key)
    job = newest_job(shelf, key)
    dossier = desk.dossier(shelf, key)
    path = f"/c/{quote(key)}"
    due = el("span", _("promised {day}").format(day=numbers.day(head.due)), class_="muted") if head.due else None
    return page(
        request,
        head.title or key,
        heading(
            head.title or key,
            el("span", head.order_number or key, class_="number-of"),
            due,
            el("nav", _ways(path), aria_label=_("This commission"), class_="ways"),
        ),
        mistakes_of(head),
        el("div", id="news", role="status"),
        el("div", viewer(), steps_box(shelf, head, job, dossier), class_="commission"),
        _closing(head, path),
        scripts=("ring", "commission"),
        ahead=[body["url"] for body in scene(key, dossier).get("bodies", [])[:1]],
        wide=True,
    )


def _ways(path: str) -> list[Markup]:
    ways = (("brief", _("Change the brief")), ("versions", _("Versions")), ("papers", _("Papers")))
    return [el("a", word, href=f"{path}/{name}") for name, word in ways]


def mistakes_of(head: CommissionVersion) -> Markup | None:
    """What is wrong in the text of a version, where it cannot be read."""
    if not head.mistakes:
        return None
    return el(
        "div",
        el("p", shape("halt"), el("span", _("The brief cannot be read:")), class_="level level-halt"),
        el("ul", [el("li", spoken(one)) for one in head.mistakes]),
        class_="mistakes",
        role="alert",
    )


def newest_job(shelf: Shelf, key: str) -> Status | None:
    """The making of this commission that was begun last."""
    return next((one for one in desk.makings(shelf) if one.key == key), None)


def steps(request: Request) -> HTMLResponse:
    """The steps alone, to take the place of those that a page shows."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    head = desk.commission(shelf, key)
    return HTMLResponse(steps_box(shelf, head, newest_job(shelf, key), desk.dossier(shelf, key)))


def steps_box(shelf: Shelf, head: CommissionVersion, job: Status | None, dossier: DossierKept | None) -> Markup:
    """Verdict, progress, and each step; ``data-scene`` tells the viewer what to show."""
    figures = desk.making_figures(shelf, job.job) if job is not None and job.version == head.number else None
    fresh = figures is not None and (
        dossier is None or dossier.version != head.number or job is None or not job.stage.over
    )
    data, other = (figures, None) if fresh else kept_data(shelf, head.key, dossier)
    version = head.number if fresh else dossier.version if dossier else None
    stale = next((one.stale for one in desk.cards(shelf, head.state) if one.key == head.key), "")
    current = data is not None and version == head.number and not stale
    parts: list[Markup | None] = [drawn.progress(head, job, current=current)]
    if data is None:
        parts.append(other or el("p", _("Not worked through yet."), class_="muted"))
    else:
        # What is being worked, or must be, stands first; where all is current, what it says does.
        top = 0 if current and (job is None or job.stage is Stage.DONE) else len(parts)
        parts.insert(top, drawn.summary(data, version, head, stale if not fresh else ""))
        names = {name for name, _size in dossier.files} if dossier is not None and not fresh else set()
        parts.insert(top + 1, drawn.papers_of(names, f"/c/{quote(head.key)}"))
        parts += [drawn.step(name, part, _currency(data)) for name, part in data["steps"].items()]
    return el(
        "section",
        parts,
        id="steps",
        aria_label=_("The steps of the making"),
        data_scene=scene(head.key, dossier),
        data_made=dossier.made_at.isoformat() if dossier else "",
        data_head=head.number,
        data_job=job.job if job is not None and not job.stage.over else "",
    )


def kept_data(shelf: Shelf, key: str, dossier: DossierKept | None) -> tuple[Data | None, Markup | None]:
    """The data of a dossier, where there is one; or what is said instead, where another version worked it."""
    if dossier is None:
        return None, None
    try:
        return desk.dossier_data(shelf, key, dossier.version), None
    except BadInput:
        says = _("These figures were worked by another version of Ringwright: work the commission through anew.")
        return None, el("p", shape("heed"), el("span", says), class_="level level-heed")


def scene(key: str, dossier: DossierKept | None) -> Data:
    """What the viewer shows: the ring's file, the fields with their files, the colour scale."""
    if dossier is None:
        return {}
    names = {name for name, _size in dossier.files}
    return {
        "bodies": [
            {"name": name.removesuffix(".glb"), "title": title, "url": file_path(key, name, dossier)}
            for name, title in (("ring.glb", _("Ring")), ("tree.glb", _("Tree in its flask")))
            if name in names
        ],
        "fieldsUrl": f"/c/{quote(key)}/scene?{urlencode({'version': dossier.version})}",
        "scale": SCALE,
        "unknown": UNKNOWN,
    }


def fields_of(request: Request) -> JSONResponse:
    """The fields of a dossier that have a file, with title, unit and ends; the flask and the gates, where there are."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    dossier = desk.dossier(shelf, key, version_of(request))
    data, _other = kept_data(shelf, key, dossier)
    if dossier is None or data is None:
        return JSONResponse({"fields": [], "flask": None, "gates": [], "feeders": [], "head": 0})
    names = {name for name, _size in dossier.files}
    steps = data["steps"]
    found = []
    for step, part in steps.items():
        inside = voxelfiles.labels(_volumes(shelf, key, step, dossier)) if _volume_file(step) in names else ()
        for field in part["fields"]:
            name, title, of = f"fields/{step}-{field['name']}.glb", field["title"], part["title"]
            if name not in names:
                continue
            about = {"title": spoken(title), "step": _(of), "url": file_path(key, name, dossier)}
            if voxelfiles.label(title, field["unit"]) in inside:
                about["volume"] = _made_path(f"/c/{quote(key)}/volume/{step}/{quote(field['name'])}", dossier)
            found.append({**field, **about})
    told = {one["name"]: one["value"] for one in steps.get("tree", {"figures": []})["figures"]}
    flask = {name: told.get(f"flask_{name}") for name in ("diameter_mm", "height_mm")}
    return JSONResponse(
        {
            "fields": found,
            "flask": flask if all(flask.values()) else None,
            "gates": [asdict(one) for one in desk.gates_of(data)],
            "feeders": [asdict(one) for one in desk.feeders_of(data)],
            "head": desk.commission(shelf, key).number,
        }
    )


def volume(request: Request) -> Response:
    """A figure inside the metal, in a compact form for the section."""
    shelf: Shelf = request.app.state.shelf
    key, step, name = (request.path_params[part] for part in ("key", "step", "name"))
    dossier = desk.dossier(shelf, key, version_of(request))
    data, _other = kept_data(shelf, key, dossier)
    fields = data["steps"].get(step, {"fields": []})["fields"] if data is not None else []
    field = next((one for one in fields if one["name"] == name), None)
    if dossier is None or field is None:
        raise bad("volume", f"there is no figure '{name[:60]}' inside the metal", "open the commission again")
    given = voxelfiles.array(_volumes(shelf, key, step, dossier), voxelfiles.label(field["title"], field["unit"]))
    headers = {"cache-control": "private, max-age=86400" if "made" in request.query_params else "no-cache"}
    return Response(voxelfiles.compact(given), media_type="application/octet-stream", headers=headers)


def _volume_file(step: str) -> str:
    return f"fields/{step}.vti"


def _volumes(shelf: Shelf, key: str, step: str, dossier: DossierKept) -> bytes:
    return desk.dossier_file(shelf, key, _volume_file(step), dossier.version)


def file_path(key: str, name: str, dossier: DossierKept, *, download: bool = False) -> str:
    """Where a file of a dossier is got; another making has another address, so that it may be kept by the browser."""
    return _made_path(f"/c/{quote(key)}/file/{quote(name)}", dossier, **({"download": 1} if download else {}))


def _made_path(path: str, dossier: DossierKept, **more: Any) -> str:
    """An address of what one making yielded."""
    query = {"version": dossier.version, "made": f"{dossier.made_at:%Y%m%dT%H%M%S%f}"} | more
    return f"{path}?{urlencode(query)}"


def work(request: Request, form: Form) -> Response:  # noqa: ARG001 - every form's page is handed both
    """Begin to work the commission through."""
    key = request.path_params["key"]
    desk.start_making(request.app.state.shelf, key)
    return RedirectResponse(f"/c/{quote(key)}", 303)


def stop(request: Request, form: Form) -> Response:
    """Stop the making that a page names."""
    key = request.path_params["key"]
    desk.stop_making(request.app.state.shelf, text(form, "job"))
    return RedirectResponse(f"/c/{quote(key)}", 303)


def state(request: Request, form: Form) -> Response:
    """Close a commission or open it again."""
    key = request.path_params["key"]
    desk.set_state(request.app.state.shelf, key, State.OPEN if text(form, "state") == "open" else State.CLOSED)
    return RedirectResponse("/", 303)


def making(request: Request) -> JSONResponse:
    """How the newest making of a commission goes, and which version and dossier there are now."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    head = desk.commission(shelf, key)
    job = newest_job(shelf, key)
    dossier = desk.dossier(shelf, key)
    return JSONResponse(
        {
            "head": head.number,
            "by": spoken(head.by),
            "made": dossier.made_at.isoformat() if dossier else "",
            "job": None
            if job is None
            else {
                "name": job.job,
                "version": job.version,
                "stage": job.stage.value,
                "over": job.stage.over,
                "share": job.share,
                "doing": spoken(job.doing),
                "step": job.step,
                "worked": job.worked,
                "kept": job.kept,
                "figures": desk.making_figures(shelf, job.job) is not None,
                "html": drawn.progress(head, job),
            },
        }
    )


def _closing(head: CommissionVersion, path: str) -> Markup:
    word, wanted = (_("Close this commission"), "closed") if head.state is State.OPEN else (_("Open it again"), "open")
    return el(
        "form",
        el("input", type="hidden", name="state", value=wanted),
        el("button", word, class_="quiet"),
        method="post",
        action=f"{path}/state",
        class_="closing",
    )


def _currency(data: Data) -> str:
    found: str = data["commission"]["commission"]["currency"]
    return found


def version_of(request: Request) -> int | None:
    """The version that an address names; None where it names none."""
    told = request.query_params.get("version", "")
    if told and (not told.isdecimal() or len(told) > 9):
        raise bad("version", f"'{told[:20]}' is no number of a version", "open the commission's versions")
    return int(told) if told else None
