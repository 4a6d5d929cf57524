"""One plain value of a TOML file, read as its field's Figure says."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import operator
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from ringwright.desk._units import Unreadable, example, quantity
from ringwright.terms.quantity import Figure

_MONEY = re.compile(r"(-?\d+(?:\.\d+)?)\s*([A-Z]{3})?")


@dataclass(frozen=True)
class Slot:
    """One field of a dataclass as a file sees it."""

    name: str
    key: str
    about: Figure
    hint: Any
    field: dataclasses.Field[Any]

    @property
    def required(self) -> bool:
        """Whether the field must be there."""
        return self.field.default is dataclasses.MISSING and self.field.default_factory is dataclasses.MISSING

    def default(self) -> Any:
        """What the field has where the file does not say it; only for one that is not required."""
        if self.field.default_factory is not dataclasses.MISSING:
            return self.field.default_factory()
        return self.field.default


def _text(slot: Slot, raw: Any, _currency: str) -> str:
    if not isinstance(raw, str):
        raise Unreadable(f"{said(raw)} is not a text", f'write "{said(raw)}"')
    if slot.required and not raw.strip():
        raise Unreadable("is empty", f"say it ({slot.about.help})")
    if any(ord(sign) < 32 and sign != "\n" for sign in raw):
        raise Unreadable("holds a sign that cannot be printed", "write it in plain letters")
    return raw


def _switch(_slot: Slot, raw: Any, _currency: str) -> bool:
    if not isinstance(raw, bool):
        raise Unreadable(f"'{said(raw)}' is neither true nor false", "write true or false, without quotation marks")
    return raw


def _count(slot: Slot, raw: Any, _currency: str) -> int:
    if isinstance(raw, bool) or not isinstance(raw, int):
        raise Unreadable(f"'{said(raw)}' is not a whole number", "write a whole number, without quotation marks")
    _bounds(slot.about, raw, str(raw))
    return raw


def _number(slot: Slot, raw: Any, _currency: str) -> float:
    about = slot.about
    if not about.unit:
        if not is_number(raw):
            raise Unreadable(f"'{said(raw)}' is not a plain number", "write a number without quotation marks")
        value = finite(raw)
    elif is_number(raw):
        raise Unreadable(f"{said(raw)} has no unit", f'write "{said(raw)} {about.unit}"')
    elif isinstance(raw, str):
        value = quantity(raw, about.unit, difference=about.difference)
    else:
        raise Unreadable(f"'{said(raw)}' is not a number with its unit", f'write it like "{example(about.unit)}"')
    _bounds(about, value, f'"{said(raw)}"' if isinstance(raw, str) else said(raw))
    return value


def _money(slot: Slot, raw: Any, currency: str) -> Decimal:
    right_currency = currency or "GBP"
    right = f'write "12.50" or "12.50 {right_currency}"'
    if is_number(raw):
        raw = str(raw)
    found = _MONEY.fullmatch(raw.strip()) if isinstance(raw, str) else None
    if not found:
        raise Unreadable(f"'{said(raw)}' is not an amount of money", right)
    if found[2] and currency and found[2] != currency:
        raise Unreadable(f"'{raw}' is not in {currency}, the currency of this file", right)
    value = Decimal(found[1])
    _bounds(slot.about, value, f'"{raw}"', currency)
    return value


def _day(_slot: Slot, raw: Any, _currency: str) -> dt.date:
    if isinstance(raw, dt.date) and not isinstance(raw, dt.datetime):
        return raw
    try:
        return dt.date.fromisoformat(raw)
    except (TypeError, ValueError) as fault:
        raise Unreadable(f"'{said(raw)}' is not a day", "write it as year-month-day, such as 2027-03-01") from fault


READERS: dict[Any, Callable[[Slot, Any, str], Any]] = {
    str: _text,
    bool: _switch,
    int: _count,
    float: _number,
    Decimal: _money,
    dt.date: _day,
}


def _bounds(about: Figure, value: float | Decimal, written: str, currency: str = "") -> None:
    """Raise where the number is not what its Figure allows."""
    unit = currency if about.unit == "money" else about.unit
    for bound, holds, words in (
        (about.above, operator.gt, "more than"),
        (about.low, operator.ge, "at least"),
        (about.below, operator.lt, "less than"),
        (about.high, operator.le, "at most"),
    ):
        if bound is not None and not holds(value, bound):
            raise Unreadable(f"{written} cannot be", f"write {words} {bound:g} {unit}".rstrip())


def is_number(raw: Any) -> bool:
    return isinstance(raw, (int, float, Decimal)) and not isinstance(raw, bool)


def finite(raw: Any) -> float:
    value = float(raw)
    if not math.isfinite(value):
        raise Unreadable(f"'{raw}' is not a number", "write a number that can be measured")
    return value


def said(raw: Any) -> str:
    """A raw value as the file says it, cut where it is long."""
    if isinstance(raw, bool):
        return str(raw).lower()
    text = str(raw)
    return text if len(text) <= 60 else text[:57] + "..."
