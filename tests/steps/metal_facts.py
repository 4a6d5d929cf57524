"""The tables that the step metal needs, and its verbs with them."""

from __future__ import annotations

from typing import Any

from ringwright.steps import metal
from ringwright.terms.alloy import Alloy, AlloyFact, ElementFact
from ringwright.terms.facts import used
from ringwright.terms.metal import Recipe
from ringwright.terms.outcome import Outcome
from tests.tables import tables

FACTS = tables(
    "elements",
    "alloys",
    "element_heats",
    "metal_rules",
    "metal_limits",
    "fine_metals",
    "hardness_terms",
    "hardening_classes",
    "metal_colours",
)
ELEMENTS: dict[str, ElementFact] = {row.key: used(FACTS.elements, row.key) for row in FACTS.elements}
KEYS = tuple(dict.fromkeys(row.key for row in FACTS.alloys))


def row_of(key: str) -> AlloyFact:
    return used(FACTS.alloys, key, "alloy")


def resolve(key: str, alloys: tuple[AlloyFact, ...] = FACTS.alloys, **more: Any) -> Outcome[Alloy]:
    return metal.resolve(
        key,
        alloys,
        FACTS.elements,
        heats=FACTS.element_heats,
        rules=FACTS.metal_rules,
        limits=FACTS.metal_limits,
        hardening_classes=FACTS.hardening_classes,
        hardness_terms=FACTS.hardness_terms,
        **more,
    )


def recipe(alloy: Alloy | AlloyFact, mass_g: float, **more: Any) -> Outcome[Recipe]:
    return metal.recipe(
        alloy,
        mass_g,
        elements=FACTS.elements,
        fine=FACTS.fine_metals,
        rules=FACTS.metal_rules,
        limits=FACTS.metal_limits,
        **more,
    )
