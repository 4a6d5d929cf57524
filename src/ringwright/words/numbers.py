"""Numbers and days as the language that is spoken writes them.

Five digits and more are parted by a thin space, a minus is a minus, and what is no number is a dash. Babel is asked
only where another language than English is spoken.
"""

from __future__ import annotations

import datetime as dt
import math
from decimal import Decimal

from ringwright.words import ENGLISH, language

THIN = "\u202f"
NONE = "–"
_UNPARTED = len("9,999")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def number(value: float | Decimal | None, digits: int) -> str:
    """A number with so many decimals: ``12 345.50``, ``−0.3``; a dash for none or what is no number."""
    return localised(_number(value, digits))


def localised(text: str) -> str:
    """A number's English text with the language's own sign for the decimals."""
    if language() == ENGLISH or not text[-1:].isdigit():
        return text
    from babel.numbers import get_decimal_symbol

    return text.replace(".", str(get_decimal_symbol(language())))


def day(value: dt.date) -> str:
    """A day as the language writes it: ``14 March 2027``."""
    if language() == ENGLISH:
        return f"{value.day} {MONTHS[value.month - 1]} {value.year}"
    from babel.dates import format_date

    return str(format_date(value, "long", locale=language()))


def moment(value: dt.datetime) -> str:
    """A day and time in this machine's zone."""
    local = value.astimezone()
    return f"{day(local.date())}, {local:%H:%M}"


def _number(value: float | Decimal | None, digits: int) -> str:
    if value is None or not math.isfinite(value):
        return NONE
    text = f"{value:,.{digits}f}"
    text = text.replace(",", THIN if len(text.lstrip("-").split(".")[0]) > _UNPARTED else "")
    if text.startswith("-"):
        text = text[1:] if not any(c in text for c in "123456789") else f"−{text[1:]}"
    return text
