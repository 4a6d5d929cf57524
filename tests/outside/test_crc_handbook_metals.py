"""The elements against the CRC Handbook, and two checks that join several of its tables."""

from __future__ import annotations

import pytest

from ringwright.steps.metal import mixing
from ringwright.terms.facts import used
from tests.agrees import agrees
from tests.steps.metal_facts import ELEMENTS, FACTS

CRC = "CRC Handbook of Chemistry and Physics"
HEATS = {row.key: used(FACTS.element_heats, row.key) for row in FACTS.element_heats}


@pytest.mark.parametrize(
    ("symbol", "kJ_mol"), [("Au", 12.55), ("Ag", 11.30), ("Cu", 13.26), ("Pt", 22.18), ("Pd", 16.74)]
)
def test_heat_of_fusion(symbol: str, kJ_mol: float) -> None:
    element = ELEMENTS[symbol]
    ours = (element.latent_kJ_kg or 0) * element.atomic_mass / 1000
    agrees(
        ours, kJ_mol, within=0.005, source=f"{CRC}, enthalpy of fusion", what=f"heat of fusion of {symbol} in kJ/mol"
    )


def test_liquid_gold_at_1200_C() -> None:
    ours = mixing.liquid_density({"Au": 1.0}, ELEMENTS, 1200)
    assert ours is not None
    agrees(ours, 17.13, within=0.005, source=f"{CRC}, density of molten elements", what="liquid gold at 1200 °C, g/cm3")


@pytest.mark.parametrize("symbol", ["Au", "Ag", "Cu", "Pt", "Pd", "Zn"])
def test_two_handbooks_agree_on_the_heat_capacity_at_25_C(symbol: str) -> None:
    ours = mixing.cp_at({symbol: 1.0}, ELEMENTS, HEATS, 25.0)
    source = f"{CRC}, heat capacity of the elements at 25 °C, against Perry's formula"
    agrees(ours, ELEMENTS[symbol].cp_J_kgK, within=0.045, source=source, what=f"cp of solid {symbol}, J/(kg K)")


@pytest.mark.parametrize("symbol", ["Au", "Ag", "Cu"])
def test_wiedemann_and_franz_hold_for_the_liquid_metals(symbol: str) -> None:
    resistivity = {"Au": 31.2e-8, "Ag": 17.25e-8, "Cu": 21.1e-8}[symbol]
    ours = ELEMENTS[symbol].k_liquid_W_mK or 0
    law = 2.44e-8 * (ELEMENTS[symbol].melting_C + 273.15) / resistivity
    source = "Wiedemann-Franz law; liquid resistivity from memory: Iida and Guthrie, 1988"
    agrees(ours, law, within=0.05, source=source, what=f"conductivity of liquid {symbol}, W/(m K)")


def test_sterling_at_25_C_by_neumann_and_kopp() -> None:
    ours = mixing.cp_at({"Ag": 92.5, "Cu": 7.5}, ELEMENTS, {}, 25.0)
    agrees(ours, 245, within=0.01, source="materials data page of sterling silver", what="cp of sterling, J/(kg K)")


def test_gold_and_copper_are_nearly_one_atom_to_one() -> None:
    shares = mixing.mole_shares({"Au": 75, "Cu": 25}, ELEMENTS)
    source = "exact: mass shares over IUPAC atomic masses; the ordered phase AuCu"
    agrees(100 * shares["Au"], 49.2, within=0.1, absolute=True, source=source, what="atoms of gold in 75 Au 25 Cu, %")


def test_liquid_18_carat() -> None:
    ours = mixing.liquid_density({"Au": 75, "Ag": 12.5, "Cu": 12.5}, ELEMENTS, 890)
    assert ours is not None
    source = "Int. J. Thermophys. 27 (2006) 494: no excess volume; CRC liquid densities"
    agrees(ours, 14.01, within=0.01, source=source, what="liquid 75/12.5/12.5 at 890 °C, g/cm3")
