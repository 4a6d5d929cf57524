"""The lines of a quote, from the metal to the tax."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from ringwright.steps.price.metal import Metal, grams
from ringwright.steps.price.money import exact, share, to_minor
from ringwright.terms.alloy import Alloy
from ringwright.terms.commission import Owner
from ringwright.terms.price import Extra, PricedStone, QuoteLine
from ringwright.terms.quantity import Estimate
from ringwright.terms.workshop import Habits, Shop


@dataclass(frozen=True, kw_only=True)
class Work:
    """What goes into the price besides the metal's kind. Masses of the chosen alloy."""

    mass_g: Estimate
    cast_g: float
    charge_g: float
    bench_h: Estimate
    setting_h: Estimate
    stones: Sequence[PricedStone]
    extras: Sequence[Extra]
    client_fine_g: Mapping[str, float]
    assayed: bool


@dataclass(frozen=True, kw_only=True)
class Priced:
    """All lines and the sums that the quote shows."""

    lines: tuple[QuoteLine, ...]
    metal_own: Decimal
    metal_all: Decimal
    stones_own: Decimal
    cost: Decimal
    margin: Decimal
    net: Decimal
    tax: Decimal
    total: Decimal
    paid_fine_g: dict[str, Decimal]
    returned_g: dict[str, Decimal]


def price(work: Work, alloy: Alloy, kind: Metal, factor: float, shop: Shop, habits: Habits, digits: int) -> Priced:
    """The price of the ring in an alloy whose masses are ``factor`` times those of ``work``."""
    metal_lines, paid, returned = _metal(work, alloy, kind, factor, habits, digits)
    metal_own = _sum(metal_lines)
    metal_lines.append(_percent("metal-mark-up", "Mark-up on metal", metal_own, shop.metal_margin_percent, digits))
    stone_lines = [_stone(stone, digits) for stone in work.stones]
    stones_own = _sum(stone_lines)
    if stones_own:
        stone_lines.append(
            _percent("stone-mark-up", "Mark-up on the shop's stones", stones_own, shop.stone_margin_percent, digits)
        )
    lines = [*metal_lines, *stone_lines, *_labour(work, shop, digits)]
    if work.assayed:
        lines.append(_plain("assay", "Assay and postage", to_minor(shop.assay_fee, digits)))
    lines.extend(_plain("extra", extra.title, to_minor(extra.amount, digits)) for extra in work.extras)
    cost = _sum(lines)
    margin_share = exact(shop.margin_percent) / 100
    margin = to_minor(cost * margin_share / (1 - margin_share), digits)
    net = cost + margin
    lines.append(
        QuoteLine(
            key="margin",
            title="Margin",
            quantity=exact(shop.margin_percent),
            unit="%",
            rate=net,
            amount=margin,
            note="percent of the price before tax",
        )
    )
    tax = share(net, shop.tax_percent, digits)
    lines.append(_percent("tax", "Tax", net, shop.tax_percent, digits))
    return Priced(
        lines=tuple(lines),
        metal_own=metal_own,
        metal_all=_sum(metal_lines),
        stones_own=stones_own,
        cost=cost,
        margin=margin,
        net=net,
        tax=tax,
        total=net + tax,
        paid_fine_g=paid,
        returned_g=returned,
    )


def _metal(
    work: Work, alloy: Alloy, kind: Metal, factor: float, habits: Habits, digits: int
) -> tuple[list[QuoteLine], dict[str, Decimal], dict[str, Decimal]]:
    """The ring's metal, what is lost for good, and the client's own metal taken off; fine grams paid and left over."""
    masses = (
        ("metal", f"{alloy.title} in the finished ring", work.mass_g.value * factor, ""),
        (
            "melt-loss",
            "Loss in melting",
            work.charge_g * factor * habits.melt_loss_percent / 100,
            f"{habits.melt_loss_percent:g} % of the charge; button and sprue come back",
        ),
        (
            "bench-loss",
            "Loss at the bench",
            work.cast_g * factor * habits.bench_loss_percent / 100,
            f"{habits.bench_loss_percent:g} % of the casting; filings and sweeps come back",
        ),
    )
    lines, needed = [], Decimal(0)
    for key, title, mass, note in masses:
        weighed = grams(mass)
        needed += weighed
        amount = to_minor(weighed * kind.per_g, digits)
        lines.append(
            QuoteLine(key=key, title=title, quantity=weighed, unit="g", rate=kind.per_g, amount=amount, note=note)
        )
    fine = kind.fine_g(needed)
    own = {element: grams(mass) for element, mass in work.client_fine_g.items() if mass > 0}
    taken = {element: min(mass, fine.get(element, Decimal(0))) for element, mass in own.items()}
    if own:
        worth = sum((taken[e] * kind.prices[e] for e in taken if taken[e]), start=Decimal(0))
        told = ", ".join(f"{to_minor(mass, 2)} g {element}" for element, mass in taken.items() if mass)
        lines.append(
            QuoteLine(
                key="own-metal",
                title="Client's own metal",
                quantity=None,
                unit="",
                rate=None,
                amount=-min(to_minor(worth, digits), _sum(lines)),
                note=f"taken off: {told}" if told else "none of it goes into this alloy",
            )
        )
    paid = {element: mass - taken.get(element, Decimal(0)) for element, mass in fine.items()}
    left = {element: own[element] - taken[element] for element in own if own[element] > taken[element]}
    return lines, paid, left


def _stone(stone: PricedStone, digits: int) -> QuoteLine:
    """A stone's line: the client's own stands there at zero."""
    title = f"Stone {stone.name}, {stone.material}"
    if stone.owner is Owner.CLIENT:
        note = "the client's own, set at the client's risk; its condition is noted at intake"
        return _plain("own-stone", title, to_minor(Decimal(0), digits), note)
    if stone.cost is None:
        return _plain("unpriced-stone", title, to_minor(Decimal(0), digits), "not priced yet")
    return _plain("stone", title, to_minor(stone.cost, digits))


def _labour(work: Work, shop: Shop, digits: int) -> list[QuoteLine]:
    """Bench hours, setting, and the overhead on both."""
    found = []
    setting_rate = shop.hour_rate if shop.setting_rate is None else shop.setting_rate
    for key, title, hours, rate in (
        ("bench", "Bench hours", work.bench_h, shop.hour_rate),
        ("setting", "Setting", work.setting_h, setting_rate),
    ):
        if hours.value > 0 or key == "bench":
            spent = to_minor(exact(round(hours.value, 4)), 2)
            amount = to_minor(spent * rate, digits)
            found.append(QuoteLine(key=key, title=title, quantity=spent, unit="h", rate=rate, amount=amount))
    found.append(_percent("overhead", "Overhead on labour", _sum(found), shop.overhead_percent, digits))
    return found


def _plain(key: str, title: str, amount: Decimal, note: str = "") -> QuoteLine:
    """A line that is just an amount."""
    return QuoteLine(key=key, title=title, quantity=None, unit="", rate=None, amount=amount, note=note)


def _percent(key: str, title: str, of: Decimal, percent: float, digits: int) -> QuoteLine:
    """A line of so many percent of a sum."""
    return QuoteLine(
        key=key, title=title, quantity=exact(percent), unit="%", rate=of, amount=share(of, percent, digits)
    )


def _sum(lines: Sequence[QuoteLine]) -> Decimal:
    """The sum of the lines' amounts."""
    return sum((line.amount for line in lines), start=Decimal(0))
