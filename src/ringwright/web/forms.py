"""What a form sent: names and texts, and how a handler gets them."""

from __future__ import annotations

import inspect
from collections.abc import Awaitable, Callable
from typing import Any
from urllib.parse import parse_qs

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from ringwright.terms.mistake import bad

Form = dict[str, list[str]]
_MOST_FIELDS = 2000


def text(form: Form, name: str) -> str:
    """The first value of a field, without spaces around it; "" where there is none."""
    return form.get(name, [""])[0].strip()


def whole(form: Form, name: str) -> str:
    """A longer text as it was written, with line ends as a file has them."""
    return form.get(name, [""])[0].replace("\r\n", "\n")


def number(form: Form, name: str) -> int | None:
    """A whole number; None where the field is empty. Raises ``BadInput`` for anything else."""
    told = text(form, name)
    if not told:
        return None
    if not told.isdecimal() or len(told) > 9:
        raise bad(name, f"'{told[:20]}' is no whole number", "open the page again")
    return int(told)


def posted(handler: Callable[..., Any]) -> Callable[[Request], Awaitable[Response]]:
    """An endpoint that reads the form and lets the handler answer, beside the loop where it is no coroutine."""

    async def endpoint(request: Request) -> Response:
        body = (await request.body()).decode("utf-8", errors="replace")
        try:
            form = parse_qs(body, keep_blank_values=True, max_num_fields=_MOST_FIELDS)
        except ValueError as fault:
            raise bad("form", "it has too many fields", "send the page's own form") from fault
        if inspect.iscoroutinefunction(handler):
            answer: Response = await handler(request, form)
            return answer
        return await run_in_threadpool(handler, request, form)

    return endpoint
