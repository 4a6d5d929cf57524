"""Makers' data sheets of cast gold alloys (ISO 22674 and others): the whole set of figures of one casting."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ringwright.steps import metal
from ringwright.steps.metal import mixing
from ringwright.terms.workshop import Lot, StockKind
from tests.agrees import agrees
from tests.steps.metal_facts import ELEMENTS, FACTS, recipe, resolve, row_of

SHEETS = "two makers' data sheets to ISO 22674"
RED = "a maker's data sheet of an 18 carat red casting alloy"


@pytest.mark.parametrize(("key", "published", "within"), [("au780-cast", 16.7, 0.015), ("au570-cast", 14.2, 0.025)])
def test_ideal_density(key: str, published: float, within: float) -> None:
    ours = mixing.ideal_density(row_of(key).composition, ELEMENTS)
    agrees(ours, published, within=within, source=SHEETS, what=f"ideal density in g/cm3 of {key}")


@pytest.mark.parametrize(("key", "soft"), [("au780-cast", 285), ("au570-cast", 365)])
def test_yield_strength_from_hardness(key: str, soft: float) -> None:
    rule = next(row for row in FACTS.metal_rules if row.key == "yield-from-hardness")
    ours = (rule.yield_per_hardness_MPa_HV or 0) * resolve(key).result.hardness_HV
    source = f"{SHEETS}; band of 45 MPa: Scand. J. Dent. Res. 1977"
    agrees(ours, soft, within=45, absolute=True, source=source, what=f"yield strength of {key} from its hardness, MPa")


def test_yield_strength_of_the_red_alloy_from_hardness() -> None:
    rule = next(row for row in FACTS.metal_rules if row.key == "yield-from-hardness")
    ours = (rule.yield_per_hardness_MPa_HV or 0) * 182
    agrees(ours, 378, within=45, absolute=True, source=RED, what="yield strength of 18 carat red from 182 HV, MPa")


def test_red_18_carat_from_fine_gold_and_its_master() -> None:
    fine = Lot(name="gold", kind=StockKind.FINE, mass_g=100, composition={"Au": 1000})
    master = Lot(name="master", kind=StockKind.MASTER, mass_g=100, composition={"Cu": 920, "Ag": 60, "Zn": 20})
    outcome = recipe(row_of("18k-red-casting"), 40.0, lots=(fine, master), fine_at_hand=False)
    assert {part.material: part.mass_g for part in outcome.result.parts} == {"gold": 30.0, "master": 10.0}
    for symbol, percent in {"Au": 75, "Cu": 23, "Ag": 1.5, "Zn": 0.5}.items():
        ours = outcome.result.composition[symbol]
        agrees(ours, percent, within=1e-6, source=RED, what=f"{symbol} in 18 carat red from its master alloy, %")


def test_yellow_18_carat_from_its_master() -> None:
    sheet = "a maker's data sheet of an 18 carat yellow master alloy"
    printed = {"Au": 75, "Cu": 13.25, "Ag": 11, "Zn": 0.75}
    fine = Lot(name="gold", kind=StockKind.FINE, mass_g=100, composition={"Au": 1000})
    master = Lot(name="master", kind=StockKind.MASTER, mass_g=100, composition={"Cu": 530, "Ag": 440, "Zn": 30})
    alloy = replace(row_of("18k-3n"), composition=printed)
    outcome = recipe(alloy, 40.0, lots=(fine, master), fine_at_hand=False)
    for symbol, percent in printed.items():
        ours = outcome.result.composition[symbol]
        agrees(ours, percent, within=1e-6, source=sheet, what=f"{symbol} in 18 carat yellow from its master, %")


def test_charge_from_the_wax() -> None:
    ours = metal.mass_in(1.20, 1.0, 18.8)
    sheet = "a maker's data sheet of a high-gold casting alloy (charge = 18.8 x wax)"
    agrees(ours, 22.56, within=0.01, absolute=True, source=sheet, what="metal for 1.20 g of wax, g")


@pytest.mark.parametrize("key", ["14k-ni12", "18k-ni17"])
def test_nickel_white_is_not_quenched(key: str) -> None:
    advice = resolve(key, casting=False).result.quench
    assert "air" in advice and "do not quench while red" in advice
