"""The JSON Schema (2020-12) of ``dossier.json``, made from the same dataclasses and Figures as the dossier itself."""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
import typing
from decimal import Decimal
from enum import Enum
from typing import Any

from ringwright.papers.dossier import FORMAT
from ringwright.terms.order import STEPS
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate, Figure
from ringwright.terms.remark import Level, Remark

Schema = dict[str, Any]

_NUMBER: Schema = {"type": ["number", "null"]}


class Kinds:
    """Schemas of dataclasses, each described once under ``$defs``."""

    def __init__(self) -> None:
        self.defs: dict[str, Schema] = {}
        self._named: dict[Any, str] = {}

    def of(self, hint: Any) -> Schema:
        """The schema of a type as :func:`ringwright.papers.plain.plain` writes its values."""
        origin, args = typing.get_origin(hint), typing.get_args(hint)
        if origin is typing.Annotated:
            return self.of(args[0]) | _about(hint.__metadata__)
        if origin in (typing.Union, types.UnionType):
            return self._union(args)
        if origin is tuple:
            return self._tuple(args)
        if origin in (list, frozenset):
            return {"type": "array", "items": self.of(args[0])}
        if origin is dict:
            return {"type": "object", "additionalProperties": self.of(args[1])}
        if origin is typing.Literal:
            return {"enum": list(args)}
        return self._single(hint)

    def _single(self, hint: Any) -> Schema:
        simple: dict[Any, Schema] = {
            Any: {},
            bool: {"type": "boolean"},
            int: {"type": "integer"},
            float: _NUMBER,
            str: {"type": "string"},
            Decimal: {"type": "string", "pattern": r"^-?\d+(\.\d+)?$"},
            dt.date: {"type": "string", "format": "date"},
            dt.datetime: {"type": "string", "format": "date-time"},
            dt.time: {"type": "string", "format": "time"},
            dt.timedelta: _NUMBER | {"description": "seconds"},
            type(None): {"type": "null"},
        }
        if hint in simple:
            return dict(simple[hint])
        if isinstance(hint, type) and issubclass(hint, Enum):
            return {"enum": [member.value for member in hint]}
        if dataclasses.is_dataclass(hint):
            return {"$ref": f"#/$defs/{self._define(hint)}"}
        raise TypeError(f"{hint} is no figure and has no schema")

    def _union(self, args: tuple[Any, ...]) -> Schema:
        parts = [self.of(arg) for arg in args]
        if len(parts) == 2 and parts[1] == {"type": "null"} and isinstance(parts[0].get("type"), str | list):
            kinds = parts[0]["type"]
            kinds = [kinds] if isinstance(kinds, str) else kinds
            return parts[0] | {"type": list(dict.fromkeys([*kinds, "null"]))}
        return {"anyOf": parts}

    def _tuple(self, args: tuple[Any, ...]) -> Schema:
        if args[-1:] == (Ellipsis,):
            return {"type": "array", "items": self.of(args[0])}
        return {
            "type": "array",
            "prefixItems": [self.of(arg) for arg in args],
            "items": False,
            "minItems": len(args),
        }

    def _define(self, kind: Any) -> str:
        if kind in self._named:
            return self._named[kind]
        name: str = kind.__name__
        if name in self.defs:
            name = f"{kind.__module__.rsplit('.', 1)[-1]}.{name}"
        self._named[kind] = name
        self.defs[name] = {}
        self.defs[name] = self.table(kind)
        return name

    def table(self, kind: Any, leave: tuple[str, ...] = ()) -> Schema:
        """The schema of a dataclass, without the fields to ``leave`` out."""
        hints = typing.get_type_hints(kind, include_extras=True)
        names = [one.name for one in dataclasses.fields(kind) if one.name not in leave]
        said = (kind.__doc__ or "").strip().split("\n")[0]
        return {
            "type": "object",
            "description": said,
            "properties": {name: self.of(hints[name]) for name in names},
            "required": names,
            "additionalProperties": False,
        }


