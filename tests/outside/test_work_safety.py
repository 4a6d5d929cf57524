"""Published limits of the work: 29 CFR 1910.1053 (silica), IEC 60079-20-1:2010 (isopropanol), OSHA (sulfur dioxide)."""

from __future__ import annotations

from functools import cache

from ringwright.facts import load
from ringwright.terms.bench import HazardFact
from ringwright.terms.facts import used
from tests.agrees import agrees


@cache
def hazard(key: str) -> HazardFact:
    return used(load().hazards, key)


def test_silica() -> None:
    row = hazard("silica")
    rule = "29 CFR 1910.1053, respirable crystalline silica"
    agrees(row.limit_ug_m3 or 0, 50, within=1e-9, source=rule, what="silica, limit over 8 h, µg/m³")
    agrees(row.action_ug_m3 or 0, 25, within=1e-9, source=rule, what="silica, action level over 8 h, µg/m³")


def test_isopropanol() -> None:
    row = hazard("isopropanol")
    iec = "IEC 60079-20-1:2010, propan-2-ol"
    agrees((row.flash_C or 0) + 273.15, 285.15, within=1e-6, source=iec, what="isopropanol, flash point, K")
    agrees((row.ignites_C or 0) + 273.15, 672.15, within=1e-6, source=iec, what="isopropanol, lights by itself, K")
    # A spill of 10 mL (0.785 g/mL, 60.1 g/mol, 24.06 L/mol at 20 °C) fills this much air to the lower share.
    litres = 10 * 0.785 / 60.1 * 24.06 / ((row.lower_percent or 0) / 100)
    agrees(
        litres / 1000,
        0.157,
        within=0.01,
        source="exact: ideal gas at 20 °C",
        what="10 mL isopropanol to 2 % of air, m³",
    )


def test_sulfur_dioxide() -> None:
    # 2 ppm of SO2 (64.07 g/mol) at 25 °C is 5.24 mg/m³, so the limit of 5 ppm is 13.1.
    agrees(
        (hazard("sulfur-dioxide").limit_ppm or 0) * 64.07 / 24.47,
        5.24 * 2.5,
        within=0.01,
        source="OSHA limit of 5 ppm; 2 ppm = 5.24 mg/m³ as published beside it",
        what="sulfur dioxide, limit, mg/m³",
    )
