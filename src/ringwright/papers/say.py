"""How the papers write numbers: with the digits and the unit of their description, metric first, spread beside.

Five digits and more are parted by a thin space, a minus is a minus, and what is no number is a dash.
"""

from __future__ import annotations

import datetime as dt
import math
from decimal import Decimal
from enum import Enum
from typing import Any

from ringwright.terms.quantity import Estimate, Figure
from ringwright.words.numbers import NONE, day, number
from ringwright.words.sentences import spoken

GRAMS_PER_DWT = 1.55517384
"""A pennyweight, by definition a twentieth of the troy ounce of 31.1034768 g."""

GRAMS_PER_OZT = 31.1034768
CARATS_PER_GRAM = 5.0

_UNITS = {
    "mm2": "mm²", "mm3": "mm³", "mm5": "mm⁵", "cm2": "cm²", "cm3": "cm³", "g/cm3": "g/cm³", "permille": "‰",
    "deg": "°", "W/mK": "W/(m K)", "J/kgK": "J/(kg K)", "1e-6/K": "10⁻⁶/K", "d": "days", "money": "",
}  # fmt: skip
_TIGHT = {"°", "%", "‰"}


def unit(name: str) -> str:
    """A unit as it is printed: ``mm3`` as mm³."""
    return spoken(_UNITS.get(name, name))


def with_unit(text: str, name: str) -> str:
    """A number's text with its unit; a dash has none."""
    shown = unit(name)
    if text == NONE or not shown:
        return text
    return f"{text}{shown}" if shown in _TIGHT and shown != "%" else f"{text}\u00a0{shown}"


def measure(value: float | Decimal | Estimate | None, name: str, digits: int) -> str:
    """A number or an estimate with its unit: ``17.35 ± 0.08 mm``."""
    if isinstance(value, Estimate):
        return with_unit(f"{number(value.value, digits)}\u00a0±\u00a0{number(value.plus_minus, digits)}", name)
    return with_unit(number(value, digits), name)


def shown(value: Any, about: Figure) -> str:
    """Any single value as its description says; an empty text for what one line cannot show."""
    if value is None or value == "":
        return NONE
    if isinstance(value, (bool, str)):
        return _word(value)
    if isinstance(value, (int, float, Decimal, Estimate)):
        return measure(value, about.unit, 0 if isinstance(value, int) else about.digits)
    if isinstance(value, dt.date):
        return day(value)
    if isinstance(value, tuple):
        if all(isinstance(part, (int, float)) for part in value):
            return with_unit(", ".join(number(part, about.digits) for part in value), about.unit)
        return "; ".join(shown(part, about) for part in value)
    return ""


def _word(value: bool | str) -> str:
    """Yes, no, or the word itself; a member of an enumeration by its value."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value.value) if isinstance(value, Enum) else value


def plain_cell(value: float | Estimate | None, digits: int) -> str:
    """A number for a column whose head names the unit."""
    return measure(value, "", digits)


def clock(hours: float) -> str:
    """A span of hours as hours and minutes: ``5 h 30 min``; rounded to the minute."""
    if not math.isfinite(hours):
        return NONE
    minutes = round(hours * 60)
    whole, rest = divmod(minutes, 60)
    if not whole:
        return f"{rest}\u00a0min"
    return f"{whole}\u00a0h" + (f"\u00a0{rest:02d}\u00a0min" if rest else "")


def span(hours: float) -> str:
    """A span of hours on a clock's face: ``5:30``."""
    minutes = round(hours * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def money(amount: Decimal | None, currency: str) -> str:
    """An amount with the decimals that it has, and its currency: ``1 234.50 GBP``."""
    if amount is None:
        return NONE
    return f"{cash(amount)}\u00a0{currency}"


def cash(amount: Decimal | None) -> str:
    """An amount without its currency, with the decimals that it has."""
    if amount is None:
        return NONE
    exponent = amount.as_tuple().exponent
    return number(amount, -exponent if isinstance(exponent, int) and exponent < 0 else 0)


def dwt(mass_g: float | Decimal) -> str:
    """A mass in pennyweight."""
    return with_unit(number(float(mass_g) / GRAMS_PER_DWT, 2), "dwt")


def ozt(mass_g: float | Decimal) -> str:
    """A mass in troy ounces."""
    return with_unit(number(float(mass_g) / GRAMS_PER_OZT, 3), "ozt")


def carats(mass_ct: float | Estimate | None, digits: int = 2) -> str:
    """A stone's mass in carats with the grams behind it: ``0.91 ct (0.182 g)``."""
    if mass_ct is None:
        return NONE
    value = mass_ct.value if isinstance(mass_ct, Estimate) else mass_ct
    grams = with_unit(number(value / CARATS_PER_GRAM, 3), "g")
    return f"{measure(mass_ct, 'ct', digits)} ({grams})"


def sentence(text: str) -> str:
    """A text with a capital at its beginning."""
    return text[:1].upper() + text[1:]
