"""What every page has around it: head, name, ways to the other pages, words of warning, and the look's files."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.requests import Request
from starlette.responses import HTMLResponse

from ringwright.terms.mistake import Mistake
from ringwright.web.html import Child, Markup, el, joined, shape
from ringwright.words import _, language, languages
from ringwright.words.sentences import spoken

LEVEL_WORDS = ("fine", "heed", "halt")


def level_word(name: str) -> str:
    """A level in the reader's words."""
    return {"fine": _("fine"), "heed": _("heed"), "halt": _("halt")}[name]


def page(
    request: Request,
    title: str,
    *content: Child,
    scripts: Iterable[str] = (),
    status: int = 200,
    wide: bool = False,
    ahead: Iterable[str] = (),
) -> HTMLResponse:
    """A whole page. ``scripts`` are modules of the look; ``ahead`` are files that they will ask for."""
    theme = request.cookies.get("theme", "")
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", f"{title} · Ringwright"),
        el("link", rel="icon", href="/look/mark.svg", type="image/svg+xml"),
        el("link", rel="stylesheet", href="/look/style.css"),
        [el("link", rel="modulepreload", href="/look/three.js") if "ring" in scripts else None],
        [el("link", rel="preload", href=path, as_="fetch", crossorigin=True) for path in ahead],
        [el("script", src=f"/look/{name}.js", type="module") for name in ("everywhere", *scripts)],
    )
    body = el(
        "body",
        el("a", _("To the content"), href="#content", class_="skip"),
        _bar(request),
        el("main", *content, id="content", tabindex="-1", class_="wide-page" if wide else None),
        el("div", id="told", role="status", aria_live="polite"),
        data_words=_script_words(),
    )
    html = el("html", head, body, lang=language(), data_theme=theme if theme in ("dark", "light") else None)
    return HTMLResponse(f"<!doctype html>{html}", status_code=status)


def _script_words() -> dict[str, str]:
    """What the scripts of every page may have to say."""
    return {
        "large": _("it has {size} MiB; at most {most} MiB are taken"),
        "first": _("Only the first file is taken."),
        "unsent": _("the file could not be sent"),
        "saved": _("Version {number} was saved by {who}."),
        "show": _("Show it"),
        "silent": _("The workshop's app does not answer; what was saved stands. This page tries again."),
    }


def _bar(request: Request) -> Markup:
    """The bar at the top: the name, and the ways to the other pages."""
    here = request.url.path
    ways = [("/", _("Bench")), ("/workshop", _("Workshop")), ("/facts", _("Facts"))]
    links = [
        el(
            "a",
            word,
            href=path,
            aria_current="page" if (here == path or (path != "/" and here.startswith(path))) else None,
        )
        for path, word in ways
    ]
    tongues = [el("option", name, value=code, selected=code == language()) for code, name in languages().items()]
    leave = (
        el("form", el("button", _("Leave"), class_="quiet"), method="post", action="/logout")
        if getattr(request.app.state, "door", None) is not None and here != "/login"
        else None
    )
    return el(
        "header",
        el("a", shape("ring"), el("span", "Ringwright"), href="/", class_="name"),
        el("nav", links, aria_label=_("Pages")),
        el(
            "div",
            el("label", el("span", _("Language"), class_="unseen"), el("select", tongues, id="language"))
            if len(tongues) > 1
            else None,
            el(
                "button",
                _("Light or dark"),
                type="button",
                id="theme",
                class_="quiet",
            ),
            leave,
            class_="ways",
        ),
        class_="bar",
    )


def mistakes(found: Iterable[Mistake], *, heading: str | None = None) -> Markup:
    """What is wrong, one sentence each, with where and what would be right."""
    rows = []
    for one in found:
        line = line_of(one.where)
        rows.append(
            el(
                "li",
                el("strong", spoken(one.where), data_line=line) if one.where else None,
                " " if one.where else None,
                f"{_sentence(spoken(one.what))}.",
                f" {_sentence(spoken(one.right))}." if one.right else None,
            )
        )
    return el(
        "div",
        el("p", shape("halt"), el("span", heading or _("This cannot be taken as it is:")), class_="level level-halt"),
        el("ul", rows),
        class_="mistakes",
        role="alert",
    )


def line_of(where: str) -> str | None:
    """The line that a mistake's place names: ``a.commission.toml:7: metal.alloy`` is of line 7."""
    parts = where.split(":")
    return next((part for part in parts[1:] if part.isdigit()), None)


def field_of(where: str) -> str:
    """The field that a mistake's place names, or ""."""
    last = where.rpartition(": ")[2]
    return last if "." in last and "toml" not in last else ""


def refused(request: Request, found: Iterable[Mistake], status: int) -> HTMLResponse:
    """A page that says why nothing was done."""
    return page(
        request,
        _("Not done"),
        el("h1", _("Not done")),
        mistakes(found),
        el("p", el("a", _("Back to the bench"), href="/")),
        status=status,
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".")


def heading(title: str, *beside: Child) -> Markup:
    """A page's heading with what stands beside it."""
    return el("div", el("h1", title), joined(*beside), class_="heading")
