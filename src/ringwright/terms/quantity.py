"""How a number is described: once, beside the field that holds it.

A field of a result or of an input file is annotated with a :class:`Figure`::

    inner_diameter_mm: Annotated[float, Figure("mm", 2, "Inner diameter of the finished ring")]

The command line, the JSON Schema, the papers, the pages and the reader of input files all read
the unit, the digits and the help text there; nobody writes them a second time.
"""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Figure:
    """What a number means: its unit, how many decimals matter, a sentence, and a fact's key if it has one.

    ``unit`` is "mm", "g", "°C", "h", "ct", "permille", "%" … or "" for a pure number.
    """

    unit: str
    digits: int
    help: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its spread: about 95 of 100 cases lie within ``value ± plus_minus``."""

    value: float
    plus_minus: float

    @property
    def low(self) -> float:
        """The lower end of the band."""
        return self.value - self.plus_minus

    @property
    def high(self) -> float:
        """The upper end of the band."""
        return self.value + self.plus_minus


@dataclass(frozen=True, slots=True)
class Shown:
    """One figure ready to be shown: the field's name, its description and its value."""

    name: str
    about: Figure
    value: Any


def described(kind: type[Any]) -> dict[str, Figure]:
    """The :class:`Figure` of each described field of a dataclass, in the order of the fields."""
    hints = typing.get_type_hints(kind, include_extras=True)
    found: dict[str, Figure] = {}
    for field in dataclasses.fields(kind):
        for note in getattr(hints[field.name], "__metadata__", ()):
            if isinstance(note, Figure):
                found[field.name] = note
    return found


def figures_of(result: Any) -> Iterator[Shown]:
    """Every described field of a dataclass instance that has a value, in the order of its fields."""
    kind: type[Any] = type(result)
    for name, about in described(kind).items():
        value = getattr(result, name)
        if value is not None:
            yield Shown(name, about, value)
