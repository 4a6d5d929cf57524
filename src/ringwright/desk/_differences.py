"""What differs between two versions of a commission: its brief, its figures, its remarks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ringwright.terms.order import STEPS
from ringwright.terms.remark import Level

Data = dict[str, Any]


@dataclass(frozen=True)
class FieldChange:
    """A field of the brief that differs: ``where`` as ``metal.alloy`` or ``stone 'centre', cut``, before and after.

    ``before`` and ``after`` are as a file says them ("7 mm"); None where the field is not there.
    """

    where: str
    before: Any
    after: Any


@dataclass(frozen=True)
class FigureChange:
    """A figure of a step that differs. ``before`` or ``after`` is None where it is not there.

    A figure with a spread is ``{"value": …, "plus_minus": …}``, as in ``dossier.json``.
    """

    step: str
    name: str
    help: str
    unit: str
    digits: int
    before: Any
    after: Any


@dataclass(frozen=True)
class Difference:
    """What differs between two versions. Remarks are plain data, with the ``step`` added.

    ``model`` are the hashes of the two models. ``changed`` are pairs of remarks that stand in both, with another level
    or figure. ``worked`` is false where one of the two was never worked through: then only ``fields`` and ``model``
    tell.
    """

    fields: tuple[FieldChange, ...]
    model: tuple[str | None, str | None]
    worked: bool
    verdicts: tuple[Level | None, Level | None]
    figures: tuple[FigureChange, ...] = ()
    gone: tuple[Data, ...] = ()
    new: tuple[Data, ...] = ()
    changed: tuple[tuple[Data, Data], ...] = ()


def field_changes(before: Data, after: Data) -> tuple[FieldChange, ...]:
    """The fields that differ between two briefs, each as plain data by key, as a file says them."""
    one, other = dict(_flat(before)), dict(_flat(after))
    return tuple(
        FieldChange(where, one.get(where), other.get(where))
        for where in dict.fromkeys((*one, *other))
        if one.get(where) != other.get(where)
    )


def figure_changes(before: Data, after: Data) -> tuple[FigureChange, ...]:
    """The figures that differ, to the digits that matter, between the data of two dossiers."""
    found = []
    for step in STEPS:
        one, other = (_figures(data, step.name) for data in (before, after))
        for name in dict.fromkeys((*one, *other)):
            about = other.get(name) or one[name]
            was, now = (figures[name]["value"] if name in figures else None for figures in (one, other))
            if _differ(was, now, about["digits"]):
                found.append(FigureChange(step.name, name, about["help"], about["unit"], about["digits"], was, now))
    return tuple(found)


def remark_changes(
    before: Data, after: Data
) -> tuple[tuple[Data, ...], tuple[Data, ...], tuple[tuple[Data, Data], ...]]:
    """The remarks that are gone, that are new, and that say something else, between the data of two dossiers.

    A remark is the same one where step, kind and place are; of several such, one after the other.
    """
    one, other = _remarks(before), _remarks(after)
    gone = tuple(remark for same, remark in one.items() if same not in other)
    new = tuple(remark for same, remark in other.items() if same not in one)
    changed = tuple(
        (remark, other[same])
        for same, remark in one.items()
        if same in other and (remark["level"], remark["says"]) != (other[same]["level"], other[same]["says"])
    )
    return gone, new, changed


def _flat(data: Any, where: str = "") -> Iterator[tuple[str, Any]]:
    """Each single value with its place."""
    if isinstance(data, dict):
        for key, part in data.items():
            joint = ", " if where.endswith("'") else "." if where else ""
            yield from _flat(part, f"{where}{joint}{key}")
    elif isinstance(data, list) and data and isinstance(data[0], dict):
        for number, part in enumerate(data, start=1):
            named = f"{where} '{part['name']}'" if "name" in part else f"{where}[{number}]"
            yield from _flat({key: value for key, value in part.items() if key != "name"}, named)
    else:
        yield where, data


def _figures(data: Data, step: str) -> dict[str, Data]:
    return {one["name"]: one for one in data["steps"].get(step, {}).get("figures", ())}


def _differ(one: Any, other: Any, digits: int) -> bool:
    """Whether two values differ as they are shown."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() != other.keys() or any(_differ(one[key], other[key], digits) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) != len(other) or any(_differ(a, b, digits) for a, b in zip(one, other, strict=True))
    if isinstance(one, float | int) and isinstance(other, float | int):
        return round(one, digits) != round(other, digits)
    return bool(one != other)


def _remarks(data: Data) -> dict[tuple[str, str, str, int], Data]:
    found: dict[tuple[str, str, str, int], Data] = {}
    for step in STEPS:
        for remark in data["steps"].get(step.name, {}).get("remarks", ()):
            number = 0
            while (same := (step.name, remark["kind"], remark["place"], number)) in found:
                number += 1
            found[same] = remark | {"step": step.name}
    return found
