"""Raising, lowering and converting: worked figures of bench pages and charts."""

from __future__ import annotations

from ringwright.steps import metal
from tests.agrees import agrees
from tests.steps.metal_facts import ELEMENTS

BENCH = "a bench page's worked example, by a named practitioner"
CHART = "a trade conversion chart"
BALANCE = "exact: balance of the fine metal"


def test_an_ounce_of_fine_gold_to_18_carat() -> None:
    added = metal.to_reach(31.1, 1000, 750, adding_permille=0)
    agrees(added, 10.37, within=0.02, absolute=True, source=BENCH, what="alloy to 31.1 g of fine gold for 750, g")
    agrees(31.1 + added, 41.46, within=0.02, absolute=True, source=BENCH, what="18 carat from 31.1 g of fine gold, g")


def test_ten_grams_of_585_raised_to_750() -> None:
    ours = metal.to_reach(10, 585, 750, adding_permille=1000)
    agrees(ours, 6.60, within=0.01, absolute=True, source=BALANCE, what="fine gold to raise 10 g from 585 to 750, g")


def test_ten_grams_of_750_let_down_to_585() -> None:
    ours = metal.to_reach(10, 750, 585, adding_permille=0)
    agrees(ours, 2.82, within=0.01, absolute=True, source=BALANCE, what="alloy to let 10 g down from 750 to 585, g")


def test_a_sterling_ring_in_14_carat() -> None:
    ours = metal.mass_in(4, 10.40, 13.07)
    agrees(ours, 5.03, within=0.003, source=CHART, what="4 dwt of sterling in 14 carat yellow, dwt")


def test_a_wax_in_platinum() -> None:
    ours = metal.mass_in(0.7, 1.0, 21.45)
    agrees(ours, 15.02, within=0.01, absolute=True, source=CHART, what="0.7 dwt of wax in platinum, dwt")


def test_sterling_to_18_carat_factor() -> None:
    ours = metal.mass_in(1, 10.40, 15.45)
    agrees(ours, 1.49, within=0.01, source=CHART + "s, two of them (1.48 to 1.50)", what="factor sterling to 18 carat")


def test_gold_share_from_the_density_of_a_gold_copper_alloy() -> None:
    ours = 100 * metal.share_of_two(11.53, ELEMENTS["Au"].density_g_cm3, ELEMENTS["Cu"].density_g_cm3)
    source = "a published binary check (11.53 g/cm3: 41.6 to 41.7 % gold)"
    agrees(ours, 41.6, within=0.2, absolute=True, source=source, what="gold in a gold-copper alloy of 11.53 g/cm3, %")
