"""Densities by ideal mixing, and those that are used, against the charts that the trade prints."""

from __future__ import annotations

import pytest

from ringwright.steps import metal
from ringwright.steps.metal import mixing
from tests.agrees import agrees
from tests.steps.metal_facts import ELEMENTS, FACTS, row_of

CHARTS = "trade density charts, two independent pages"


@pytest.mark.parametrize(
    ("composition", "published", "within", "source"),
    [
        ({"Au": 75, "Ag": 12.5, "Cu": 12.5}, 15.45, 0.003, "trade-council alloy tables, from memory"),
        ({"Au": 75, "Ag": 16, "Cu": 9}, 15.59, 0.003, CHARTS + " (15.58 and 15.60)"),
        ({"Au": 75, "Ag": 25}, 15.90, 0.005, CHARTS),
        ({"Au": 75, "Ag": 4.5, "Cu": 20.5}, 15.18, 0.005, CHARTS),
        ({"Au": 58.5, "Ag": 9, "Cu": 32.5}, 13.26, 0.006, CHARTS),
        ({"Au": 75, "Ni": 17.3, "Zn": 5.5, "Cu": 2.2}, 14.64, 0.006, CHARTS),
        ({"Pt": 90, "Ir": 10}, 21.54, 0.003, CHARTS),
        ({"Pt": 95, "Ir": 5}, 21.49, 0.003, "published data of platinum alloys"),
        ({"Ag": 92.5, "Cu": 7.5}, 10.36, 0.002, "materials data page of sterling silver"),
        ({"Au": 91.67, "Cu": 8.33}, 17.6, 0.003, "gold coinage of 22 carat, published density"),
    ],
)
def test_ideal_mixing(composition: dict[str, float], published: float, within: float, source: str) -> None:
    ours = mixing.ideal_density(composition, ELEMENTS)
    what = "ideal density in g/cm3 of " + " ".join(f"{s} {x:g}" for s, x in composition.items())
    agrees(ours, published, within=within, source=source, what=what)


@pytest.mark.parametrize(
    ("key", "published"),
    [("18k-2n", 15.58), ("18k-5n", 15.18), ("14k-red", 13.26), ("14k-casting", 13.08), ("10k-yellow", 11.60)],
)
def test_the_density_that_is_used(key: str, published: float) -> None:
    ours = metal.density(key, FACTS.alloys, FACTS.elements, rules=FACTS.metal_rules)
    agrees(ours.value_g_cm3, published, within=0.005, source=CHARTS, what=f"density in g/cm3 of {key}")
    assert abs(ours.value_g_cm3 - published) <= ours.plus_minus_g_cm3


def test_9_carat_yellow_lies_in_the_printed_range() -> None:
    ours = metal.density("9k-yellow", FACTS.alloys, FACTS.elements, rules=FACTS.metal_rules).value_g_cm3
    source = "a public page that quotes the trade council (10.9 to 11.4)"
    agrees(ours, 11.15, within=0.25, absolute=True, source=source, what="density in g/cm3 of 9k-yellow")


@pytest.mark.parametrize(
    ("composition", "shares"),
    [
        ({"Au": 75, "Ag": 16, "Cu": 9}, {"Au": 61, "Ag": 24, "Cu": 16}),
        ({"Au": 37.5, "Ag": 10, "Cu": 45, "Zn": 7.5}, {"Au": 22, "Ag": 11, "Cu": 56, "Zn": 12}),
    ],
)
def test_volume_shares(composition: dict[str, float], shares: dict[str, float]) -> None:
    ours = mixing.volume_shares(composition, ELEMENTS)
    for symbol, published in shares.items():
        agrees(
            100 * ours[symbol],
            published,
            within=1,
            absolute=True,
            source="a public page that prints volume shares beside the recipe",
            what=f"volume share in % of {symbol} in Au {composition['Au']:g}",
        )


def test_the_usual_error_of_weighting_by_mass_is_not_made() -> None:
    ours = mixing.ideal_density({"Au": 75, "Ag": 25}, ELEMENTS)
    agrees(
        ours,
        15.96,
        within=0.003,
        source="textbook item, by volumes (by mass it would be 17.11)",
        what="density, 75 Au 25 Ag",
    )


def test_rows_of_the_facts_say_what_the_charts_say() -> None:
    agrees(
        row_of("ag925").density_g_cm3 or 0, 10.38, within=0.003, source=CHARTS + " (10.36 to 10.40)", what="sterling"
    )
