"""Powder, water and yield of investment: data sheets, charts and a specialist's worked example."""

from __future__ import annotations

import math

from ringwright.steps import tree
from ringwright.terms.facts import used
from tests.agrees import agrees
from tests.steps.pattern_facts import GYPSUM
from tests.steps.tree_facts import FACTS

SHEET = "a maker's data sheet for a gypsum-bonded jewellery powder (maker not named)"
SPECIALIST = "an investment maker's specialist, worked example on a bench forum"
CHART = "a trade flask chart, 2.5 x 3 in: 12 oz of powder"
ALTITUDE = "a bench rule for high altitude: 20 times diameter squared times height, in inches"
INCH = 25.4


def test_a_kilogram_of_powder_gives_its_slurry() -> None:
    agrees(GYPSUM.slurry_L_per_kg(38.0), 0.795, within=0.01, source=SHEET, what="slurry of 1 kg of powder at 38:100, L")
    agrees(GYPSUM.slurry_density_g_cm3(38.0), 1.736, within=0.01, source=SHEET, what="slurry density at 38:100, g/cm3")


def test_water_for_four_pounds() -> None:
    powder = 1816.0
    m = tree.mix(powder * GYPSUM.slurry_L_per_kg(40.0), GYPSUM, 40.0)
    agrees(m.water_net_g, 726.4, within=0.1, absolute=True, source=SPECIALIST, what="water for 1816 g of powder, g")


def test_the_rule_for_high_altitude() -> None:
    powder, water = tree.by_rule(3.5 * INCH, 4 * INCH, used(FACTS.powder_rules, "20 D2H"))
    assert water is not None
    agrees(powder, 980.0, within=0.1, absolute=True, source=ALTITUDE, what="powder for a flask of 3.5 x 4 in, g")
    agrees(water, 431.0, within=0.3, absolute=True, source=ALTITUDE, what="water for a flask of 3.5 x 4 in, g")


def test_a_flask_of_two_and_a_half_by_three_inches() -> None:
    volume = tree.flask_cm3(2.5 * INCH, 3 * INCH)
    m = tree.mix(volume, GYPSUM, 40.0)
    agrees(m.powder_net_g, 296.0, within=0.005, source=SHEET + ", yield at 40:100", what="powder net, 2.5 x 3 in, g")
    agrees(m.powder_g, 340.0, within=0.02, source=CHART, what="powder with reserve, 2.5 x 3 in, g")
    chart, water = tree.by_rule(2.5 * INCH, 3 * INCH, used(FACTS.powder_rules, "chart 2.5 x 3 in"))
    assert water is not None
    agrees(chart, 340.2, within=0.01, source=CHART, what="chart's powder from its row, g")
    agrees(water, 136.0, within=0.01, source=CHART, what="chart's water from its row, g")


def test_fired_density_by_porosity_and_by_mass() -> None:
    true = 2.5
    agrees(GYPSUM.fired_density_g_cm3, true * (1 - GYPSUM.porosity_percent / 100), within=0.01,
           source="J. Dentistry 1989, porosity of vacuum mixed gypsum moulds; textbook density of silica and sulfate",
           what="fired density from porosity, g/cm3")  # fmt: skip
    left = 1.0 + GYPSUM.water_per_100 / 100 - 0.40 - 0.017
    source = "exact: mass balance of the mix, hemihydrate's water lost"
    ours = GYPSUM.fired_density_g_cm3
    agrees(ours, left / GYPSUM.slurry_L_per_kg(), within=0.03, source=source, what="fired density by mass, g/cm3")


def test_conductivity_of_a_porous_mould() -> None:
    phi = GYPSUM.porosity_percent / 100
    rule = 2.5 * math.exp(-1.5 * phi / (1 - phi))
    source = "shell-mould paper, relative conductivity exp(-1.5 phi/(1-phi)), dense silica 2.5 W/mK"
    agrees(GYPSUM.k_W_mK[0], rule, within=0.06, source=source, what="conductivity of the fired mould, W/mK")
