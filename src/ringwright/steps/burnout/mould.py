"""The mould as a body that takes up heat: from rows of the facts to the terms of conduction."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ringwright.science.conduction import Cylinder, Face, Reaction, Substance, substance
from ringwright.terms.burnout import BurnoutHeatFact, MouldReactionFact
from ringwright.terms.mistake import bad
from ringwright.terms.tree import InvestmentFact

ZERO_C_IN_K = 273.15
WATER_CP_J_KGK = 4186.0


@dataclass(frozen=True, kw_only=True)
class Mould:
    """What fills the flask: wet from the bench, and dry when all reactions are over. Densities in kg/m3."""

    wet: Substance
    dry: Substance
    free_water_kg_m3: float
    bound_water_kg_m3: float
    dry_above_C: float


def mould(
    investment: InvestmentFact,
    reactions: Iterable[MouldReactionFact],
    *,
    water_per_100: float | None = None,
    k_factor: float = 1.0,
) -> Mould:
    """The mould of an investment mixed at ``water_per_100`` (its usual ratio where None).

    All water of the mix is still in it when the kiln is lit: what the powder binds, and the rest free in the
    pores. Free water adds its heat capacity until it has boiled off. Conductivity is that of the fired mould at
    every temperature (a wet mould conducts better, so the first hold errs on the long side).
    """
    water = investment.water_per_100 if water_per_100 is None else water_per_100
    if not investment.water_per_100_low / 2 <= water <= investment.water_per_100_high * 2:
        raise bad(
            "water_per_100",
            f"{water:g} g of water to 100 g of powder",
            f"{investment.key} is mixed at {investment.water_per_100_low:g} to {investment.water_per_100_high:g}",
        )
    powder = 1000.0 / investment.slurry_L_per_kg(water)
    bound = min(investment.bound_water_per_100, water) / 100.0 * powder
    masses = {"powder": powder, "bound water": bound, "free water": water / 100.0 * powder - bound}
    own = [r for r in reactions if r.binder == investment.binder]
    boiling = [r for r in own if r.of == "free water"]
    heats = [
        Reaction(
            from_K=r.from_C + ZERO_C_IN_K,
            to_K=r.to_C + ZERO_C_IN_K,
            J_m3=r.heat_kJ_kg * 1000.0 * r.share * masses[r.of],
        )
        for r in own
        if masses[r.of] > 0
    ]
    boils = min((r.from_C for r in boiling), default=100.0)
    dry_above = max((r.to_C for r in boiling), default=boils)
    T = np.array(sorted({20.0, boils, dry_above, *investment.k_at_C, *investment.cp_at_C}))
    k = np.interp(T, investment.k_at_C, investment.k_W_mK) * k_factor
    c_dry = np.interp(T, investment.cp_at_C, investment.cp_J_kgK) * investment.fired_density_g_cm3 * 1000.0
    c_wet = c_dry + np.where(boils >= T, masses["free water"] * WATER_CP_J_KGK, 0.0)
    kelvin = (T + ZERO_C_IN_K).tolist()
    return Mould(
        wet=substance(kelvin, k.tolist(), c_wet.tolist(), heats),
        dry=substance(kelvin, k.tolist(), c_dry.tolist()),
        free_water_kg_m3=masses["free water"],
        bound_water_kg_m3=bound,
        dry_above_C=dry_above,
    )


def flask(
    diameter_mm: float,
    height_mm: float,
    inside: Substance,
    air: BurnoutHeatFact,
    skin: BurnoutHeatFact,
    wall: BurnoutHeatFact,
    *,
    slow: bool,
    cells: tuple[int, int],
) -> Cylinder:
    """The flask in the kiln, heated on all sides; ``slow`` takes the lowest transfer of the facts."""
    h = air.convection_low_W_m2K if slow else air.convection_W_m2K
    emissivity = skin.emissivity_low if slow else skin.emissivity
    steel = (wall.wall_mm or 0) / 1000 * (wall.wall_density_g_cm3 or 0) * 1000 * (wall.wall_cp_J_kgK or 0)
    bare = Face(h_W_m2K=h or 0, emissivity=emissivity or 0)
    return Cylinder(
        radius_m=diameter_mm / 2000,
        height_m=height_mm / 1000,
        inside=inside,
        side=Face(h_W_m2K=bare.h_W_m2K, emissivity=bare.emissivity, skin_J_m2K=steel),
        top=bare,
        bottom=bare,
        cells_r=cells[0],
        cells_z=cells[1],
    )
