"""How thick and long the bars are, and what the mould asks for: read from habits and facts once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science.solids import volume
from ringwright.steps.tree.heavy import Studied
from ringwright.steps.tree.layout import Hung, Sizes
from ringwright.steps.tree.shapes import cone_height
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Floats
from ringwright.terms.facts import used
from ringwright.terms.mistake import bad
from ringwright.terms.remark import Point
from ringwright.terms.tree import ClearanceFact, SprueRule, TreePiece
from ringwright.terms.workshop import Habits

_CORNERS = 1.002
"""The corners of a polygon stand out this far over the circle of the same area."""


@dataclass(frozen=True, kw_only=True)
class Sized:
    """The sprue, and what it is measured against."""

    diameter_mm: float
    needed_mm: float
    piece_modulus_mm: float
    thickest_mm: float
    heaviest_at: Point
    heaviest_piece: str


@dataclass(frozen=True, kw_only=True)
class Needs:
    """Clearances and the button's form, read from the facts once."""

    wall_mm: float
    end_mm: float
    button_share: float
    cone_deg: float
    freeboard_mm: float

    def cone(self, volume_mm3: float, tip_mm: float) -> tuple[float, float]:
        """Height and top radius of the button over this volume of pieces and sprues."""
        high = cone_height(self.button_share * volume_mm3, tip_mm, self.cone_deg)
        return high, tip_mm + high * math.tan(math.radians(self.cone_deg))

    def room(self, hung: Hung, pieces_mm3: float) -> tuple[float, float]:
        """Diameter and height of the least flask for it. The bars are counted whole, so it is on the safe side."""
        high, wide = self.cone(pieces_mm3 + sum(volume(bar) for bar in hung.bars), hung.tip_mm)
        across = 2 * (max(hung.radius_mm, wide * _CORNERS) + self.wall_mm)
        return across, self.freeboard_mm + high + hung.depth_mm + self.end_mm


def rule_of(rules: Sequence[SprueRule], key: str) -> SprueRule:
    """The rule of that key that is used."""
    return used(rules, key, "sprue rule")


def length_key(alloy: Alloy) -> str:
    """Which rule of the length holds: platinum metals have one of their own."""
    return "length-platinum" if alloy.metal in ("platinum", "palladium") else "length"


def usual_length(habits: Habits, alloy: Alloy, rules: Sequence[SprueRule]) -> float:
    """The shop's usual length of a sprue; for platinum metals no longer than their rule allows."""
    if not habits.sprue_length_mm > 0:
        raise bad("habits.sprue_length", f"a sprue of {habits.sprue_length_mm} mm", "more than 0 mm, such as 10 mm")
    if length_key(alloy) != "length":
        return min(habits.sprue_length_mm, rule_of(rules, length_key(alloy)).most_mm or habits.sprue_length_mm)
    return habits.sprue_length_mm


def needs_of(habits: Habits, rules: Sequence[SprueRule], clearances: Sequence[ClearanceFact]) -> Needs:
    """Clearances, and the button's share and form. Raises :class:`BadInput` for a button of nothing."""
    if not habits.button_share > 0:
        raise bad("habits.button_share", f"a button of {habits.button_share} of the pieces", "above 0, such as 0.5")
    cone = rule_of(rules, "button-cone")
    return Needs(
        wall_mm=used(clearances, "wall", "clearance").free_mm,
        end_mm=used(clearances, "end", "clearance").free_mm,
        button_share=habits.button_share,
        cone_deg=cone.use_deg or 45.0,
        freeboard_mm=cone.use_mm or 0.0,
    )


def sized_by(
    pieces: Sequence[TreePiece], studied: Sequence[Studied], habits: Habits, rules: Sequence[SprueRule]
) -> Sized:
    """The sprue's diameter: by the modulus of the heaviest part, by its thickness, and never below the least."""
    moduli = [s.modulus_mm for s in studied]
    heaviest = int(np.argmax(moduli))
    modulus, thickest = moduli[heaviest], max(s.thickest_mm for s in studied)
    test = rule_of(rules, "modulus")
    own = habits.sprue_diameter_mm
    if own is not None and not own > 0:
        raise bad("habits.sprue_diameter", f"a sprue of {own} mm", "above 0 mm, or leave it out")
    return Sized(
        diameter_mm=own if own is not None else rule_mm(modulus, thickest, rules),
        needed_mm=4.0 * (test.least_share or 1.0) * modulus,
        piece_modulus_mm=modulus,
        thickest_mm=thickest,
        heaviest_at=point(studied[heaviest].heaviest_at),
        heaviest_piece=pieces[heaviest].name,
    )


def rule_mm(modulus_mm: float, thickest_mm: float, rules: Sequence[SprueRule]) -> float:
    """The sprue that the rules ask for: by modulus, by the thickest section, and the least, in whole steps."""
    step = rule_of(rules, "step").use_mm or 0.1
    least = max(
        4.0 * (rule_of(rules, "modulus").use_share or 1.0) * modulus_mm,
        (rule_of(rules, "diameter").use_share or 1.0) * thickest_mm,
        rule_of(rules, "least").least_mm or 0.0,
    )
    return math.ceil(least / step - 1e-9) * step


def sizes_of(
    sized: Sized,
    length_mm: float,
    longest_mm: float,
    rules: Sequence[SprueRule],
    clearances: Sequence[ClearanceFact],
) -> Sizes:
    """All sizes of the bars; a fork's branches are no longer than ``longest_mm`` if one gate will do instead."""
    trunk, between = rule_of(rules, "trunk"), used(clearances, "between", "clearance")
    return Sizes(
        sprue_mm=sized.diameter_mm,
        length_mm=length_mm,
        least_fillet=rule_of(rules, "fillet").least_share or 0.0,
        angle_deg=rule_of(rules, "angle").use_deg or 45.0,
        fork_deg=rule_of(rules, "angle").least_deg or 30.0,
        stem_length_mm=rule_of(rules, "stem").use_mm or 0.0,
        trunk_least_mm=trunk.least_mm or 0.0,
        trunk_most_mm=trunk.most_mm or math.inf,
        between_mm=between.free_mm,
        clear_of_rim_mm=between.free_low_mm,
        longest_mm=max(length_mm, longest_mm),
    )


def point(v: Floats) -> Point:
    """A point as three plain numbers."""
    return float(v[0]), float(v[1]), float(v[2])
