"""What must it cost? A quote with every part of the price shown."""

from ringwright.steps.price.metal import price_per_g
from ringwright.steps.price.money import to_minor
from ringwright.steps.price.quote import quote

__all__ = ["price_per_g", "quote", "to_minor"]
