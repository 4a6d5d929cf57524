"""Stones for the tests: one of each cut in ordinary proportions, and the step called with the shipped facts."""

from __future__ import annotations

from functools import cache
from typing import Any

from ringwright.steps import gems
from ringwright.terms.commission import StoneBrief
from ringwright.terms.gems import CutFact, CutSolid, Gem, GemFact
from ringwright.terms.outcome import Outcome
from tests.tables import tables

FACTS = tables(
    "cuts",
    "gem_materials",
    "gem_treatments",
    "weight_rules",
    "girdle_words",
    "girdle_factors",
    "round_diameters",
    "cut_risks",
)
CUTS = {row.key: row for row in FACTS.cuts}
MATERIALS = {row.key: row for row in FACTS.gem_materials}

SIZES: dict[str, tuple[float, float, float]] = {
    "round brilliant": (6.5, 6.5, 3.93),
    "oval": (9.0, 6.5, 4.0),
    "cushion": (7.5, 6.5, 4.2),
    "pear": (9.5, 6.3, 3.8),
    "marquise": (11.0, 5.5, 3.4),
    "heart": (6.6, 6.8, 4.0),
    "princess": (5.6, 5.5, 3.85),
    "step cut": (8.5, 6.0, 3.75),
    "square step cut": (6.0, 5.95, 3.9),
    "baguette": (5.0, 2.2, 1.25),
    "cabochon": (10.0, 8.0, 4.0),
    "low cabochon": (10.0, 8.0, 2.4),
    "high cabochon": (8.0, 7.0, 6.0),
}
FACETED = [key for key in SIZES if "cabochon" not in key]


def brief(cut: str = "round brilliant", **given: Any) -> StoneBrief:
    """A stone of a cut in ordinary size, with what is given instead."""
    length, width, depth = SIZES.get(cut, SIZES["round brilliant"])
    said: dict[str, Any] = {
        "name": "main",
        "cut": cut,
        "material": "diamond",
        "treatment": "none",
        "length_mm": length,
        "width_mm": width,
        "depth_mm": depth,
    }
    return StoneBrief(**(said | given))


@cache
def solid(cut: str = "round brilliant", fact: CutFact | None = None, **given: Any) -> CutSolid:
    """The solid of such a stone; ``fact`` in place of the shipped cut."""
    return gems.shape(brief(cut, **given), FACTS.cuts if fact is None else (fact,), FACTS.cut_risks)


@cache
def worked(cut: str = "round brilliant", **given: Any) -> Outcome[Gem]:
    """Such a stone worked through."""
    return gems.cut(
        brief(cut, **given),
        FACTS.cuts,
        FACTS.gem_materials,
        FACTS.gem_treatments,
        FACTS.weight_rules,
        FACTS.girdle_words,
        FACTS.girdle_factors,
        FACTS.cut_risks,
    )


def material(key: str) -> GemFact:
    """A material's row."""
    return MATERIALS[key]
