"""The metal charge: a data sheet's factor and the trade's rules."""

from __future__ import annotations

from ringwright.steps import tree
from tests.agrees import COMMON_PRACTICE, agrees


def test_charge_for_a_wax() -> None:
    source = "an alloy maker's data sheet: mass of the wax times the density"
    ours = tree.metal_for(1.20, 1.0, 18.8)
    agrees(ours, 22.56, within=0.01, absolute=True, source=source, what="metal for 1.20 g of wax, g")


def test_a_wax_in_platinum() -> None:
    agrees(tree.metal_for(0.7, 1.0, 21.45), 15.02, within=0.01, absolute=True, source="a trade conversion chart",
           what="0.7 dwt of wax in platinum, dwt")  # fmt: skip


def test_the_college_rule_for_sterling() -> None:
    # The rule multiplies the wax by 11: wax of 0.95 g/cm3 in sterling of 10.36.
    source = COMMON_PRACTICE + ": a college's sheet, wax times 11"
    agrees(tree.metal_for(1.0, 0.95, 10.36), 11.0, within=0.02, source=source, what="sterling for 1 g of wax, g")
