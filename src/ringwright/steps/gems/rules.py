"""Masses from sizes by the published rules, and the trade's words for a girdle."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ringwright.terms.gems import CutFact, GemFact, GirdleFact, GirdleFactor, WeightRule
from ringwright.terms.quantity import Estimate

CT_PER_G = 5.0
"""The metric carat is 0.2 g by definition."""


@dataclass(frozen=True)
class Ruled:
    """A mass by rule in ct and its source; the band is the rule's own accuracy, or how far its rivals are from it."""

    mass_ct: Estimate
    source: str


def rule_mass_ct(
    rule: WeightRule,
    length_mm: float,
    width_mm: float,
    depth_mm: float,
    density_g_cm3: float,
    girdle_factor: float = 1.0,
    across_corners_mm: float | None = None,
) -> float:
    """The mass in ct by one rule: size * depth * factor (* density, where the factor does not hold it) * girdle.

    Factors are linear in length over width between the rule's rows, and level beyond them. Example: a marquise
    10.24 x 6.11 x 4.75 mm with factor 0.0057 and a girdle factor of 1.035 is 1.75 ct (published worked example).
    """
    across = width_mm if across_corners_mm is None else across_corners_mm
    size = {
        "length * width": length_mm * width_mm,
        "mean squared": ((length_mm + width_mm) / 2) ** 2,
        "side and corner squared": ((width_mm + across) / 2) ** 2 * length_mm / width_mm,
    }[rule.size]
    factor = float(np.interp(length_mm / width_mm, rule.ratios, rule.factors))
    density = 1.0 if rule.holds_density else density_g_cm3
    return size * depth_mm * factor * density * girdle_factor


def ruled(
    cut: CutFact,
    material: GemFact,
    diamond_density_g_cm3: float,
    rules: Iterable[WeightRule],
    length_mm: float,
    width_mm: float,
    depth_mm: float,
    girdle_factor: float = 1.0,
    across_corners_mm: float | None = None,
) -> Ruled | None:
    """The mass by the preferred published rule for a cut in a material; None where none is published.

    A coloured stone of a cut that has only a diamond's rule is weighed by that, times its density over a diamond's
    (published: the same size in another gem). The girdle factor is for diamonds only.
    """
    rules = tuple(rules)
    name = cut.weighed_as or cut.key
    kinds = ("diamond", "colour") if material.weighed == "diamond" else ("colour", "diamond")
    for kind in kinds:
        rows = [rule for rule in rules if rule.key == f"{name}, {kind}"]
        if not rows:
            continue
        carried = 1.0
        if kind == "diamond":
            carried = material.density_g_cm3 / diamond_density_g_cm3 * (girdle_factor if kind == kinds[0] else 1.0)
        masses = [
            rule_mass_ct(rule, length_mm, width_mm, depth_mm, material.density_g_cm3, carried, across_corners_mm)
            for rule in rows
        ]
        chosen = next((i for i, rule in enumerate(rows) if rule.preference), 0)
        mass = masses[chosen]
        apart = max(abs(other - mass) for other in masses)
        band = max(mass * rows[chosen].accuracy_percent / 100, apart)
        return Ruled(Estimate(mass, band), rows[chosen].source)
    return None


def girdle_word(mean_mm: float, thick_percent: float, words: Iterable[GirdleFact]) -> str:
    """The trade's word for a girdle of that mean thickness, ``thick_percent`` of the width at its thick places."""
    word = ""
    for row in words:
        word = row.key
        if row.up_to_percent is not None and thick_percent <= row.up_to_percent:
            break
        if row.up_to_mm is not None and mean_mm < row.up_to_mm:
            break
        if row.up_to_percent is None and row.up_to_mm is None:
            break
    return word


def girdle_factor(word: str, width_mm: float, factors: Iterable[GirdleFactor]) -> float:
    """By how much a girdle of that word changes a diamond's mass by rule; 1 where nothing is published."""
    for row in factors:
        if row.key == word:
            band = sum(width_mm >= start for start in row.widths_from_mm) - 1
            return row.girdle_factors[max(band, 0)]
    return 1.0
