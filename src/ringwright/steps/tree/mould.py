"""The flask and its investment: which flask, how much slurry, how much powder and water."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.mistake import bad
from ringwright.terms.quantity import Figure
from ringwright.terms.tree import InvestmentFact, PowderRule
from ringwright.terms.workshop import Flask


@dataclass(frozen=True, kw_only=True)
class Mix:
    """Powder and water for a volume of slurry, net and with the reserve."""

    slurry_cm3: Annotated[float, Figure("cm3", 0, "Slurry")]
    water_per_100: Annotated[float, Figure("", 1, "Water in g per 100 g of powder")]
    powder_net_g: Annotated[float, Figure("g", 0, "Powder, net")]
    water_net_g: Annotated[float, Figure("g", 0, "Water, net")]
    powder_g: Annotated[float, Figure("g", 0, "Powder, with reserve")]
    water_g: Annotated[float, Figure("g", 0, "Water, with reserve")]


def flask_cm3(diameter_mm: float, height_mm: float) -> float:
    """Volume of a flask."""
    return math.pi / 4 * diameter_mm**2 * height_mm / 1000.0


def mix(slurry_cm3: float, investment: InvestmentFact, water_per_100: float | None = None) -> Mix:
    """Powder and water for ``slurry_cm3``: the powder's own volume and the water's add up, without air.

    Raises :class:`BadInput` for no volume or a ratio of water that is no ratio.
    """
    water = investment.water_per_100 if water_per_100 is None else water_per_100
    if not (math.isfinite(slurry_cm3) and slurry_cm3 > 0):
        raise bad("flask", f"{slurry_cm3:.0f} cm3 of slurry", "a flask larger than the tree")
    if not 0 < water < 100:
        raise bad(
            "habits.water_per_100",
            f"{water} g of water for 100 g of powder",
            f"{investment.water_per_100_low:.0f} to {investment.water_per_100_high:.0f}",
        )
    powder = slurry_cm3 / investment.slurry_L_per_kg(water)
    more = 1.0 + investment.reserve_percent / 100.0
    return Mix(
        slurry_cm3=slurry_cm3,
        water_per_100=water,
        powder_net_g=powder,
        water_net_g=powder * water / 100.0,
        powder_g=powder * more,
        water_g=powder * more * water / 100.0,
    )


def by_rule(diameter_mm: float, height_mm: float, rule: PowderRule) -> tuple[float, float | None]:
    """Powder and water in g that a chart weighs for a flask."""
    powder = rule.powder_g_cm3 * flask_cm3(diameter_mm, height_mm)
    return powder, None if rule.water_per_100 is None else powder * rule.water_per_100 / 100.0


def smallest(flasks: Sequence[Flask], diameter_mm: float, height_mm: float) -> Flask | None:
    """The flask of least volume of those that the shop has and that are at least so wide and high."""
    fit = [f for f in flasks if f.count > 0 and f.diameter_mm >= diameter_mm and f.height_mm >= height_mm]
    return min(fit, key=lambda f: (flask_cm3(f.diameter_mm, f.height_mm), f.name), default=None)
