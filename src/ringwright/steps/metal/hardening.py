"""Hardness by composition, and whether a gold hardens when it cools slowly."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ringwright.terms.metal import HardeningClass, HardnessTerm

_COLOURED_GOLD = ("Au", "Ag", "Cu", "Zn")
_WHOLE_PERCENT = 99.0


def silver_ratio(composition: Mapping[str, float]) -> float | None:
    """Silver in per cent of silver and copper together, Ag/(Ag+Cu); None where there is neither."""
    silver, copper = composition.get("Ag", 0.0), composition.get("Cu", 0.0)
    return 100 * silver / (silver + copper) if silver + copper > 0 else None


def hardening(
    metal: str, fineness_permille: float, composition: Mapping[str, float], classes: Iterable[HardeningClass]
) -> HardeningClass | None:
    """The class in which a coloured gold hardens, by its silver ratio (after McDonald and Sistare, 1978).

    None for other metals, for golds whitened with palladium or nickel, and for a fineness that no row covers.
    """
    ratio = silver_ratio(composition)
    whole = sum(composition.get(symbol, 0.0) for symbol in _COLOURED_GOLD)
    if metal != "gold" or ratio is None or whole < _WHOLE_PERCENT:
        return None
    distance = min(ratio, 100 - ratio)
    for row in classes:
        in_class = row.ratio_from_percent <= distance <= row.ratio_to_percent
        if in_class and row.fineness_from_permille <= fineness_permille <= row.fineness_to_permille:
            return row
    return None


def platinum_hardness(metal: str, composition: Mapping[str, float], terms: Iterable[HardnessTerm]) -> float | None:
    """Hardness in HV of an annealed platinum alloy by the published regression; None for another metal or element."""
    by_element = {row.key: row for row in terms}
    base = by_element.get("Pt")
    if metal != "platinum" or base is None or base.hardness_base_HV is None:
        return None
    found = base.hardness_base_HV
    for symbol, percent in composition.items():
        if symbol == "Pt":
            continue
        term = by_element.get(symbol)
        if term is None or term.hardness_HV_per_percent is None:
            return None
        found += term.hardness_HV_per_percent * percent
    return found
