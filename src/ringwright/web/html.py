"""Pages as text: elements whose content is escaped unless it was made here."""

from __future__ import annotations

import json
from collections.abc import Iterable
from html import escape
from typing import Any, TypeAlias

VOID = frozenset(("br", "hr", "img", "input", "link", "meta", "source", "wbr"))
"""Elements that have no content."""


class Markup(str):
    """Text that is markup already. Made only by :func:`el`, :func:`joined` and :func:`picture` of a shape."""

    __slots__ = ()


Child: TypeAlias = "str | Markup | int | Iterable[Child] | None"


def el(tag: str, *children: Child, **attributes: Any) -> Markup:
    """An element. ``class_`` is class, ``data_key`` is data-key; True is a bare attribute, None and False are left out.

    Raises ``ValueError`` for an attribute that would hold a script or a style: the pages' policy lets neither run.
    """
    parts = [f"<{tag}"]
    for name, value in attributes.items():
        if value is None or value is False:
            continue
        said = name.rstrip("_").replace("_", "-")
        if said.startswith("on") or said == "style":
            raise ValueError(f"{said} cannot stand in a page")
        parts.append(f" {said}" if value is True else f' {said}="{escape(_attribute(value))}"')
    parts.append(">")
    if tag in VOID:
        return Markup("".join(parts))
    return Markup(f"{''.join(parts)}{joined(*children)}</{tag}>")


def joined(*children: Child) -> Markup:
    """Several pieces after one another, each escaped unless it is markup."""
    return Markup("".join(_flat(children)))


def _flat(children: Iterable[Child]) -> Iterable[str]:
    for child in children:
        if child is None:
            continue
        if isinstance(child, Markup):
            yield child
        elif isinstance(child, (str, int)):
            yield escape(str(child), quote=False)
        else:
            yield from _flat(child)


def _attribute(value: Any) -> str:
    """An attribute's text; what is no text or number goes as JSON."""
    return str(value) if isinstance(value, (str, int, float)) else json.dumps(value, separators=(",", ":"))


_SHAPES = {
    "fine": '<circle cx="8" cy="8" r="6.5"/><path d="M5 8.2l2.1 2.1L11 6"/>',
    "heed": '<path d="M8 1.5L15 14H1z"/><path d="M8 6v4M8 11.6v.9"/>',
    "halt": '<path d="M5.1 1.2h5.8l4 4v5.6l-4 4H5.1l-4-4V5.2z"/><path d="M4.6 8h6.8"/>',
    "place": '<circle cx="8" cy="8" r="3"/><path d="M8 1v3M8 12v3M1 8h3M12 8h3"/>',
    "ring": '<circle cx="8" cy="9.5" r="5.2"/><path d="M5.6 1.2h4.8L12 3.2 8 6.4 4 3.2z"/>',
}


def shape(name: str) -> Markup:
    """A small drawing; it says nothing that a word beside it does not say."""
    return Markup(f'<svg class="shape" viewBox="0 0 16 16" aria-hidden="true" focusable="false">{_SHAPES[name]}</svg>')


def level(name: str, *more: Child, word: str) -> Markup:
    """One of the three levels, by shape and word; its colour is only a third sign."""
    return el("span", shape(name), el("span", word), *more, class_=f"level level-{name}")
