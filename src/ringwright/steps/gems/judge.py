"""One stone worked through: its solid, its mass, whether the stated mass fits, and what it bears."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from ringwright.steps.gems.bears import Bearing, bearing, setting_risk
from ringwright.steps.gems.naming import by_name
from ringwright.steps.gems.remarks import mass_remark, shape_remarks, treatment_remark
from ringwright.steps.gems.rules import CT_PER_G, Ruled, girdle_factor, girdle_word, ruled
from ringwright.steps.gems.solids import shape, usual_heights, width_of
from ringwright.terms.body import Body, Role
from ringwright.terms.commission import StoneBrief
from ringwright.terms.gems import (
    CutFact,
    CutRisk,
    CutSolid,
    Gem,
    GemFact,
    GirdleFact,
    GirdleFactor,
    TreatmentFact,
    WeightRule,
)
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate


def cut(
    stone: StoneBrief,
    cuts: Iterable[CutFact],
    materials: Iterable[GemFact],
    treatments: Iterable[TreatmentFact],
    rules: Iterable[WeightRule],
    girdle_words: Iterable[GirdleFact],
    girdle_factors: Iterable[GirdleFactor],
    risks: Iterable[CutRisk],
) -> Outcome[Gem]:
    """What the stone really is: a closed solid to its measures (the body, in the stone's own frame), its mass by that
    solid and by the published rule, whether the stated mass fits, and what it bears at the bench.

    Raises :class:`BadInput` with everything that is wrong with the stone's brief.
    """
    cuts, materials, risks = tuple(cuts), tuple(materials), tuple(risks)
    solid, material, bears = _read(stone, cuts, materials, treatments, risks)
    fact = by_name(cuts, solid.cut, "cut", "")
    width = stone.width_mm if stone.width_mm is not None else stone.length_mm
    base = width_of(stone, fact)
    word = girdle_word(solid.girdle_mean_mm, solid.girdle_percent, girdle_words)
    mass = solid_mass_ct(stone, fact, solid, material)
    factor = girdle_factor(word, base, girdle_factors) if stone.girdle_percent is not None else 1.0
    rule = _ruled(stone, fact, solid, material, materials, rules, factor)
    stated = stone.stated_mass_ct
    band = _band(mass, rule)
    plausible = None if stated is None else band.low <= stated <= band.high
    could_be: tuple[str, ...] = ()
    if stated is not None and not plausible:
        could_be = _could_be(stone, fact, solid, materials, stated)
    risk, place, advice = setting_risk(fact.key, material, bears.weakened, word, risks)
    gem = Gem(
        name=stone.name,
        cut=fact.key,
        material=material.key,
        length_mm=base if fact.outline == "round" else stone.length_mm,
        width_mm=width,
        depth_mm=stone.depth_mm,
        ratio=stone.length_mm / width,
        depth_percent=100 * stone.depth_mm / base,
        volume_mm3=solid.volume_mm3,
        box_share=solid.volume_mm3 / (stone.length_mm * width * stone.depth_mm),
        density_g_cm3=_density(material),
        mass_ct=mass,
        rule_mass_ct=None if rule is None else rule.mass_ct,
        rule_source="" if rule is None else rule.source,
        stated_ct=stated,
        plausible=plausible,
        could_be=could_be,
        assumed=solid.assumed,
        table_percent=solid.table_percent,
        crown_height_mm=solid.crown_height_mm,
        crown_deg=solid.crown_deg,
        girdle_percent=solid.girdle_percent,
        girdle_thickest_mm=solid.girdle_thickest_mm,
        girdle_thinnest_mm=solid.girdle_thinnest_mm,
        girdle_mean_mm=solid.girdle_mean_mm,
        girdle_word=word,
        pavilion_depth_mm=solid.pavilion_depth_mm,
        pavilion_deg=solid.pavilion_deg,
        culet_z_mm=solid.culet_z_mm,
        facets=solid.facets,
        mohs=material.mohs,
        refractive_index=material.refractive_index,
        k_W_mK=material.k_W_mK,
        toughness=material.toughness,
        cleavage=material.cleavage,
        treatment=bears.treatment,
        torch=bears.torch,
        ultrasonic=bears.ultrasonic,
        steam=bears.steam,
        pickle=bears.pickle,
        force=bears.force,
        cautions=(*bears.cautions, *advice),
        setting_risk=risk,
        worst_place=place,
    )
    remarks = (
        *mass_remark(gem, band),
        *shape_remarks(gem, fact, material),
        *treatment_remark(gem, material),
    )
    return Outcome("gems", gem, remarks, bodies=(Body(stone.name, Role.STONE, solid.mesh),))


def solid_mass_ct(stone: StoneBrief, cut: CutFact, solid: CutSolid, material: GemFact) -> Estimate:
    """The mass by the solid in ct, with the spread of the measuring, of the cut and of the material's density.

    The three are independent: their squares are added. A round's length and width are one measure.
    """
    mass = solid.volume_mm3 * material.density_g_cm3 / 1000 * CT_PER_G
    width = stone.width_mm if stone.width_mm is not None else stone.length_mm
    off = cut.size_spread_mm
    flat = (2 * off / width,) if cut.outline == "round" else (off / stone.length_mm, off / width)
    if material.weighed != "diamond":
        shape_spread = cut.spread_colour_percent
    elif {"table", "girdle"} & set(solid.assumed):
        shape_spread = cut.spread_assumed_percent
    else:
        shape_spread = cut.spread_percent
    density = _density(material)
    shares = (*flat, off / stone.depth_mm, shape_spread / 100, density.plus_minus / density.value)
    return Estimate(mass, mass * math.hypot(*shares))


def round_mass_ct(diameter_mm: float, cut: CutFact, material: GemFact) -> float:
    """The mass in ct of a round of the cut's usual proportions (table, crown, girdle and pavilion of its row).

    For the comparison with the published tables of diameters, which say nothing of proportions.
    """
    crown, pavilion = usual_heights(cut, (cut.table_percent or 0.0) / 100)
    depth = diameter_mm * (crown + cut.girdle_percent / 100 + pavilion)
    stone = StoneBrief(name="round", cut=cut.key, material=material.key, length_mm=diameter_mm, depth_mm=depth)
    return shape(stone, (cut,)).volume_mm3 * material.density_g_cm3 / 1000 * CT_PER_G


def _read(
    stone: StoneBrief,
    cuts: tuple[CutFact, ...],
    materials: tuple[GemFact, ...],
    treatments: Iterable[TreatmentFact],
    risks: tuple[CutRisk, ...],
) -> tuple[CutSolid, GemFact, Bearing]:
    """The solid, the material and what it bears; every mistake of the brief told at once."""
    where = f"stone '{stone.name}'"
    mistakes: list[Mistake] = []
    solid: CutSolid | None = None
    material: GemFact | None = None
    try:
        solid = shape(stone, cuts, risks)
    except BadInput as wrong:
        mistakes += wrong.mistakes
    try:
        material = by_name(materials, stone.material, "gem material", f"{where}, material")
    except BadInput as wrong:
        mistakes += wrong.mistakes
    bears: Bearing | None = None
    try:
        bears = bearing(material or materials[0], stone.treatment, treatments, f"{where}, treatment")
    except BadInput as wrong:
        mistakes += wrong.mistakes
    if solid is None or material is None or bears is None:
        raise BadInput(*mistakes)
    return solid, material, bears


def _ruled(
    stone: StoneBrief,
    fact: CutFact,
    solid: CutSolid,
    material: GemFact,
    materials: tuple[GemFact, ...],
    rules: Iterable[WeightRule],
    factor: float,
) -> Ruled | None:
    """The mass by rule, with what the measuring adds to its band."""
    width = stone.width_mm if stone.width_mm is not None else stone.length_mm
    across = float(np.ptp(solid.outline_mm @ np.array([1.0, 1.0])) / math.sqrt(2))
    diamond = by_name(materials, "diamond", "gem material", "")
    rule = ruled(
        fact,
        material,
        diamond.density_g_cm3,
        rules,
        stone.length_mm,
        width,
        stone.depth_mm,
        factor,
        across,
    )
    if rule is None:
        return None
    off = fact.size_spread_mm
    value = rule.mass_ct.value
    spread = math.hypot(off / stone.length_mm, off / width, off / stone.depth_mm)
    return Ruled(Estimate(value, math.hypot(rule.mass_ct.plus_minus, value * spread)), rule.source)


def _density(material: GemFact) -> Estimate:
    """Density with its range."""
    value = material.density_g_cm3
    return Estimate(value, max(material.density_high_g_cm3 - value, value - material.density_low_g_cm3))


def _band(mass: Estimate, rule: Ruled | None) -> Estimate:
    """All that the solid and the rule allow."""
    if rule is None:
        return mass
    low, high = min(mass.low, rule.mass_ct.low), max(mass.high, rule.mass_ct.high)
    return Estimate((low + high) / 2, (high - low) / 2)


def _could_be(
    stone: StoneBrief, fact: CutFact, solid: CutSolid, materials: tuple[GemFact, ...], stated: float
) -> tuple[str, ...]:
    """Materials in which a stone of that size would have the stated mass, the nearest first; at most four."""
    masses = [(material, solid_mass_ct(stone, fact, solid, material)) for material in materials]
    fits = [(abs(mass.value - stated), material.title) for material, mass in masses if mass.low <= stated <= mass.high]
    return tuple(title for _, title in sorted(fits)[:4])
