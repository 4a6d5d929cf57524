"""Money as exact decimals, rounded in one way."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

ROUNDING = "each line to the smallest unit of the currency, halves up (away from zero)"


def exact(value: float | int | Decimal) -> Decimal:
    """The decimal that the number is written as: 0.1 is one tenth."""
    return value if isinstance(value, Decimal) else Decimal(str(value))


def to_minor(amount: Decimal, digits: int) -> Decimal:
    """The amount in whole smallest units, halves up as the trade and the tax office round (not to even)."""
    return amount.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)


def share(amount: Decimal, percent: float, digits: int) -> Decimal:
    """So many percent of an amount, rounded."""
    return to_minor(amount * exact(percent) / 100, digits)
