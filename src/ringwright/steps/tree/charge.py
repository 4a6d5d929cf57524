"""The metal: what to weigh out, and which crucible holds it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.alloy import Alloy
from ringwright.terms.mistake import bad
from ringwright.terms.quantity import Figure
from ringwright.terms.tree import CrucibleRule
from ringwright.terms.workshop import Crucible


@dataclass(frozen=True, kw_only=True)
class Charge:
    """The metal of a tree."""

    pieces_g: Annotated[float, Figure("g", 2, "Metal in the pieces, at the pattern's volume")]
    sprues_g: Annotated[float, Figure("g", 2, "Metal in sprues and stem")]
    button_g: Annotated[float, Figure("g", 2, "Metal in the button")]
    loss_g: Annotated[float, Figure("g", 2, "Lost in melting and casting, with the rounding up")]
    charge_g: Annotated[float, Figure("g", 2, "To weigh out")]
    melt_cm3: Annotated[float, Figure("cm3", 2, "Volume when molten")]
    feeders_g: Annotated[float, Figure("g", 2, "Metal in blind feeders")] = 0.0


def metal_for(pattern_g: float, pattern_density_g_cm3: float, metal_density_g_cm3: float) -> float:
    """Mass of metal in the place of a pattern: the pattern's mass times the densities' ratio.

    Contraction is left out, so it is the trade's rule, and on the safe side by three times the linear contraction.
    """
    if not (pattern_density_g_cm3 > 0 and metal_density_g_cm3 > 0 and pattern_g >= 0):
        raise bad("pattern", "a mass or density that is not above 0", "masses in g, densities in g/cm3")
    return pattern_g * metal_density_g_cm3 / pattern_density_g_cm3


def charge(
    pieces_mm3: float,
    sprues_mm3: float,
    button_mm3: float,
    alloy: Alloy,
    loss_percent: float,
    step_g: float,
    feeders_mm3: float = 0.0,
) -> Charge:
    """The charge for these volumes of the mould, with the loss, rounded up to the scale's step."""
    if not 0 <= loss_percent < 50:
        raise bad("habits.melt_loss", f"a loss of {loss_percent} % in melting", "0 % or more, such as 0.5 %")
    density = alloy.density_g_cm3.value / 1000.0
    pieces, sprues, button, feeders = (v * density for v in (pieces_mm3, sprues_mm3, button_mm3, feeders_mm3))
    net = pieces + sprues + button + feeders
    whole = net / (1.0 - loss_percent / 100.0)
    if step_g > 0:
        whole = math.ceil(whole / step_g - 1e-9) * step_g
    return Charge(
        pieces_g=pieces,
        sprues_g=sprues,
        button_g=button,
        loss_g=whole - net,
        charge_g=whole,
        melt_cm3=whole / alloy.liquid_density_g_cm3,
        feeders_g=feeders,
    )


def forbidden(crucible: Crucible, alloy: Alloy, rules: Sequence[CrucibleRule]) -> CrucibleRule | None:
    """The rule that keeps the alloy out of a crucible of this material, if there is one."""
    for rule in rules:
        same = rule.material.lower() in crucible.material.lower()
        if same and alloy.composition.get(rule.element, 0.0) >= rule.from_percent:
            return rule
    return None


def crucible_for(
    crucibles: Sequence[Crucible], melt_cm3: float, melt_C: float, alloy: Alloy, rules: Sequence[CrucibleRule]
) -> Crucible | None:
    """The smallest crucible of the shop that holds the melt, bears its heat, and that the metal does not forbid."""
    fit = [
        c for c in crucibles if c.capacity_cm3 >= melt_cm3 and c.max_C >= melt_C and forbidden(c, alloy, rules) is None
    ]
    return min(fit, key=lambda c: (c.capacity_cm3, c.name), default=None)
