"""Metal in a price: definitions of the troy ounce and the carat, and worked examples of the trade."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from ringwright.steps.price import price_per_g
from ringwright.terms.quantity import Estimate
from ringwright.terms.workshop import FinePrice
from tests.agrees import agrees
from tests.steps.test_bench import alloy
from tests.steps.test_price import SHOP, ask


def test_a_gram_of_750_from_an_ounce_of_gold() -> None:
    """A gram of alloy = an ounce of fine gold / 31.1034768 x fineness, where silver and copper are ignored."""
    ounce = Decimal("1866.208608")  # 60 a gram
    prices = (
        FinePrice(metal="Au", per_g=ounce / Decimal("31.1034768")),
        FinePrice(metal="Ag", per_g=Decimal(0)),
        FinePrice(metal="Cu", per_g=Decimal(0)),
    )
    agrees(
        float(price_per_g(alloy(), prices)),
        1866.208608 / 31.1034768 * 0.75,
        within=1e-6,
        source="exact: definition of the troy ounce, 480 grains of 64.79891 mg",
        what="price of a gram of 750 gold, share of the price of an ounce",
    )


def test_margin_and_mark_up() -> None:
    result = ask(shop=replace(SHOP, margin_percent=50)).result
    agrees(
        result.markup_percent,
        100,
        within=1e-9,
        source="exact: a margin of half the price is a mark-up of the whole cost",
        what="mark-up of a margin of 50 %, %",
    )
    agrees(
        float(result.net / result.cost), 2, within=1e-4, source="exact: keystone", what="price over cost at 50 % margin"
    )


def test_metal_in_another_alloy_by_density() -> None:
    """Mass in another metal = mass x density ratio: 4 dwt of sterling is 5.03 dwt of 14k at 13.07 (sterling 10.40)."""
    silver = alloy(key="ag925", density_g_cm3=Estimate(10.40, 0), composition={"Ag": 92.5, "Cu": 7.5})
    fourteen = alloy(key="14k", density_g_cm3=Estimate(13.07, 0), composition={"Au": 58.5, "Ag": 20.5, "Cu": 21.0})
    dwt = 1.55517384
    result = ask(
        alloy=silver, compare=(fourteen,), mass_g=Estimate(40 * dwt, 0), cast_g=42 * dwt, charge_g=80 * dwt
    ).result
    agrees(
        float(result.offers[1].mass_g) / 10 / dwt,
        5.02,
        within=0.003,
        source="a trade density chart's worked example: sterling 4 dwt in 14k yellow is 5.02 dwt",
        what="a sterling ring of 4 dwt in 14k yellow, dwt",
    )
