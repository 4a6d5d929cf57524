"""The fields of a brief as a form: each with its label, what it is, and what may stand there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from ringwright.desk import asking
from ringwright.desk import shelf as desk
from ringwright.desk.reading import workshop_in
from ringwright.desk.shelf import Shelf
from ringwright.terms.mistake import BadInput
from ringwright.web.fields import Field
from ringwright.web.html import Markup, el, joined
from ringwright.words import _, facts, language
from ringwright.words.sentences import spoken

SUGGESTED = {
    "commission.market": ("markets", "title"),
    "metal.alloy": ("alloys", "title"),
    "stone.cut": ("cuts", "title"),
    "stone.material": ("gem_materials", "title"),
    "finger.system": ("size_systems", "title"),
}
"""Fields whose words are the keys of a table of the facts, and the column that says them to people."""

Suggestions = Mapping[str, list[tuple[str, str]]]


def suggestions(shelf: Shelf) -> Suggestions:
    """The words for fields that take a key of the facts or a name of the workshop, each with what it means."""
    found: dict[str, list[tuple[str, str]]] = {}
    for place, (table, column) in SUGGESTED.items():
        rows = {
            str(row["key"]): facts.said(table, column, str(row.get(column) or row["key"]))
            for row in reversed(asking.table(table))
        }
        found[place] = sorted(rows.items(), key=lambda pair: pair[1].lower())
    try:
        shop = workshop_in(desk.workshop(shelf).text, "workshop.toml")
    except BadInput:
        return found
    found["tree.flask"] = [(flask.name, flask.name) for flask in shop.flask]
    return found


def section(title: str, fields: Iterable[Field], known: Suggestions, wrong: Mapping[str, str], *more: Markup) -> Markup:
    """The fields of one table, with a legend."""
    return el("fieldset", el("legend", title), [control(field, known, wrong) for field in fields], *more)


def control(field: Field, known: Suggestions, wrong: Mapping[str, str]) -> Markup:
    """One field with its label; ``wrong`` says by place what is the matter."""
    name = f"f.{field.place}"
    said = wrong.get(field.place)
    told = el("span", _(field.help), id=f"{name}-help", class_="help") if field.help else None
    fault = el("span", said, id=f"{name}-wrong", class_="wrong") if said else None
    described = " ".join(
        part for part, there in ((f"{name}-help", told), (f"{name}-wrong", fault)) if there is not None
    )
    about = {"id": name, "name": name, "aria_describedby": described or None, "aria_invalid": "true" if said else None}
    words = known.get(re.sub(r"\.\d+\.", ".", field.place))
    return el(
        "div",
        el("label", label_of(field), for_=name),
        _input(field, about, words),
        told,
        fault,
        class_="field",
    )


def _input(field: Field, about: dict[str, str | None], words: list[tuple[str, str]] | None) -> Markup:
    if field.kind == "choice":
        words = [(word, facts.told(language(), word) or spoken(word)) for word in field.choices]
    if words is not None:
        there = [key for key, _title in words]
        extra = [(field.value, field.value)] if field.value and field.value not in there else []
        options = [
            el("option", title if title == key else f"{title} ({key})", value=key, selected=key == field.value)
            for key, title in (*extra, *words)
        ]
        return el("select", el("option", "–", value=""), options, **about)
    kind = {"day": "date", "count": "text"}.get(field.kind, "text")
    if field.kind == "day" and not re.fullmatch(r"(\d{4}-\d{2}-\d{2})?", field.value):
        kind = "text"
    hint = f"0.0 {field.unit}" if field.unit and field.unit not in ("money", "") else None
    return el(
        "input",
        type=kind,
        value=field.value,
        placeholder=hint,
        inputmode="numeric" if field.kind == "count" else None,
        **about,
    )


def label_of(field: Field) -> str:
    """A field's label in the reader's language."""
    return _(label(field))


def label(field: Field) -> str:
    """A field's label: its name in the text, with spaces; of a stone's seat with "seat" before it."""
    parts = [part for part in field.place.split(".")[1:] if not part.isdecimal()]
    text = " ".join(parts).replace("_", " ")
    return text[:1].upper() + text[1:]


def values(form: Mapping[str, list[str]]) -> dict[str, str]:
    """The fields that a form sent, by place."""
    return {name[2:]: told[0] for name, told in form.items() if name.startswith("f.")}


def groups(fields: Iterable[Field], first: Iterable[str]) -> tuple[list[Field], list[Field]]:
    """Those that are asked first, and the rest, which stands under "more"; what says something comes first too."""
    wanted = set(first)
    asked = [field for field in fields if field.key in wanted or field.required or field.value]
    return asked, [field for field in fields if field not in asked]


def more(fields: list[Field], known: Suggestions, wrong: Mapping[str, str]) -> Markup:
    """Fields that are seldom needed, folded away."""
    if not fields:
        return joined()
    open_ = any(field.place in wrong for field in fields)
    return el("details", el("summary", _("more")), [control(one, known, wrong) for one in fields], open=open_)
