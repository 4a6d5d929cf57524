"""An alloy: as a row of the facts, and resolved so that every figure that a step needs is there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Estimate, Figure


@dataclass(frozen=True, kw_only=True)
class ElementFact(Row):
    """A pure metal (key = symbol). Densities in g/cm3, heats in J/(kg K) and kJ/kg, conductivities in W/(m K)."""

    name: str
    atomic_mass: float
    density_g_cm3: float
    melting_C: float
    cp_J_kgK: float
    k_W_mK: float
    youngs_GPa: float
    poisson: float
    expansion_per_MK: float
    mean_expansion_per_MK: float | None = None
    liquid_density_g_cm3: float | None = None
    liquid_density_slope_g_cm3K: float | None = None
    latent_kJ_kg: float | None = None
    freezing_shrinkage_percent: float | None = None
    k_solid_melting_W_mK: float | None = None
    k_liquid_W_mK: float | None = None
    cp_liquid_J_kgK: float | None = None
    viscosity_mPas: float | None = None
    surface_tension_N_m: float | None = None


@dataclass(frozen=True, kw_only=True)
class AlloyFact(Row):
    """An alloy as published. ``composition`` in mass percent by element symbol; what is not published is None."""

    title: str
    metal: str
    fineness_permille: float
    colour: str
    composition: dict[str, float]
    density_g_cm3: float | None = None
    solidus_C: float | None = None
    liquidus_C: float | None = None
    hardness_annealed_HV: float | None = None
    hardness_cast_HV: float | None = None
    hardness_aged_HV: float | None = None
    yield_annealed_MPa: float | None = None
    yield_cast_MPa: float | None = None
    tensile_MPa: float | None = None
    elongation_percent: float | None = None
    youngs_GPa: float | None = None
    cp_solid_J_kgK: float | None = None
    cp_liquid_J_kgK: float | None = None
    latent_kJ_kg: float | None = None
    k_solid_W_mK: float | None = None
    k_liquid_W_mK: float | None = None
    liquid_density_g_cm3: float | None = None
    freezing_shrinkage_percent: float | None = None
    viscosity_mPas: float | None = None
    surface_tension_N_m: float | None = None
    mean_expansion_per_MK: float | None = None
    quench: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Alloy:
    """An alloy with every figure resolved: published where it is, by a named mixing rule where it is not.

    ``from_rule`` names the figures that a mixing rule gave.
    """

    key: Annotated[str, Figure("", 0, "Key in the facts")]
    title: Annotated[str, Figure("", 0, "Name in the trade", chief=True)]
    metal: Annotated[str, Figure("", 0, "gold, silver, platinum or palladium")]
    colour: Annotated[str, Figure("", 0, "Colour in words")]
    composition: Annotated[dict[str, float], Figure("%", 2, "Mass percent of each element")]
    fineness_permille: Annotated[float, Figure("permille", 1, "Fineness", chief=True)]
    density_g_cm3: Annotated[Estimate, Figure("g/cm3", 2, "Density at 20 °C", chief=True)]
    ideal_density_g_cm3: Annotated[float, Figure("g/cm3", 2, "Density by ideal mixing of volumes")]
    liquid_density_g_cm3: Annotated[float, Figure("g/cm3", 2, "Density of the liquid at the liquidus")]
    solidus_C: Annotated[float, Figure("°C", 0, "Solidus")]
    liquidus_C: Annotated[float, Figure("°C", 0, "Liquidus")]
    cp_solid_J_kgK: Annotated[float, Figure("J/kgK", 0, "Heat capacity near the solidus")]
    cp_liquid_J_kgK: Annotated[float, Figure("J/kgK", 0, "Heat capacity of the liquid")]
    latent_kJ_kg: Annotated[float, Figure("kJ/kg", 0, "Heat of freezing")]
    k_solid_W_mK: Annotated[float, Figure("W/mK", 0, "Conductivity near the solidus")]
    k_liquid_W_mK: Annotated[float, Figure("W/mK", 0, "Conductivity of the liquid")]
    freezing_shrinkage_percent: Annotated[float, Figure("%", 1, "Shrinkage on freezing, of volume")]
    mean_expansion_per_MK: Annotated[float, Figure("1e-6/K", 1, "Mean linear expansion, 20 °C to solidus")]
    viscosity_mPas: Annotated[float, Figure("mPa s", 1, "Viscosity of the melt")]
    surface_tension_N_m: Annotated[float, Figure("N/m", 2, "Surface tension of the melt")]
    youngs_GPa: Annotated[float, Figure("GPa", 0, "Young's modulus")]
    poisson: Annotated[float, Figure("", 2, "Poisson's ratio")]
    yield_cast_MPa: Annotated[Estimate, Figure("MPa", 0, "Yield strength, as cast and slowly cooled")]
    yield_annealed_MPa: Annotated[Estimate, Figure("MPa", 0, "Yield strength, annealed")]
    elongation_percent: Annotated[float, Figure("%", 0, "Elongation at break, annealed")]
    hardness_HV: Annotated[float, Figure("HV", 0, "Hardness, annealed")]
    quench: Annotated[str, Figure("", 0, "What to do after the pour")] = ""
    source: Annotated[str, Figure("", 0, "Source of the row")] = ""
    from_rule: Annotated[tuple[str, ...], Figure("", 0, "Figures that a mixing rule gave")] = ()
