"""Arithmetic of fineness and of mass from one alloy to another."""

from __future__ import annotations

from ringwright.terms.mistake import bad


def to_reach(mass_g: float, fineness_permille: float, wanted_permille: float, *, adding_permille: float) -> float:
    """Grams to add to ``mass_g`` of a metal so that the whole has the wanted fineness.

    ``adding_permille`` is the fineness of what is added: 1000 for fine metal, 0 for base alloy. From the balance
    of the fine metal: ``m f + x a = (m + x) w``.

    Raises ``BadInput`` where what is added cannot bring the fineness there.
    """
    if not mass_g > 0:
        raise bad("mass", f"{mass_g:g} g is no mass", "a mass above zero")
    for name, value in (("fineness", fineness_permille), ("wanted", wanted_permille), ("adding", adding_permille)):
        if not 0 <= value <= 1000:
            raise bad(name, f"{value:g} permille is no fineness", "0 to 1000 permille")
    if fineness_permille == wanted_permille:
        return 0.0
    towards = wanted_permille - fineness_permille
    if (adding_permille - wanted_permille) * towards <= 0:
        raise bad(
            "adding",
            f"metal of {adding_permille:g} permille cannot bring {fineness_permille:g} to {wanted_permille:g}",
            f"metal {'above' if towards > 0 else 'below'} {wanted_permille:g} permille",
        )
    return mass_g * towards / (adding_permille - wanted_permille)


def mass_in(mass_g: float, density_g_cm3: float, other_density_g_cm3: float) -> float:
    """The mass in grams that the same piece has in another metal (or a wax model in metal): volumes are equal.

    Raises ``BadInput`` where a figure is not above zero.
    """
    for name, value in (("mass", mass_g), ("density", density_g_cm3), ("other density", other_density_g_cm3)):
        if not value > 0:
            raise bad(name, f"{value:g} is not above zero", "a figure above zero")
    return mass_g * other_density_g_cm3 / density_g_cm3
