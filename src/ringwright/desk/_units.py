"""Units, read at the edge: a number with its unit in a text becomes a plain number in the unit that is wanted.

Pint does the conversion and is loaded only when a text is in another unit than the wanted one.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pint

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL)
_COMMA = re.compile(r"\s*([+-]?\d+),(\d+)\s*(\D.*)?", re.DOTALL)

_WORDS: dict[str, str] = {
    '"': "inch",
    "″": "inch",
    "inches": "inch",
    "%": "percent",
    "‰": "permille",
    "°": "degree",
    "carats": "carat",
    "°C": "degC",
    "C": "degC",
    "°F": "degF",
    "F": "degF",
    "K": "kelvin",
    "mm³": "mm**3",
    "mm3": "mm**3",
    "cm³": "cm**3",
    "cm3": "cm**3",
    "in3": "inch**3",
    "gr": "grain",
    "g/cm3": "g/cm**3",
    "g/cm³": "g/cm**3",
    "kg/m3": "kg/m**3",
    "kg/m³": "kg/m**3",
}
"""How the trade writes a unit, and what Pint calls it."""

_ALONE = ("HV",)
"""Units that nothing else can be converted to."""

_RAMPS = re.compile(r"(?:°|deg)?\s*([CFK])\s*(?:/|per)\s*(h|hr|hour|min|minute|s)")

_PLURAL: dict[str, str] = {"°C/h": "°C per hour", "permille": "permille", "deg": "degrees"}

_EXAMPLES: dict[str, str] = {
    "mm": "1.9 mm",
    "cm3": "120 cm3",
    "g": "4.2 g",
    "ct": "1.31 ct",
    "°C": "540 °C",
    "°C/h": "200 °C/h",
    "h": "1.5 h",
    "s": "8 s",
    "kPa": "80 kPa",
    "rpm": "400 rpm",
    "%": "20 %",
    "permille": "750 permille",
    "deg": "45 deg",
    "g/cm3": "15.4 g/cm3",
    "MPa": "300 MPa",
    "GPa": "80 GPa",
    "HV": "150 HV",
}
"""How a quantity of each unit is written, for the sentence that says what would be right."""


class Unreadable(ValueError):
    """A text that is no quantity of the wanted kind: ``what`` is wrong, and what would be ``right``."""

    def __init__(self, what: str, right: str) -> None:
        super().__init__(f"{what}; {right}")
        self.what = what
        self.right = right


def example(unit: str) -> str:
    """A quantity of that unit as it is written in a file."""
    return _EXAMPLES.get(unit, f"1 {unit}".strip())


def number(text: str) -> float:
    """A plain number in a text; raises :class:`Unreadable`."""
    found = _NUMBER.fullmatch(text)
    if not found or found[2]:
        raise Unreadable(f"'{text}' is not a number", "write a plain number, such as 0.5")
    return _finite(float(found[1]), text)


def quantity(text: str, unit: str, *, difference: bool = False) -> float:
    """The number in ``unit`` that ``text`` says, such as 6.35 for "0.25 in" in "mm".

    ``difference`` reads a temperature as a step, not as a point on the scale: 18 °F is then 10 °C. Raises
    :class:`Unreadable` for a text without a number or unit, with an unknown unit, or of another kind.
    """
    if comma := _COMMA.fullmatch(text):
        raise Unreadable(
            f"'{text}' has a comma in its number", f'write "{comma[1]}.{comma[2]} {(comma[3] or unit).strip()}"'
        )
    found = _NUMBER.fullmatch(text)
    if not found:
        raise Unreadable(f"'{text}' is not a number with its unit", f'write it like "{example(unit)}"')
    value, said = _finite(float(found[1]), text), found[2]
    if not said:
        raise Unreadable(f"'{text}' has no unit", f'write "{found[1]} {unit}"')
    if said == unit:
        return value
    return _converted(value, said, unit, difference)


def _finite(value: float, text: str) -> float:
    """The value, or :class:`Unreadable` where it is too large for any ring."""
    if not math.isfinite(value):
        raise Unreadable(f"'{text}' is too large a number", "write a number that a workshop can measure")
    return value


def _converted(value: float, said: str, unit: str, difference: bool) -> float:
    """The value in ``said`` units, in ``unit``; rounded to 12 digits so that no conversion noise is left."""
    if said in ("oz", "ounce", "ounces"):
        raise Unreadable(
            f"'{said}' may be a troy or an avoirdupois ounce", f'write "{value:g} ozt" for troy ounces, or grams'
        )
    if said in ("mil", "mils"):
        raise Unreadable(f"'{said}' is not clear", f'write "{value:g} thou" for thousandths of an inch, or mm')
    if len(said) > 24 or "**" in said or unit in _ALONE:
        raise Unreadable(f"'{said}' is not a known unit", f'write it like "{example(unit)}"')
    wanted = _pint_name(unit, difference)
    try:
        source = _registry().Quantity(value, _pint_name(said, difference))
        found = float(source.to(wanted).magnitude) if source.is_compatible_with(wanted) else None
    except _faults() as fault:
        raise Unreadable(f"'{said}' is not a known unit", f'write it like "{example(unit)}"') from fault
    if found is None:
        raise Unreadable(f"'{value:g} {said}' is not in {_PLURAL.get(unit, unit)}", f'write it like "{example(unit)}"')
    return float(f"{found:.12g}")


def _pint_name(unit: str, difference: bool) -> str:
    """What Pint calls a unit as people write it."""
    if ramp := _RAMPS.fullmatch(unit):
        scale = {"C": "delta_degC", "F": "delta_degF", "K": "kelvin"}[ramp[1]]
        return f"{scale}/{ {'h': 'hour', 'hr': 'hour', 'min': 'minute', 's': 'second'}.get(ramp[2], ramp[2]) }"
    name = _WORDS.get(unit, unit)
    if difference and name in ("degC", "degF"):
        return f"delta_{name}"
    return name


@cache
def _registry() -> pint.UnitRegistry[Any]:
    """Pint's registry, made once a process when a unit must be converted."""
    import pint

    return pint.UnitRegistry(cache_folder=None)


@cache
def _faults() -> tuple[type[Exception], ...]:
    """What Pint raises for a text that is no unit."""
    import tokenize

    import pint

    return (
        pint.errors.PintError,
        AttributeError,
        AssertionError,
        TypeError,
        ValueError,
        SyntaxError,
        tokenize.TokenError,
    )
