"""What the ring must cost: rows of the facts, and the figures that the step ``price`` yields."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from ringwright.terms.commission import Owner
from ringwright.terms.fact import Row
from ringwright.terms.quantity import Estimate, Figure


@dataclass(frozen=True, kw_only=True)
class CurrencyFact(Row):
    """A currency (key = its three letters) and the decimals of its smallest unit."""

    title: str
    minor_digits: int


@dataclass(frozen=True, kw_only=True)
class PricePracticeFact(Row):
    """What is usual in quotes, as a range of days or percent."""

    title: str
    practice_low_days: float | None = None
    practice_high_days: float | None = None
    practice_low_percent: float | None = None
    practice_high_percent: float | None = None


@dataclass(frozen=True, kw_only=True)
class PricedStone:
    """A stone as the quote sees it."""

    name: Annotated[str, Figure("", 0, "The stone's name in this commission")]
    material: Annotated[str, Figure("", 0, "Gem material")]
    owner: Annotated[Owner, Figure("", 0, "client or shop")]
    cost: Annotated[Decimal | None, Figure("money", 2, "What the shop pays for it")] = None


@dataclass(frozen=True, kw_only=True)
class Extra:
    """A further cost that the shop adds by hand."""

    title: Annotated[str, Figure("", 0, "What it is")]
    amount: Annotated[Decimal, Figure("money", 2, "Its cost")]


@dataclass(frozen=True, kw_only=True)
class QuoteLine:
    """One part of the price. All lines of a quote add up to its total, to the smallest unit."""

    key: Annotated[str, Figure("", 0, "Kind of line")]
    title: Annotated[str, Figure("", 0, "What it is for")]
    quantity: Annotated[Decimal | None, Figure("", 2, "How much, in the line's unit")]
    unit: Annotated[str, Figure("", 0, "g, h, % or empty")]
    rate: Annotated[Decimal | None, Figure("money", 4, "Price of one unit; for % the sum that it is taken of")]
    amount: Annotated[Decimal, Figure("money", 2, "Amount")]
    note: Annotated[str, Figure("", 0, "Remark on the line")] = ""


@dataclass(frozen=True, kw_only=True)
class MetalMove:
    """How far the total follows the price of one fine metal."""

    metal: Annotated[str, Figure("", 0, "Element symbol")]
    fine_g: Annotated[Decimal, Figure("g", 3, "Fine metal that the client pays for")]
    per_g: Annotated[Decimal, Figure("money", 2, "Price of a gram in this quote")]
    per_percent: Annotated[Decimal, Figure("money", 2, "Change of the total for 1 % of this price")]
    spread_percent: Annotated[float, Figure("%", 1, "How far the price may move while the offer holds")]
    with_spread: Annotated[Decimal, Figure("money", 2, "Change of the total for that move")]


@dataclass(frozen=True, kw_only=True)
class AlloyOffer:
    """The same ring in an alloy: the same volume, another density, all else as quoted."""

    alloy: Annotated[str, Figure("", 0, "Key of the alloy in the facts")]
    title: Annotated[str, Figure("", 0, "Alloy")]
    chosen: Annotated[bool, Figure("", 0, "Whether it is the alloy of the commission")]
    mass_g: Annotated[Decimal, Figure("g", 2, "Mass of the finished ring's metal")]
    per_g: Annotated[Decimal, Figure("money", 4, "Price of a gram of the alloy by its fine metals")]
    metal: Annotated[Decimal, Figure("money", 2, "Metal with losses and mark-up")]
    total: Annotated[Decimal, Figure("money", 2, "Total with tax")]
    difference: Annotated[Decimal, Figure("money", 2, "More or less than the chosen alloy")]
    in_budget: Annotated[bool | None, Figure("", 0, "Whether it keeps to the budget, where there is one")] = None


@dataclass(frozen=True, kw_only=True)
class Quote:
    """The offer, every part of it shown."""

    currency: Annotated[str, Figure("", 0, "Currency")]
    lines: Annotated[tuple[QuoteLine, ...], Figure("", 0, "Parts of the price, tax last")]
    cost: Annotated[Decimal, Figure("money", 2, "Cost before margin and tax")]
    margin: Annotated[Decimal, Figure("money", 2, "Margin")]
    margin_percent: Annotated[float, Figure("%", 1, "Margin in percent of the price before tax")]
    markup_percent: Annotated[float, Figure("%", 1, "The same margin in percent of the cost")]
    net: Annotated[Decimal, Figure("money", 2, "Price before tax", chief=True)]
    tax: Annotated[Decimal, Figure("money", 2, "Tax")]
    total: Annotated[Decimal, Figure("money", 2, "Total with tax", chief=True)]
    total_plus_minus: Annotated[
        Decimal, Figure("money", 2, "Spread of the total by mass, hours and metal prices, about 95 %", chief=True)
    ]
    deposit: Annotated[Decimal, Figure("money", 2, "Deposit", chief=True)]
    balance: Annotated[Decimal, Figure("money", 2, "Balance on handing over")]
    offered_on: Annotated[dt.date, Figure("", 0, "Day of the offer")]
    offer_ends: Annotated[dt.date, Figure("", 0, "Last day on which the offer holds", chief=True)]
    materials: Annotated[Decimal, Figure("money", 2, "Metal with losses and the shop's stones, as they cost the shop")]
    moves: Annotated[tuple[MetalMove, ...], Figure("", 0, "How far the total follows each metal")]
    offers: Annotated[tuple[AlloyOffer, ...], Figure("", 0, "Alloys side by side, the chosen one first")]
    returned_g: Annotated[dict[str, Decimal], Figure("g", 3, "Client's fine metal that is left over")]
    mass_g: Annotated[Estimate, Figure("g", 2, "Mass of the finished ring's metal")]
    budget: Annotated[Decimal | None, Figure("money", 2, "The client's budget, tax included")] = None
    rounding: Annotated[str, Figure("", 0, "How amounts are rounded")] = ""
