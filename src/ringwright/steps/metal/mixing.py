"""Figures of an alloy from those of its elements.

Every function takes a composition in mass per cent by element symbol and the elements by symbol. Each rule's error
stands in the table ``metal_rules``. There is no rule for solidus and liquidus, and none for conductivity: scattering
by the alloyed atoms cuts it three to six times below any linear mean.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from ringwright.terms.alloy import ElementFact
from ringwright.terms.metal import ElementHeat
from ringwright.terms.mistake import bad

Composition = Mapping[str, float]
Elements = Mapping[str, ElementFact]

KELVIN = 273.15
JOULE_PER_CALORIE = 4.184


def known_only(composition: Composition, elements: Elements, trace_percent: float) -> dict[str, float]:
    """The composition without elements that have no row, as mass shares that sum to one.

    Raises ``BadInput`` where such an element is more than ``trace_percent``, or where nothing is left.
    """
    for symbol, percent in composition.items():
        if symbol not in elements and percent > trace_percent:
            raise bad(
                "composition",
                f"no figures for {percent:g} % of '{symbol}'",
                f"elements by their symbol, of {', '.join(sorted(elements))}",
            )
    kept = {symbol: percent for symbol, percent in composition.items() if symbol in elements and percent > 0}
    total = sum(kept.values())
    if total <= 0:
        raise bad("composition", "it names no known element", f"mass shares of {', '.join(sorted(elements))}")
    return {symbol: percent / total for symbol, percent in kept.items()}


def mole_shares(composition: Composition, elements: Elements) -> dict[str, float]:
    """Share of each element in the number of atoms; they sum to one."""
    moles = {s: w / elements[s].atomic_mass for s, w in composition.items()}
    total = sum(moles.values())
    return {s: n / total for s, n in moles.items()}


def volume_shares(composition: Composition, elements: Elements) -> dict[str, float]:
    """Share of each element in the volume, volumes being additive; they sum to one."""
    volumes = {s: w / elements[s].density_g_cm3 for s, w in composition.items()}
    total = sum(volumes.values())
    return {s: v / total for s, v in volumes.items()}


def ideal_density(composition: Composition, elements: Elements) -> float:
    """Density in g/cm3 by ideal mixing of volumes, ``1/rho = sum(w/rho_i)``: never a mean weighted by mass."""
    total = sum(composition.values())
    return total / sum(w / elements[s].density_g_cm3 for s, w in composition.items())


def mean(shares: Mapping[str, float], figures: Mapping[str, float | None], left_out: float) -> float | None:
    """The mean of ``figures`` weighted by ``shares``, without elements that have none.

    None where those together are more than ``left_out`` of all.
    """
    found = {s: x for s, x in shares.items() if figures[s] is not None}
    present = sum(found.values())
    if present <= 0 or present < (1 - left_out) * sum(shares.values()):
        return None
    return sum(x * value for s, x in found.items() if (value := figures[s]) is not None) / present


def cp_at(composition: Composition, elements: Elements, heats: Mapping[str, ElementHeat], at_C: float) -> float:
    """Heat capacity of the solid in J/(kg K) at a temperature, by mass shares (Neumann-Kopp).

    An element without a row in ``heats`` counts with its heat capacity at 25 °C.
    """
    total = sum(composition.values())
    return sum(w * _element_cp(elements[s], heats.get(s), at_C) for s, w in composition.items()) / total


def _element_cp(element: ElementFact, heat: ElementHeat | None, at_C: float) -> float:
    """Heat capacity of one element in J/(kg K); outside the range of its formula, the formula's end."""
    at_K = at_C + KELVIN
    if heat is None or at_K < heat.heat_from_K:
        return element.cp_J_kgK
    calories = heat.cp_a_cal_molK + heat.cp_b_cal_molK2 * min(at_K, heat.heat_to_K)
    return calories * JOULE_PER_CALORIE * 1000 / element.atomic_mass


def cp_liquid(composition: Composition, elements: Elements, left_out: float) -> float | None:
    """Heat capacity of the liquid in J/(kg K), by mass shares."""
    return mean(composition, {s: elements[s].cp_liquid_J_kgK for s in composition}, left_out)


