"""Can it be set? Each holder bent over the crown: strain, springback, force, what its root bears, pressure on the
stone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.steps.setting._head import Head, Holder, plastic_mm3
from ringwright.steps.setting._placed import Placed, crown_deg, point
from ringwright.terms.alloy import Alloy
from ringwright.terms.facts import used
from ringwright.terms.gems import Force, Gem
from ringwright.terms.setting import Claw, SettingPractice, Temper


@dataclass(frozen=True, kw_only=True)
class Metal:
    """The metal as it is set."""

    yield_MPa: float
    elongation_percent: float
    youngs_GPa: float


def metal_of(alloy: Alloy, temper: Temper, practice: Sequence[SettingPractice]) -> Metal:
    """Yield and elongation in the state in which the metal is set."""
    elongation = alloy.elongation_percent
    strength = alloy.yield_annealed_MPa.value
    if temper is Temper.CAST:
        strength = alloy.yield_cast_MPa.value
        elongation *= (used(practice, "cast elongation").share_percent or 100.0) / 100
    elif temper is Temper.WORKED:
        strength *= (used(practice, "worked yield").share_percent or 100.0) / 100
        elongation *= (used(practice, "worked elongation").share_percent or 100.0) / 100
    return Metal(yield_MPa=strength, elongation_percent=elongation, youngs_GPa=alloy.youngs_GPa)


PUSH = {
    Force.FIRM: "push, pusher or hammer",
    Force.CAREFUL: "push, pusher only, no hammer",
    Force.GENTLE: "push, gentle",
}
_CHIPS = ("extremely thin", "very thin")
_MPA_PER_KGF_MM2 = 9.80665


def bears_N(gem: Gem, practice: Sequence[SettingPractice]) -> float:
    """The force on one claw that a stone bears: by its hardness, toughness and cleavage, less with a thin girdle."""
    force = used(practice, PUSH[gem.force]).force_N or 0.0
    if gem.girdle_word in _CHIPS:
        force *= (used(practice, "push, thin girdle").share_percent or 100.0) / 100
    return force


def hardness_MPa(mohs: float, practice: Sequence[SettingPractice]) -> float:
    """Indentation hardness from Mohs's, between the minerals of his scale along the logarithm."""
    scale = sorted((row.mohs, row.knoop_kgf_mm2) for row in practice if row.mohs is not None and row.knoop_kgf_mm2)
    steps, hardness = zip(*scale, strict=True)
    return _MPA_PER_KGF_MM2 * float(np.exp(np.interp(mohs, steps, np.log(hardness))))


def bending_strain(thickness_mm: float, angle_deg: float, length_mm: float) -> float:
    """The strain of the outside of a strip bent through an angle over a length of its middle line: t / 2 R, R = L /
    angle."""
    return float(thickness_mm * np.radians(angle_deg) / (2 * length_mm))


def springback_deg(yield_MPa: float, youngs_GPa: float, thickness_mm: float, length_mm: float) -> float:
    """The angle that a fully plastic strip of rectangular section springs back: M_p L / (E I) = 3 yield L / (E t)."""
    return float(np.degrees(3 * yield_MPa * length_mm / (youngs_GPa * 1000 * thickness_mm)))


def claw(
    placed: Placed, head: Head, number: int, metal: Metal, stock_mm: float, practice: Sequence[SettingPractice]
) -> Claw:
    """One holder with its figures; the stock that is taken off its outside before it is set counts as gone."""
    holder = head.holders[number]
    p = head.girdle.points[holder.middle]
    finished = (used(practice, "seat").share_percent or 0.0) / 100 * holder.thickness
    cut = holder.seat if holder.wall else max(holder.seat, min(finished, holder.thickness))
    left = max(holder.thickness - (holder.seat if holder.wall else cut) - stock_mm, 0.0)
    bends = max(0.0, 90.0 - crown_deg(placed.solid) + holder.lean_deg)
    length = (used(practice, "bend length").share_percent or 100.0) / 100 * max(holder.thickness, 1e-6)
    edge = (used(practice, "bezel edge").share_percent or 100.0) / 100 if holder.wall else 1.0
    strain = float(bending_strain(left * edge, bends, length))
    full, weak = _moduli(holder, cut, stock_mm)
    lever = max(holder.above, 0.2)
    force = metal.yield_MPa * weak / lever
    root = (weak / full) * (lever + holder.root) / lever if full > 0 and not holder.wall else 0.0
    lie = (used(practice, "crown contact").share_percent or 0.0) / 100
    on_crown = lie * placed.solid.crown_height_mm / max(float(np.sin(np.radians(crown_deg(placed.solid)))), 0.1)
    patch = (1.0 if holder.wall else holder.width) * max(on_crown, 0.05)
    return Claw(
        number=number + 1, wall=holder.wall, at_deg=float(np.degrees(np.arctan2(p[1], p[0])) % 360.0),
        point_mm=point(placed.to_ring(np.append(p, 0.0))), tip_mm=point(placed.to_ring(holder.tip)),
        width_mm=holder.width, thickness_mm=holder.thickness, section_mm2=holder.section, above_mm=holder.above,
        lean_deg=holder.lean_deg, seat_mm=holder.seat,
        seat_percent=100 * holder.seat / max(holder.thickness, 1e-6), left_mm=left,
        left_mm2=float((holder.raster[:, 0] > holder.raster[:, 0].min() + cut).sum() * holder.cell_mm2)
        if len(holder.raster) else 0.0,
        gap_mm=holder.gap, bearing=holder.bearing, bend_deg=bends, strain_percent=100 * strain,
        springback_deg=springback_deg(metal.yield_MPa, metal.youngs_GPa, max(left, 0.05), length), force_N=force,
        root_share=root, pressure_MPa=force / patch, bears_MPa=hardness_MPa(placed.gem.mohs, practice),
        bears_N=bears_N(placed.gem, practice),
    )  # fmt: skip


def _moduli(holder: Holder, cut: float, stock_mm: float) -> tuple[float, float]:
    """The plastic section moduli of the whole holder and of what the seat leaves of it, in mm3 (of a wall: per mm)."""
    u = holder.raster[:, 0]
    if not len(u):
        return 0.0, 0.0
    full = holder.raster[u < u.max() - stock_mm] if stock_mm > 0 else holder.raster
    left = full[full[:, 0] > u.min() + (cut - holder.notch)]
    if holder.wall:
        thick = float(np.ptp(u))
        return (thick - stock_mm) ** 2 / 4, max(thick - stock_mm - holder.seat, 0.0) ** 2 / 4
    return plastic_mm3(full, holder.cell_mm2), plastic_mm3(left, holder.cell_mm2)
