"""Fields of a commission's text as a form shows them, and back into the text with its comments and order kept.

Which fields there are, what they are called and which words may stand in them is read from :mod:`ringwright.terms`.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from ringwright.terms import commission as terms
from ringwright.terms.mistake import bad
from ringwright.terms.quantity import Figure, described, file_key

SECTIONS: tuple[tuple[str, type[Any]], ...] = (
    ("commission", terms.Heading),
    ("finger", terms.FingerBrief),
    ("metal", terms.MetalBrief),
    ("stone", terms.StoneBrief),
    ("model", terms.ModelBrief),
    ("starter", terms.StarterBrief),
    ("tree", terms.TreeBrief),
    ("thermocouple", terms.ThermocoupleBrief),
    ("mark", terms.MarkBrief),
    ("price", terms.PriceBrief),
)
"""The tables of a commission and the dataclass that says each; ``stone`` is a list of them."""

LISTED = "stone"


@dataclass(frozen=True)
class Field:
    """One field of a form: its ``place`` in the text ("stone.0.cut"), what it is, and what stands there now.

    ``kind`` is "text", "choice", "day", "count" or "list"; ``choices`` the words of a choice.
    """

    place: str
    help: str
    unit: str
    kind: str
    value: str
    choices: tuple[str, ...] = ()
    required: bool = False

    @property
    def key(self) -> str:
        """The last part of the place, as the text writes it."""
        return self.place.rpartition(".")[2]


def read(text: str) -> tomlkit.TOMLDocument:
    """The text, opened for changing. Raises ``BadInput`` where it is not TOML."""
    try:
        return tomlkit.parse(text)
    except TOMLKitError as fault:
        raise bad("the text", f"not TOML: {str(fault).lower()}", "mend it in the text itself") from fault


def fields(text: str, stones: int | None = None) -> dict[str, list[Field]]:
    """The fields of each section; those of a stone under "stone.0" …; ``stones`` is how many are shown at least."""
    data = read(text).unwrap()
    found: dict[str, list[Field]] = {}
    for name, kind in SECTIONS:
        if name == LISTED:
            listed = data.get(name, [])
            count = max(len(listed) if isinstance(listed, list) else 0, stones or 0)
            for number in range(count):
                there = listed[number] if number < len(listed) else {}
                found[f"{name}.{number}"] = list(_of(kind, there, f"{name}.{number}"))
        else:
            found[name] = list(_of(kind, data.get(name, {}), name))
    return found


def changed(text: str, values: Mapping[str, str]) -> str:
    """The text with those fields changed; an empty value takes the field out, an empty table goes with it.

    ``values`` are by place; a place that no form has is refused (``BadInput``). Comments and order stay.
    """
    document = read(text)
    known = {field.place: field for part in fields(text, _stones(values)).values() for field in part}
    for place, told in values.items():
        field = known.get(place)
        if field is None:
            raise bad(place[:60], "is no field of a commission", "open the page again")
        if told.strip() != field.value:
            _set(document, place.split("."), _typed(field, told.strip()))
    listed = document.get(LISTED)
    if listed is not None and not any(listed):
        del document[LISTED]
    return tomlkit.dumps(document)


def without_stone(text: str, number: int) -> str:
    """The text without one of its stones."""
    document = read(text)
    listed = document.get(LISTED)
    if isinstance(listed, list) and 0 <= number < len(listed):
        del listed[number]
        if not listed:
            del document[LISTED]
    return tomlkit.dumps(document)


def _stones(values: Mapping[str, str]) -> int:
    numbers = [int(part[1]) for part in (place.split(".") for place in values) if _is_stone(part)]
    return min(max(numbers, default=-1) + 1, 200)


def _is_stone(parts: list[str]) -> bool:
    return len(parts) > 2 and parts[0] == LISTED and parts[1].isdecimal()


def _of(kind: type[Any], there: Any, place: str) -> Iterator[Field]:
    """The fields of one table that a form can show."""
    hints = typing.get_type_hints(kind)
    about = described(kind)
    data = there if isinstance(there, dict) else {}
    for one in dataclasses.fields(kind):
        hint = _bare(hints[one.name])
        figure = about.get(one.name, Figure("", 0, ""))
        key = file_key(one.name, figure)
        here = f"{place}.{key}"
        if dataclasses.is_dataclass(hint):
            yield from _of(typing.cast("type[Any]", hint), data.get(key), here)
            continue
        told = _kind(hint, figure)
        if told is None:
            continue
        sort, choices = told
        required = one.default is dataclasses.MISSING and one.default_factory is dataclasses.MISSING
        yield Field(here, figure.help, figure.unit, sort, _said(data.get(key)), choices, required)


def _bare(hint: Any) -> Any:
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return next(part for part in typing.get_args(hint) if part is not type(None))
    return hint


def _kind(hint: Any, figure: Figure) -> tuple[str, tuple[str, ...]] | None:
    """How a form asks for a field; None where only the text itself can say it."""
    if figure.choices:
        return "choice", figure.choices
    if isinstance(hint, type) and issubclass(hint, Enum):
        return "choice", tuple(str(member.value) for member in hint)
    if hint is dt.date:
        return "day", ()
    if hint is int:
        return "count", ()
    if typing.get_origin(hint) is dict:
        return None
    if typing.get_origin(hint) is tuple:
        parts = typing.get_args(hint)
        if parts == (str, Ellipsis):
            return "list", ()
        return ("text", ()) if Ellipsis not in parts else None
    return "text", ()


def _said(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(str(part) for part in value)
    return str(value)


def _typed(field: Field, told: str) -> Any:
    """The value as the text holds it; None takes the field out."""
    if not told:
        return None
    if field.kind == "day":
        try:
            return dt.date.fromisoformat(told)
        except ValueError:
            return told
    if field.kind == "count" and told.isdecimal():
        return int(told)
    if field.kind == "list":
        return [part.strip() for part in told.split(",") if part.strip()]
    return told


def _set(document: Any, parts: list[str], value: Any) -> None:
    """Set a value at its place, making the tables on the way; None takes it out, with a table that it leaves empty."""
    if _is_stone(parts):
        document, parts = _stone(document, int(parts[1])), parts[2:]
    *way, key = parts
    tables = [document]
    for part in way:
        there = tables[-1].get(part)
        if not isinstance(there, dict):
            if value is None:
                return
            tables[-1][part] = tomlkit.table() if len(tables) == 1 and len(way) == 1 else tomlkit.inline_table()
            there = tables[-1][part]
        tables.append(there)
    if value is not None:
        tables[-1][key] = value
        return
    tables[-1].pop(key, None)
    for part, table in zip(reversed(way), reversed(tables[:-1]), strict=True):
        if not table[part]:
            del table[part]


def _stone(document: Any, number: int) -> Any:
    """The table of a stone, made where there is none."""
    listed = document.get(LISTED)
    if not isinstance(listed, list):
        document[LISTED] = tomlkit.aot()
        listed = document[LISTED]
    while len(listed) <= number:
        listed.append(tomlkit.table())
    return listed[number]