def dossier_schema(making: Any) -> Schema:
    """The schema of the dossier of that kind of making (the dataclass, not an instance)."""
    kinds = Kinds()
    hints = typing.get_type_hints(making, include_extras=True)
    shared = _step(kinds)
    steps = {}
    for step in STEPS:
        if step.name in hints:
            result = kinds.of(_result(hints[step.name]))
            steps[step.name] = {
                "title": step.title,
                "description": step.question,
                "type": "object",
                "properties": shared | {"result": result},
                "required": [*shared, "result"],
                "additionalProperties": False,
            }
    top: Schema = {
        "format": {"const": FORMAT},
        "made_at": {"type": "string", "format": "date-time", "description": "When it was worked through"},
        "verdict": {"enum": [level.value for level in Level], "description": "The gravest verdict of the steps"},
        "commission": kinds.of(hints["commission"]),
        "workshop": kinds.of(hints["workshop"]),
        "steps": {"type": "object", "properties": steps, "additionalProperties": False},
        "files": {"type": "array", "items": {"type": "string"}, "description": "The files beside this one"},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:ringwright:dossier:1",
        "title": "Dossier of a making",
        "description": (
            "Everything that working a commission through yields. Names end in their unit; x-unit and x-digits say "
            "the unit and the decimals that matter; null is a figure that there is not."
        ),
        "type": "object",
        "properties": top,
        "required": list(top),
        "additionalProperties": False,
        "$defs": dict(sorted(kinds.defs.items())),
    }


def _result(hint: Any) -> Any:
    """The result type of ``Outcome[X]`` or ``Outcome[X] | None``."""
    for part in (hint, *typing.get_args(hint)):
        if typing.get_origin(part) is Outcome:
            return typing.get_args(part)[0]
    raise TypeError(f"{hint} is no outcome of a step")


def _about(notes: tuple[Any, ...]) -> Schema:
    """What a Figure says, as annotations of a schema."""
    about = next((note for note in notes if isinstance(note, Figure)), None)
    if about is None:
        return {}
    found: Schema = {"description": about.help} if about.help else {}
    if about.unit:
        found |= {"x-unit": about.unit, "x-digits": about.digits}
    return found


def _step(kinds: Kinds) -> dict[str, Schema]:
    """What every step has besides its result."""
    point = {"type": "array", "items": {"type": ["number", "null"]}}
    value = {"anyOf": [{"type": ["number", "string", "boolean", "null"]}, kinds.of(Estimate), point]}

    def listed(**properties: Schema) -> Schema:
        one = {
            "type": "object",
            "properties": properties,
            "required": list(properties),
            "additionalProperties": False,
        }
        return {"type": "array", "items": one}

    text: Schema = {"type": "string"}
    sense: Schema = {"type": "boolean", "description": "Whether low values are the bad ones"}
    ends: Schema = {"anyOf": [{"type": "array", "items": {"type": "number"}}, {"type": "null"}]}
    switch: Schema = {"type": "boolean", "description": "Whether a short summary shows it"}
    kinds.defs["Remark"] = kinds.table(Remark, leave=("step",))
    return {
        "title": text,
        "question": text,
        "verdict": {"enum": [level.value for level in Level]},
        "figures": listed(name=text, help=text, value=value, unit=text, digits={"type": "integer"}, chief=switch),
        "tables": listed(
            name=text,
            help=text,
            columns=listed(name=text, help=text, unit=text, digits={"type": "integer"}, chief=switch),
            rows={"type": "array", "items": {"type": "array", "description": "One cell for each column"}},
        ),
        "remarks": {"type": "array", "items": {"$ref": "#/$defs/Remark"}},
        "bodies": listed(name=text, role=text, triangles={"type": "integer"}),
        "fields": listed(
            name=text, title=text, unit=text, body=text, least=_NUMBER, most=_NUMBER, low_is_bad=sense, limits=ends
        ),
        "residuals": listed(name=text, value=_NUMBER, bound=_NUMBER),
    }
