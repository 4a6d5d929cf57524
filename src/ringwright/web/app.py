"""The app: which page answers to which address, and what is said when a page cannot."""

from __future__ import annotations

import contextlib
import importlib.util
import sys
import traceback
from collections.abc import AsyncIterator
from functools import cache
from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Route

from ringwright.desk import shelf as desk
from ringwright.desk.shelf import Shelf
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.web.forms import posted
from ringwright.web.frame import refused
from ringwright.web.guard import UPLOAD_PATH, Guard
from ringwright.web.pages import bench, brief, commission, door, facts, new, papers, versions, workshop
from ringwright.web.passphrase import Door
from ringwright.words import _
from ringwright.words.sentences import spoken

LOOK = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
THREE = "three.js"
"""The library that draws in three dimensions; it comes with a package of Python and is served from there."""


def make_app(shelf: Shelf, *, door: Door | None = None, names: frozenset[str] | None = None) -> Guard:
    """The app of an open shelf; ``door`` where it is open to the network."""
    app = Starlette(
        routes=_routes(),
        exception_handlers={BadInput: _bad_input, 404: _missing, 405: _missing, Exception: _failed},
        lifespan=_lifespan,
    )
    app.state.shelf, app.state.door, app.state.looks = shelf, door, new.Looks()
    return Guard(app, door=door, names=names)


def _routes() -> list[Route]:
    one = "/c/{key}"
    return [
        Route("/", bench.bench),
        Route("/login", door.show),
        Route("/login", posted(door.enter), methods=["POST"]),
        Route("/logout", posted(door.leave), methods=["POST"]),
        Route("/new", new.show),
        Route("/new", posted(new.create), methods=["POST"]),
        Route(UPLOAD_PATH, new.look, methods=["POST"]),
        Route("/models/{digest}/picture", new.picture),
        Route("/pictures/{digest}", papers.picture),
        Route(one, commission.show),
        Route(f"{one}/steps", commission.steps),
        Route(f"{one}/scene", commission.fields_of),
        Route(f"{one}/making", commission.making),
        Route(f"{one}/work", posted(commission.work), methods=["POST"]),
        Route(f"{one}/stop", posted(commission.stop), methods=["POST"]),
        Route(f"{one}/state", posted(commission.state), methods=["POST"]),
        Route(f"{one}/brief", brief.show),
        Route(f"{one}/brief", posted(brief.save), methods=["POST"]),
        Route(f"{one}/gates", posted(brief.gates), methods=["POST"]),
        Route(f"{one}/volume/{{step}}/{{name}}", commission.volume),
        Route(f"{one}/versions", versions.show),
        Route(f"{one}/papers", papers.show),
        Route(f"{one}/file/{{name:path}}", papers.file),
        Route("/check", posted(brief.check), methods=["POST"]),
        Route("/workshop", workshop.show),
        Route("/workshop", posted(workshop.save), methods=["POST"]),
        Route("/facts", facts.show),
        Route("/look/{name}", look),
    ]


def look(request: Request) -> Response:
    """A file of the look: style sheet, scripts, the mark; no other file."""
    name = request.path_params["name"]
    found = _look().get(name)
    if found is None:
        return PlainTextResponse(spoken("There is no such file."), 404)
    content, tag = found
    headers = {"cache-control": "no-cache", "etag": tag}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=LOOK[name.rpartition(".")[2]], headers=headers)


@cache
def _look() -> dict[str, tuple[bytes, str]]:
    """The files of the look, read once: content and tag."""
    import hashlib

    found = {
        one.name: one.read_bytes()
        for one in (files("ringwright.web") / "look").iterdir()
        if one.name.rpartition(".")[2] in LOOK
    }
    found[THREE] = three_path().read_bytes()
    return {name: (content, f'"{hashlib.sha256(content).hexdigest()[:20]}"') for name, content in found.items()}


def three_path() -> Path:
    """Where the drawing library lies; its package is not imported for that."""
    spec = importlib.util.find_spec("nicegui")
    assert spec is not None and spec.submodule_search_locations
    return Path(spec.submodule_search_locations[0]) / "elements" / "scene" / "dist" / "index.js"


@contextlib.asynccontextmanager
async def _lifespan(app: Starlette) -> AsyncIterator[None]:
    desk.warm_up(app.state.shelf)
    yield


def _bad_input(request: Request, fault: Exception) -> HTMLResponse:
    assert isinstance(fault, BadInput)
    return refused(request, fault.mistakes, 404 if request.method == "GET" else 422)


def _missing(request: Request, fault: Exception) -> HTMLResponse:
    status = getattr(fault, "status_code", 404)
    return refused(request, [Mistake("", _("there is no such page"), _("begin at the bench"))], status)


def _failed(request: Request, fault: Exception) -> HTMLResponse:
    traceback.print_exception(fault, file=sys.stderr)
    said = _("Ringwright itself failed ({kind})").format(kind=type(fault).__name__)
    return refused(request, [Mistake("", said, _("what was saved before stands; try again"))], 500)
