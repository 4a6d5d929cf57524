"""What is to be said of a quote."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal

from ringwright.terms.commission import Owner
from ringwright.terms.price import PricedStone, PricePracticeFact, Quote
from ringwright.terms.remark import Level, Remark
from ringwright.terms.workshop import Shop

STEP = "price"


def remarks_on(
    quote: Quote,
    stones: Sequence[PricedStone],
    shop: Shop,
    practice: Sequence[PricePracticeFact],
    skipped: Mapping[str, Sequence[str]],
) -> tuple[Remark, ...]:
    """Remarks on stones without a price, the budget, the metal's price, the deposit and the offer's days."""
    found = [
        Remark(
            STEP,
            Level.HALT,
            "stone-unpriced",
            f"The stone '{stone.name}' is the shop's and has no cost: the total lacks it.",
            place=f"stone {stone.name}",
            change="give its cost in the commission, or say that it is the client's",
        )
        for stone in stones
        if stone.owner is Owner.SHOP and stone.cost is None
    ]
    found.extend(_budget(quote))
    found.extend(_metal(quote))
    found.extend(_terms(quote, shop, {row.key: row for row in practice}))
    found.extend(
        Remark(
            STEP,
            Level.FINE,
            "not-compared",
            f"{title} is not compared: the workshop has no price for {', '.join(elements)}.",
        )
        for title, elements in skipped.items()
    )
    return tuple(found)


def _budget(quote: Quote) -> list[Remark]:
    """Above the budget: by how much, and which alloy would keep to it."""
    if quote.budget is None or quote.total <= quote.budget:
        return []
    over = quote.total - quote.budget
    fits = sorted((offer for offer in quote.offers if offer.in_budget), key=lambda offer: offer.total, reverse=True)
    if fits:
        change = f"{fits[0].title} keeps to it at {fits[0].total} {quote.currency}"
    elif len(quote.offers) > 1:
        cheapest = min(quote.offers, key=lambda offer: offer.total)
        change = (
            f"no alloy compared keeps to it (the nearest, {cheapest.title}, costs {cheapest.total} {quote.currency}): "
            "less metal, fewer hours or another stone"
        )
    else:
        change = "compare other alloys, or take less metal, fewer hours or another stone"
    return [
        Remark(
            STEP,
            Level.HEED,
            "budget",
            f"The price is {over} {quote.currency} above the budget of {quote.budget} {quote.currency}.",
            figure=float(quote.total),
            limit=float(quote.budget),
            unit=quote.currency,
            limit_source="the commission's budget",
            change=change,
        )
    ]


def _metal(quote: Quote) -> list[Remark]:
    """Whether the metal may move further than the margin while the offer holds."""
    moved = sum((move.with_spread for move in quote.moves), start=Decimal(0))
    if moved <= quote.margin:
        return []
    return [
        Remark(
            STEP,
            Level.HEED,
            "metal-moves",
            f"While the offer holds, metal may move the price by {moved} {quote.currency}, more than the margin.",
            figure=float(moved),
            limit=float(quote.margin),
            unit=quote.currency,
            limit_source="this quote's margin, and the spreads of the workshop's metal prices",
            change="tie the metal to its price on the day of the order, or let the offer hold for fewer days",
        )
    ]


def _terms(quote: Quote, shop: Shop, practice: Mapping[str, PricePracticeFact]) -> list[Remark]:
    """Deposit against what must be bought, and the days of the offer."""
    found = []
    if quote.deposit < quote.materials:
        row = practice.get("deposit")
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "deposit",
                f"The deposit of {quote.deposit} {quote.currency} does not cover metal and stones of "
                f"{quote.materials} {quote.currency}.",
                figure=float(quote.deposit),
                limit=float(quote.materials),
                unit=quote.currency,
                limit_source="what the shop must buy before it begins"
                if row is None
                else f"{row.title} ({row.source})",
                change=f"ask {_percent_for(quote)} % as deposit, or the stones in full",
            )
        )
    longest = practice.get("offer-days-longest")
    if longest is not None and longest.practice_high_days is not None and shop.offer_days > longest.practice_high_days:
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "offer-days",
                f"The offer holds for {shop.offer_days} days, longer than is usual while metal moves.",
                figure=float(shop.offer_days),
                limit=longest.practice_high_days,
                unit="d",
                limit_source=longest.source,
                change=f"let it hold for {longest.practice_high_days:g} days at most",
            )
        )
    return found


def _percent_for(quote: Quote) -> int:
    """The whole percent of the total that covers the materials."""
    return math.ceil(quote.materials * 100 / quote.total) if quote.total else 100
