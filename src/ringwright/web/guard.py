"""What every request passes before a page sees it: host, origin, session, the size of what comes; and the headers.

The app has no sockets; one that is asked for is refused. What is refused here is answered with one plain sentence.
"""

from __future__ import annotations

import socket
from collections.abc import Awaitable, Callable, MutableMapping
from contextlib import suppress
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import quote

from starlette.requests import Request

from ringwright import words
from ringwright.desk.shelf import LARGEST_UPLOAD_BYTES
from ringwright.web.passphrase import Door
from ringwright.words.sentences import spoken

Message = MutableMapping[str, Any]
Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "ringwright-session"
UPLOAD_PATH = "/models"
LARGEST_FORM_BYTES = 4 << 20
"""A form or a text; models alone may be larger."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "frame-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'self'"
)
"""Everything from this app alone; no script, style or picture that stands in a page's text."""

_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "cache-control": "no-store",
}


class _TooLarge(Exception):
    """More came than may come."""


class Guard:
    """The app, guarded, in the reader's language. ``door`` None lets everybody in who comes from an allowed host."""

    def __init__(self, app: App, *, door: Door | None = None, names: frozenset[str] | None = None) -> None:
        self._app = app
        self._door = door
        self._names = names if names is not None else own_names(lan=door is not None)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008, "reason": "there are no sockets here"})
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        code = words.wanted(request.cookies.get("language"), request.headers.get("accept-language", ""))
        with words.speaking(code):
            refusal = self._refusal(scope)
            if refusal is not None:
                await _answer(send, *refusal)
                return
            await self._let_in(scope, receive, send)

    def _refusal(self, scope: Scope) -> tuple[int, str] | tuple[int, str, str] | None:
        """Status and sentence (and where to go instead), or None where the request may pass."""
        heads = _heads(scope)
        hosts = heads.get("host", [])
        if len(hosts) != 1 or not self._own(hosts[0], scope):
            return 400, "This address is not one of this app's: open it by the address that it printed."
        origins = heads.get("origin", [])
        changing = scope["method"] not in ("GET", "HEAD")
        own = f"{scope['scheme']}://{hosts[0]}"
        if any(origin.lower() != own.lower() for origin in origins) or (changing and len(origins) != 1):
            return 403, "Another page asked for this; only pages of this app may."
        site, mode = (heads.get(name, [""])[0] for name in ("sec-fetch-site", "sec-fetch-mode"))
        if site in ("cross-site", "same-site") and mode != "navigate":
            return 403, "Another page asked for this; only pages of this app may."
        declared = heads.get("content-length", ["0"])[0]
        if not declared.isdigit() or int(declared) > _limit(scope):
            return 413, f"More than {_limit(scope) >> 20} MiB are not taken."
        if self._door is not None and not self._inside(scope, heads):
            if changing:
                return 401, "The session is over: open the first page and give the passphrase."
            return 303, "The passphrase is needed.", f"/login?next={quote(scope['path'])}"
        return None

    def _own(self, host: str, scope: Scope) -> bool:
        """Whether a Host header names this machine at this port."""
        name, _, port = host.rpartition(":") if not host.endswith("]") and ":" in host else (host, "", "")
        server = scope.get("server") or ("", None)
        usual = {"http": 80, "https": 443}[scope["scheme"]]
        if server[1] is not None and (port or str(usual)) != str(server[1]):
            return False
        name = name.strip("[]").lower()
        return name in self._names or (self._door is not None and name == str(server[0]).lower())

    def _inside(self, scope: Scope, heads: dict[str, list[str]]) -> bool:
        assert self._door is not None
        if scope["path"] == "/login" or scope["path"].startswith("/look/"):
            return True
        token = session_token(heads.get("cookie", []))
        return token is not None and self._door.knows(token)

    async def _let_in(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the app answer, with what comes counted and the headers added."""
        limit, come, begun, over = _limit(scope), 0, False, False

        async def counted() -> Message:
            nonlocal come, over
            message = await receive()
            come += len(message.get("body", b""))
            if come > limit:
                over = True
                raise _TooLarge
            return message

        async def with_headers(message: Message) -> None:
            nonlocal begun
            if over:
                return
            if message["type"] == "http.response.start":
                begun = True
                given = {name for name, _ in message["headers"]}
                more = [(n.encode(), v.encode()) for n, v in _HEADERS.items() if n.encode() not in given]
                message["headers"] = [*message["headers"], *more]
            await send(message)

        with suppress(_TooLarge):
            await self._app(scope, counted, with_headers)
        if over and not begun:
            await _answer(send, 413, f"More than {limit >> 20} MiB are not taken.")


def own_names(*, lan: bool) -> frozenset[str]:
    """The names by which this machine may be asked; addresses in the network are known only when they are used."""
    names = {"127.0.0.1", "localhost", "::1"}
    if lan:
        name = socket.gethostname().lower()
        names |= {name, f"{name.split('.')[0]}.local"}
    return frozenset(names)


def session_token(cookies: list[str]) -> str | None:
    """The session's token in Cookie headers."""
    for cookie in cookies:
        try:
            found = SimpleCookie(cookie).get(COOKIE)
        except CookieError:
            continue
        if found is not None:
            return found.value
    return None


def _limit(scope: Scope) -> int:
    return LARGEST_UPLOAD_BYTES if scope["path"] == UPLOAD_PATH else LARGEST_FORM_BYTES


def _heads(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


async def _answer(send: Send, status: int, says: str, go: str | None = None) -> None:
    """A short plain answer, with the same headers as every other."""
    body = spoken(says).encode()
    headers = _HEADERS | {"content-type": "text/plain; charset=utf-8", "content-length": str(len(body))}
    if go is not None:
        headers["location"] = go
    if status == 413:
        headers["connection"] = "close"
    raw = [(name.encode(), value.encode()) for name, value in headers.items()]
    await send({"type": "http.response.start", "status": status, "headers": raw})
    await send({"type": "http.response.body", "body": body})
