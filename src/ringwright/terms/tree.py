"""How the metal is led in, and what mould: rows of the facts, and the figures that the step ``tree`` yields."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.terms.fact import Row


@dataclass(frozen=True, kw_only=True)
class InvestmentFact(Row):
    """An investment powder (key = the word in ``habits.investment``), unfired and fired.

    ``water_per_100`` is grams of water (or mixing liquid) for 100 g of powder. ``powder_volume_L_kg`` is the
    volume that a kilogram of powder takes in the slurry, so that the slurry's volume is that plus the liquid's.
    ``max_oven_C`` is the highest hold in regular work, ``never_oven_C`` the highest that any source allows;
    ``max_metal_C`` and ``never_metal_C`` are the same for the melt. Columns in pairs (``k_at_C`` and
    ``k_W_mK``, ``cp_at_C`` and ``cp_J_kgK``, ``expansion_at_C`` and ``expansion_percent``) are read linearly
    between their points and held at the ends. ``fired_density_g_cm3`` is the bulk density of the dry fired mould.
    """

    title: str
    binder: str
    pattern_kinds: tuple[str, ...]
    water_per_100: float
    water_per_100_low: float
    water_per_100_high: float
    liquid: str
    mix_density_g_cm3: float
    powder_volume_L_kg: float
    reserve_percent: float
    working_min: float
    gloss_off_min: float | None = None
    mix_min: float
    set_h: float
    set_h_longest: float
    bound_water_per_100: float
    fired_density_g_cm3: float
    porosity_percent: float
    k_at_C: tuple[float, ...]
    k_W_mK: tuple[float, ...]
    k_low_W_mK: float
    k_high_W_mK: float
    cp_at_C: tuple[float, ...]
    cp_J_kgK: tuple[float, ...]
    permeability_m2: float
    permeability_low_m2: float
    permeability_high_m2: float
    max_oven_C: float
    never_oven_C: float
    sulfur_from_C: float | None = None
    max_metal_C: float
    never_metal_C: float
    setting_expansion_percent: float
    expansion_at_C: tuple[float, ...]
    expansion_percent: tuple[float, ...]
    note: str = ""

    def slurry_L_per_kg(self, water_per_100: float | None = None) -> float:
        """Litres of slurry from a kilogram of powder, at ``water_per_100`` or the usual ratio."""
        water = self.water_per_100 if water_per_100 is None else water_per_100
        return self.powder_volume_L_kg + water / 100.0 / self.mix_density_g_cm3

    def slurry_density_g_cm3(self, water_per_100: float | None = None) -> float:
        """Density of the fresh slurry: all that was weighed in over the volume that it gives."""
        water = self.water_per_100 if water_per_100 is None else water_per_100
        return (1.0 + water / 100.0) / self.slurry_L_per_kg(water)
