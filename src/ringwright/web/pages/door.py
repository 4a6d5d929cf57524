"""The door: the passphrase, and leaving."""

from __future__ import annotations

import math

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from ringwright.terms.mistake import Mistake
from ringwright.web.forms import Form, text
from ringwright.web.frame import mistakes, page
from ringwright.web.guard import COOKIE
from ringwright.web.html import el
from ringwright.web.passphrase import Door
from ringwright.words import _


def show(request: Request, wrong: str = "", status: int = 200, onward: str | None = None) -> HTMLResponse:
    """The page that asks for the passphrase."""
    onward = _within(onward or request.query_params.get("next", "/"))
    said = mistakes([Mistake("", wrong, "")], heading=_("Not let in:")) if wrong else None
    form = el(
        "form",
        said,
        el("label", _("Passphrase of this workshop"), for_="passphrase"),
        el(
            "input", type="password", id="passphrase", name="passphrase", autocomplete="current-password", required=True
        ),
        el("input", type="hidden", name="next", value=onward),
        el("button", _("Come in"), class_="button"),
        method="post",
        action="/login",
        class_="narrow",
    )
    return page(request, _("Passphrase"), el("h1", _("Passphrase")), form, status=status)


async def enter(request: Request, form: Form) -> Response:
    """Let in, or say no, later each time."""
    door: Door | None = request.app.state.door
    onward = _within(text(form, "next") or "/")
    if door is None:
        return RedirectResponse(onward, 303)
    client = request.client.host if request.client else ""
    wait = door.wait_s(client)
    if wait > 0:
        return show(request, _("wait {seconds} s before the next try").format(seconds=math.ceil(wait)), 429, onward)
    token = await door.enter(client, text(form, "passphrase"))
    if token is None:
        return show(request, _("that is not the passphrase"), 403, onward)
    response = RedirectResponse(onward, 303)
    response.set_cookie(COOKIE, token, httponly=True, samesite="strict", secure=request.url.scheme == "https")
    return response


async def leave(request: Request, form: Form) -> Response:  # noqa: ARG001
    """End the session."""
    door: Door | None = request.app.state.door
    token = request.cookies.get(COOKIE)
    if door is not None and token:
        door.leave(token)
    response = RedirectResponse("/login" if door is not None else "/", 303)
    response.delete_cookie(COOKIE)
    return response


def _within(path: str) -> str:
    """A path of this app, whatever was asked for."""
    return path if path.startswith("/") and not path.startswith(("//", "/\\")) else "/"
