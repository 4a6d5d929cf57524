"""Hardness of annealed platinum alloys: the regression of patent WO 2022/074363, against published alloys."""

from __future__ import annotations

import pytest

from ringwright.steps import metal
from tests.agrees import agrees
from tests.steps.metal_facts import FACTS

PATENT = "patent WO 2022/074363, published regression"


@pytest.mark.parametrize(
    ("composition", "published"),
    [
        ({"Pt": 95, "Ru": 5}, 126),
        ({"Pt": 95, "Ir": 5}, 92),
        ({"Pt": 90, "Ir": 10}, 125),
        ({"Pt": 95, "Cu": 5}, 132),
        ({"Pt": 95, "Co": 5}, 153),
        ({"Pt": 95.5, "Ga": 3, "In": 1.5}, 231),
    ],
)
def test_the_regression_is_read_rightly(composition: dict[str, float], published: float) -> None:
    ours = metal.platinum_hardness("platinum", composition, FACTS.hardness_terms)
    assert ours is not None
    what = "hardness of " + " ".join(f"{s} {x:g}" for s, x in composition.items()) + ", HV"
    agrees(ours, published, within=1, absolute=True, source=PATENT, what=what)


@pytest.mark.parametrize(
    ("composition", "table"),
    [
        ({"Pt": 95, "Ru": 5}, 120),
        ({"Pt": 95, "Cu": 5}, 115),
        ({"Pt": 95.5, "Ga": 3, "In": 1.5}, 225),
        ({"Pt": 95, "Ir": 5}, 80),
        ({"Pt": 90, "Ir": 10}, 110),
        ({"Pt": 95, "Co": 5}, 135),
    ],
)
def test_it_agrees_with_published_alloys(composition: dict[str, float], table: float) -> None:
    ours = metal.platinum_hardness("platinum", composition, FACTS.hardness_terms)
    assert ours is not None
    source = "Platinum Metals Review and trade tables of platinum alloys"
    what = "annealed hardness against tables, " + " ".join(f"{s} {x:g}" for s, x in composition.items()) + ", HV"
    agrees(ours, table, within=20, absolute=True, source=source, what=what)


def test_it_says_nothing_of_other_metals_and_unknown_elements() -> None:
    assert metal.platinum_hardness("palladium", {"Pd": 95, "Ru": 5}, FACTS.hardness_terms) is None
    assert metal.platinum_hardness("platinum", {"Pt": 95, "W": 5}, FACTS.hardness_terms) is None
