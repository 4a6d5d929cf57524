"""The quote: lines, sums, how far it moves, and the same ring in other alloys."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from ringwright.steps.price.lines import Priced, Work, price
from ringwright.steps.price.metal import Metal, grams, metal, missing, prices_of
from ringwright.steps.price.money import ROUNDING, exact, share, to_minor
from ringwright.steps.price.said import remarks_on
from ringwright.terms.alloy import Alloy
from ringwright.terms.facts import used
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.outcome import Outcome
from ringwright.terms.price import (
    AlloyOffer,
    CurrencyFact,
    Extra,
    MetalMove,
    PricedStone,
    PricePracticeFact,
    Quote,
)
from ringwright.terms.quantity import Estimate
from ringwright.terms.workshop import FinePrice, Habits, Shop


def quote(
    *,
    alloy: Alloy,
    mass_g: Estimate,
    cast_g: float,
    charge_g: float,
    bench_h: Estimate,
    setting_h: Estimate,
    stones: Iterable[PricedStone],
    shop: Shop,
    habits: Habits,
    fine_prices: Iterable[FinePrice],
    currency: str,
    currencies: Iterable[CurrencyFact],
    practice: Iterable[PricePracticeFact],
    offered_on: dt.date,
    compare: Iterable[Alloy] = (),
    client_fine_g: Mapping[str, float] | None = None,
    extras: Iterable[Extra] = (),
    assayed: bool = False,
    budget: Decimal | None = None,
    deposit_percent: float | None = None,
) -> Outcome[Quote]:
    """What the ring costs the client, each part shown.

    ``mass_g`` is the finished ring's metal, ``cast_g`` the casting, ``charge_g`` what is melted for it. Metal is paid
    by its fine metals; of the losses only what is gone for good; the client's own fine metal is taken off at the same
    price, no further than the ring needs. Margin is a share of the price before tax. Every line is rounded to the
    currency's smallest unit, halves up, and the lines add up to the total exactly.

    Raises :class:`BadInput` for a mass, hours, price or percent that cannot be, a currency that is not the workshop's,
    or an element of the alloy without a price.
    """
    stones, extras, compare = tuple(stones), tuple(extras), tuple(compare)
    work = Work(
        mass_g=mass_g,
        cast_g=cast_g,
        charge_g=charge_g,
        bench_h=bench_h,
        setting_h=setting_h,
        stones=stones,
        extras=extras,
        client_fine_g=dict(client_fine_g or {}),
        assayed=assayed,
    )
    shop = shop if deposit_percent is None else replace(shop, deposit_percent=deposit_percent)
    _check(work, shop, habits, currency, budget)
    digits = used(currencies, currency, "currency").minor_digits
    prices = prices_of(fine_prices)
    kind = metal(alloy, prices)
    priced = price(work, alloy, kind, 1.0, shop, habits, digits)
    offers, skipped = _offers(work, alloy, priced, kind, compare, prices, shop, habits, digits, budget)
    moves = _moves(priced, prices, shop, digits)
    deposit = share(priced.total, shop.deposit_percent, digits)
    result = Quote(
        currency=currency,
        lines=priced.lines,
        cost=priced.cost,
        margin=priced.margin,
        margin_percent=shop.margin_percent,
        markup_percent=100 * shop.margin_percent / (100 - shop.margin_percent),
        net=priced.net,
        tax=priced.tax,
        total=priced.total,
        total_plus_minus=_spread(work, kind, moves, shop, digits),
        deposit=deposit,
        balance=priced.total - deposit,
        offered_on=offered_on,
        offer_ends=offered_on + dt.timedelta(days=shop.offer_days),
        materials=priced.metal_own + priced.stones_own,
        moves=moves,
        offers=offers,
        returned_g=priced.returned_g,
        mass_g=mass_g,
        budget=budget,
        rounding=ROUNDING,
    )
    return Outcome("price", result, remarks_on(result, stones, shop, tuple(practice), skipped))


def _check(work: Work, shop: Shop, habits: Habits, currency: str, budget: Decimal | None) -> None:
    """All that is wrong with what goes into the price, at once."""
    faults = []
    if currency != shop.currency:
        faults.append(
            Mistake(
                "currency",
                f"the commission is in {currency}, the workshop's prices are in {shop.currency}",
                "the same currency in both",
            )
        )
    for where, mass in (("mass", work.mass_g.value), ("cast mass", work.cast_g), ("charge", work.charge_g)):
        if not 0 < mass < math.inf:
            faults.append(Mistake(where, f"a mass of {mass:g} g", "more than zero"))
    for where, hours in (("bench hours", work.bench_h), ("setting hours", work.setting_h)):
        if not (0 <= hours.value < math.inf and 0 <= hours.plus_minus < math.inf):
            faults.append(Mistake(where, f"{hours.value:g} ± {hours.plus_minus:g} h", "zero or more"))
    faults.extend(
        Mistake(f"client's own {element}", f"{mass:g} g", "zero or more")
        for element, mass in work.client_fine_g.items()
        if not 0 <= mass < math.inf
    )
    sums = [
        ("hour_rate", shop.hour_rate),
        ("setting_rate", shop.setting_rate),
        ("assay_fee", shop.assay_fee),
        ("budget", budget),
        *((f"cost of stone {stone.name}", stone.cost) for stone in work.stones),
        *((f"cost of {extra.title}", extra.amount) for extra in work.extras),
    ]
    faults.extend(
        Mistake(where, f"a price of {value}", "zero or more")
        for where, value in sums
        if value is not None and (not value.is_finite() or value < 0)
    )
    open_ended = "zero or more"
    percents = (
        ("overhead_percent", shop.overhead_percent, math.inf, open_ended),
        ("margin_percent", shop.margin_percent, math.nextafter(100, 0), "zero or more, below 100"),
        ("metal_margin_percent", shop.metal_margin_percent, math.inf, open_ended),
        ("stone_margin_percent", shop.stone_margin_percent, math.inf, open_ended),
        ("tax_percent", shop.tax_percent, math.inf, open_ended),
        ("deposit_percent", shop.deposit_percent, 100.0, "from 0 to 100"),
        ("melt_loss_percent", habits.melt_loss_percent, 100.0, "from 0 to 100"),
        ("bench_loss_percent", habits.bench_loss_percent, 100.0, "from 0 to 100"),
    )
    faults.extend(
        Mistake(where, f"{value:g} %", right)
        for where, value, most, right in percents
        if not (0 <= value <= most and math.isfinite(value))
    )
    if shop.offer_days < 1:
        faults.append(Mistake("offer_days", f"{shop.offer_days} days", "one day or more"))
    if faults:
        raise BadInput(*faults)


def _offers(
    work: Work,
    alloy: Alloy,
    priced: Priced,
    kind: Metal,
    compare: Sequence[Alloy],
    prices: Mapping[str, FinePrice],
    shop: Shop,
    habits: Habits,
    digits: int,
    budget: Decimal | None,
) -> tuple[tuple[AlloyOffer, ...], dict[str, list[str]]]:
    """The ring in each alloy, and by title the alloys that could not be priced with the elements that have no price."""

    def offer(other: Alloy, metal_of: Metal, sums: Priced, factor: float) -> AlloyOffer:
        return AlloyOffer(
            alloy=other.key,
            title=other.title,
            chosen=other.key == alloy.key,
            mass_g=grams(work.mass_g.value * factor),
            per_g=metal_of.per_g,
            metal=sums.metal_all,
            total=sums.total,
            difference=sums.total - priced.total,
            in_budget=None if budget is None else sums.total <= budget,
        )

    found, skipped = [offer(alloy, kind, priced, 1.0)], dict[str, list[str]]()
    for other in compare:
        if other.key in {one.alloy for one in found}:
            continue
        lacking = missing(other, prices)
        if lacking:
            skipped[other.title] = lacking
            continue
        factor = other.density_g_cm3.value / alloy.density_g_cm3.value
        metal_of = metal(other, prices)
        found.append(offer(other, metal_of, price(work, other, metal_of, factor, shop, habits, digits), factor))
    return tuple(found), skipped


def _passed_on(shop: Shop) -> Decimal:
    """By how much the total rises when a cost before margin and tax rises by one."""
    return (1 + exact(shop.tax_percent) / 100) / (1 - exact(shop.margin_percent) / 100)


def _moves(priced: Priced, prices: Mapping[str, FinePrice], shop: Shop, digits: int) -> tuple[MetalMove, ...]:
    """How far the total follows each metal's price: the derivative, and the move within the price's spread."""
    passed = _passed_on(shop) * (1 + exact(shop.metal_margin_percent) / 100)
    found = []
    for element, fine_g in priced.paid_fine_g.items():
        one = prices[element]
        worth = fine_g * one.per_g * passed
        found.append(
            MetalMove(
                metal=element,
                fine_g=to_minor(fine_g, 3),
                per_g=one.per_g,
                per_percent=to_minor(worth / 100, digits),
                spread_percent=one.spread_percent,
                with_spread=share(worth, one.spread_percent, digits),
            )
        )
    return tuple(sorted(found, key=lambda move: move.with_spread, reverse=True))


def _spread(work: Work, kind: Metal, moves: Sequence[MetalMove], shop: Shop, digits: int) -> Decimal:
    """The spread of the total: mass, hours of bench and setting, and all metals' prices together, by their squares."""
    passed = _passed_on(shop)
    on_metal = 1 + exact(shop.metal_margin_percent) / 100
    on_labour = (1 + exact(shop.overhead_percent) / 100) * passed
    setting_rate = shop.hour_rate if shop.setting_rate is None else shop.setting_rate
    parts = (
        exact(work.mass_g.plus_minus) * kind.per_g * on_metal * passed,
        exact(work.bench_h.plus_minus) * shop.hour_rate * on_labour,
        exact(work.setting_h.plus_minus) * setting_rate * on_labour,
        sum((move.with_spread for move in moves), start=Decimal(0)),
    )
    return to_minor(sum((part * part for part in parts), start=Decimal(0)).sqrt(), digits)