def latent(composition: Composition, elements: Elements, middle_C: float, left_out: float) -> float | None:
    """Heat of freezing in kJ/kg by Richards' rule.

    The molar heat is the temperature in the middle of the freezing range times the mole mean of the elements'
    entropies of fusion. Mixing the heats themselves by mass is 9 to 15 % too high where the alloy melts lower
    than its elements.
    """
    moles = mole_shares(composition, elements)
    entropy: dict[str, float | None] = {}
    for s in composition:
        heat, element = elements[s].latent_kJ_kg, elements[s]
        entropy[s] = None if heat is None else heat * element.atomic_mass / (element.melting_C + KELVIN)
    per_mole = mean(moles, entropy, left_out)
    if per_mole is None:
        return None
    return per_mole * (middle_C + KELVIN) / sum(x * elements[s].atomic_mass for s, x in moles.items())


def liquid_density(composition: Composition, elements: Elements, at_C: float) -> float | None:
    """Density of the liquid in g/cm3 at a temperature, by ideal mixing of the elements' liquid volumes.

    Each element's density is carried along its own slope from its melting point, also below it. None where an
    element has no liquid density.
    """
    total = sum(composition.values())
    volume = 0.0
    for s, w in composition.items():
        element = elements[s]
        if element.liquid_density_g_cm3 is None:
            return None
        slope = element.liquid_density_slope_g_cm3K or 0.0
        volume += w / (element.liquid_density_g_cm3 + slope * (at_C - element.melting_C))
    return total / volume


def shrinkage(composition: Composition, elements: Elements, left_out: float) -> float | None:
    """Shrinkage on freezing in per cent of volume, by volume shares."""
    return mean(
        volume_shares(composition, elements),
        {s: elements[s].freezing_shrinkage_percent for s in composition},
        left_out,
    )


def expansion(composition: Composition, elements: Elements, from_room: float) -> float:
    """Mean linear expansion from 20 °C to the solidus in 1e-6/K, by volume shares.

    An element whose mean is not published counts with its expansion at 20 °C times ``from_room``.
    """
    shares = volume_shares(composition, elements)
    return sum(
        x * (elements[s].mean_expansion_per_MK or elements[s].expansion_per_MK * from_room) for s, x in shares.items()
    )


def viscosity(composition: Composition, elements: Elements, left_out: float) -> float | None:
    """Viscosity of the melt in mPa s, logarithmic by mole shares."""
    logs: dict[str, float | None] = {}
    for s in composition:
        value = elements[s].viscosity_mPas
        logs[s] = None if value is None else math.log(value)
    found = mean(mole_shares(composition, elements), logs, left_out)
    return None if found is None else math.exp(found)


def surface_tension(
    composition: Composition, elements: Elements, *, trace: float, error: float, left_out: float
) -> float | None:
    """Surface tension of the melt in N/m: half-way between the mole mean and the lowest of the elements.

    The element of lowest surface tension gathers at the surface. One with less than ``trace`` of the moles does
    not count as the lowest, and the result is no more than ``error`` below the mean.
    """
    moles = mole_shares(composition, elements)
    values = {s: elements[s].surface_tension_N_m for s in composition}
    average = mean(moles, values, left_out)
    if average is None:
        return None
    lowest = min((v for s, v in values.items() if v is not None and moles[s] >= trace), default=average)
    return max((average + min(lowest, average)) / 2, (1 - error) * average)


def by_volume(composition: Composition, elements: Elements, figure: str) -> float:
    """A figure that every element has (``youngs_GPa``, ``poisson``), by volume shares."""
    return sum(x * float(getattr(elements[s], figure)) for s, x in volume_shares(composition, elements).items())


def share_of_two(density_g_cm3: float, first_g_cm3: float, second_g_cm3: float) -> float:
    """Mass share (0 to 1) of the first of two metals in an alloy of known density.

    Holds for two metals only. Raises ``BadInput`` where the density does not lie between theirs.
    """
    low, high = sorted((first_g_cm3, second_g_cm3))
    if not 0 < low < high or not low <= density_g_cm3 <= high:
        raise bad(
            "density", f"{density_g_cm3:g} g/cm3 does not lie between the two metals", f"{low:g} to {high:g} g/cm3"
        )
    return (1 / second_g_cm3 - 1 / density_g_cm3) / (1 / second_g_cm3 - 1 / first_g_cm3)
