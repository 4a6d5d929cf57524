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
from functools import cache
from typing import Any


@dataclass(frozen=True, slots=True)
class Figure:
    """What a number means: its unit, how many decimals matter, a sentence, and a fact's key if it has one.

    ``unit`` is "mm", "g", "°C", "h", "ct", "permille", "%" … or "" for a pure number. The rest is for fields that
    are read from a file: what the number may be (``above`` < number < ``below``, ``low`` <= number <= ``high``),
    which words may stand there (``choices``), whether a temperature is a ``difference``, and the field's ``key``
    where its name without the unit would be ambiguous. ``chief`` marks what a short summary shows.
    """

    unit: str
    digits: int
    help: str
    source: str = ""
    low: float | None = None
    high: float | None = None
    above: float | None = None
    below: float | None = None
    choices: tuple[str, ...] = ()
    difference: bool = False
    key: str = ""
    chief: bool = False


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


SUFFIXES: dict[str, str] = {
    "mm": "_mm",
    "cm3": "_cm3",
    "g": "_g",
    "ct": "_ct",
    "°C": "_C",
    "°C/h": "_C_per_h",
    "h": "_h",
    "s": "_s",
    "kPa": "_kPa",
    "%": "_percent",
    "permille": "_permille",
    "deg": "_deg",
    "g/cm3": "_g_cm3",
    "MPa": "_MPa",
    "GPa": "_GPa",
    "HV": "_HV",
}
"""How a field's name ends, by its unit: in a file the ending is left off, and the unit stands in the text."""


def file_key(name: str, about: Figure | None) -> str:
    """The name of a field in a file: ``length_mm`` is written ``length``, unless its Figure gives another ``key``."""
    if about is None:
        return name
    return about.key or name.removesuffix(SUFFIXES.get(about.unit, "\0"))


def described(kind: type[Any]) -> dict[str, Figure]:
    """The :class:`Figure` of each described field of a dataclass, in the order of the fields."""
    return dict(_described(kind))  # type: ignore[arg-type]  # a class is hashable, whatever its metaclass


@cache
def _described(kind: type[Any]) -> dict[str, Figure]:
    """Read once for each class: resolving its annotations takes longer than all else that is done with them."""
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
