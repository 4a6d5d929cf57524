"""What metal costs: an alloy by its fine metals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from ringwright.steps.price.money import exact, to_minor
from ringwright.terms.alloy import Alloy
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.workshop import FinePrice

_RATE_DIGITS = 4
_GRAM_DIGITS = 4


@dataclass(frozen=True, kw_only=True)
class Metal:
    """An alloy as the quote pays for it: the share of each element (adds up to 1), and a gram's price."""

    shares: dict[str, Decimal]
    prices: dict[str, Decimal]
    per_g: Decimal

    def fine_g(self, mass_g: Decimal) -> dict[str, Decimal]:
        """Mass of each element in a mass of the alloy."""
        return {element: mass_g * part for element, part in self.shares.items()}


def prices_of(fine_prices: Iterable[FinePrice]) -> dict[str, FinePrice]:
    """The price of each fine metal. Raises :class:`BadInput` for a price below zero, or two of one metal."""
    found: dict[str, FinePrice] = {}
    faults = []
    for price in fine_prices:
        if not price.per_g.is_finite() or price.per_g < 0:
            faults.append(Mistake(f"fine_price {price.metal}", f"a price of {price.per_g}", "zero or more for a gram"))
        if price.metal in found:
            faults.append(
                Mistake(f"fine_price {price.metal}", f"{price.metal} has two prices", "one price for each metal")
            )
        found[price.metal] = price
    if faults:
        raise BadInput(*faults)
    return found


def missing(alloy: Alloy, prices: Mapping[str, FinePrice]) -> list[str]:
    """The elements of the alloy that have no price."""
    return [element for element, percent in alloy.composition.items() if percent > 0 and element not in prices]


def metal(alloy: Alloy, prices: Mapping[str, FinePrice]) -> Metal:
    """The alloy as the quote pays for it, all elements priced. Raises :class:`BadInput` where a price is missing."""
    lacking = missing(alloy, prices)
    if lacking:
        raise BadInput(
            *(
                Mistake(f"fine_price {element}", f"no price for {element}, which {alloy.title} holds", "add its price")
                for element in lacking
            )
        )
    parts = {element: exact(percent) for element, percent in alloy.composition.items() if percent > 0}
    whole = sum(parts.values())
    if not whole:
        raise BadInput(Mistake("metal", f"{alloy.title} has no composition", "an alloy with its elements in percent"))
    shares = {element: part / whole for element, part in parts.items()}
    used = {element: prices[element].per_g for element in shares}
    per_g = sum((shares[e] * used[e] for e in shares), start=Decimal(0))
    return Metal(shares=shares, prices=used, per_g=to_minor(per_g, _RATE_DIGITS))


def price_per_g(alloy: Alloy, fine_prices: Iterable[FinePrice]) -> Decimal:
    """Price of a gram of the alloy by its fine metals, to four decimals, without making or mark-up.

    Raises :class:`BadInput` where an element has no price, or a price is below zero.
    """
    return metal(alloy, prices_of(fine_prices)).per_g


def grams(mass_g: float) -> Decimal:
    """A mass as the quote shows and pays it."""
    return to_minor(exact(round(mass_g, _GRAM_DIGITS)), 2)
