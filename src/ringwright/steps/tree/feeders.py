"""Blind feeders: a ball of metal on a short neck, at a heavy place that no gate feeds, that freezes after it.

Sized as foundries size them: volume over cooling surface of the feeder, and of its neck, against that of the place that
it feeds, and metal enough to give away what that place shrinks by. A ball is the form that cools slowest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ringwright.science.solids import to_manifold
from ringwright.science.surface import surface
from ringwright.steps.tree.gates import ON_METAL_MM, gate_at
from ringwright.steps.tree.heavy import Studied, about, part_about
from ringwright.steps.tree.shapes import ball, frustum
from ringwright.steps.tree.sizing import rule_of
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Floats, Mesh
from ringwright.terms.mistake import BadInput, Mistake, bad
from ringwright.terms.tree import Feeder, SprueRule, TreePiece, Way

MAKERS = "the maker's own"
_FREE_NECK = 0.5
"""The ball keeps at least this share of its neck's length from the piece, so that the saw gets in."""

_ROUNDS = 4
_LEAST_COOLING = 0.5


@dataclass(frozen=True, eq=False)
class Fed:
    """The feeders of one piece; ``in_hole`` and ``at_stone`` are the numbers of those that lie there."""

    feeders: tuple[Feeder, ...] = ()
    in_hole: tuple[int, ...] = ()
    at_stone: tuple[int, ...] = ()


def fed(piece: TreePiece, studied: Studied, way: Way | None, alloy: Alloy, rules: Sequence[SprueRule]) -> Fed:
    """The maker's own feeders, or those of a way.

    Raises :class:`BadInput` for one that is not on the metal, or whose ball would touch the piece beside its neck.
    """
    points = piece.feeders_mm if way is None else way.feeders_mm
    if not points:
        return Fed()
    at = np.array(points, dtype=np.float64)
    off = studied.tree.distance_mm(at)
    faults = [
        Mistake(
            f"tree.feeders[{n}]",
            f"feeder {n} of {piece.name} lies {far:.1f} mm off the metal",
            "a point on the surface of the ring, in the coordinates of the model",
        )
        for n, far in enumerate(off, start=1)
        if not far <= ON_METAL_MM
    ]
    if faults:
        raise BadInput(*faults)
    why = MAKERS if way is None else f"searched: {way.what}"
    made = tuple(feeder_at(piece.name, studied, p, alloy, rules, why) for p in at)
    for n, one in enumerate(made, start=1):
        if not stands_clear(studied, one):
            raise bad(
                f"tree.feeders[{n}]",
                f"the ball of feeder {n} of {piece.name}, {one.diameter_mm:.1f} mm, would touch the ring beside its "
                "neck",
                "a place with more room about it",
            )
    least = rule_of(rules, "stone").least_mm or 0.0
    stones = [surface(stone) for stone in piece.stones]
    nearest = [int(np.argmin(np.linalg.norm(studied.at - p, axis=1))) for p in at]
    return Fed(
        made,
        in_hole=tuple(n for n, place in enumerate(nearest) if studied.hole[place]),
        at_stone=tuple(n for n, p in enumerate(at) if any(s.distance_mm(p[None])[0] < least for s in stones)),
    )


def feeder_at(
    name: str, studied: Studied, point_mm: Floats, alloy: Alloy, rules: Sequence[SprueRule], why: str
) -> Feeder:
    """The feeder at a point on or near the surface, sized by the heaviest metal within a ball of it."""
    gate = gate_at(name, studied, point_mm, why)
    under = np.array(gate.point_mm) - np.array(gate.outward) * gate.ball_mm / 2
    centre, thickest = about(studied, under, gate.ball_mm)
    metal_mm3, cooling_mm2 = part_about(studied.mesh, centre, thickest)
    modulus, diameter, neck, length = sized(metal_mm3, cooling_mm2, alloy, rules)
    made = Feeder(
        piece=name,
        point_mm=gate.point_mm,
        outward=gate.outward,
        ball_mm=thickest,
        place_modulus_mm=modulus,
        modulus_mm=diameter / 6,
        diameter_mm=diameter,
        neck_diameter_mm=neck,
        neck_length_mm=length,
        volume_mm3=0.0,
        why=why,
    )
    return replace(made, volume_mm3=float((to_manifold(solid(made)) - to_manifold(studied.mesh)).volume()))


def sized(
    metal_mm3: float, cooling_mm2: float, alloy: Alloy, rules: Sequence[SprueRule]
) -> tuple[float, float, float, float]:
    """For a place with that much metal and cooling surface: its volume over surface with the neck on it, the diameter
    of the ball, and diameter and length of the neck, in mm.

    A ball's volume over surface is a sixth of its diameter, a bar's a quarter. Where the neck stands the place no
    longer cools. The ball holds at least a / (e - a) of the metal that it feeds, a being the shrinkage in freezing, e
    what a feeder can give away.
    """
    step = rule_of(rules, "step").use_mm or 0.1
    shrinks = alloy.freezing_shrinkage_percent / 100.0
    gives = rule_of(rules, "feeder-yield").use_share or 0.0
    if not gives > shrinks:
        raise bad(
            "metal.alloy", f"it shrinks by {shrinks:.0%} in freezing", f"less than {gives:.0%}, what feeders give"
        )
    long = rule_of(rules, "feeder-neck-length")
    length, share = long.least_mm or 0.0, long.most_share or 1.0
    holds = math.cbrt(6.0 / math.pi * metal_mm3 * shrinks / (gives - shrinks))
    modulus, neck = metal_mm3 / cooling_mm2, 0.0
    for _ in range(_ROUNDS):
        neck = _up(4.0 * (rule_of(rules, "feeder-neck").use_share or 1.0) * modulus, step)
        modulus = metal_mm3 / max(cooling_mm2 - math.pi / 4 * neck**2, _LEAST_COOLING * cooling_mm2)
    lasts = 6.0 * (rule_of(rules, "feeder").use_share or 1.0) * modulus
    return modulus, _up(max(lasts, holds, length / share), step), neck, length


def _up(mm: float, step: float) -> float:
    return round(math.ceil(mm / step - 1e-9) * step, 6)


def solid(feeder: Feeder) -> Mesh:
    """Neck and ball as one closed solid in the ring's frame, the neck's foot in the metal."""
    from ringwright.science.solids import united

    foot, out = np.array(feeder.point_mm), np.array(feeder.outward)
    centre, radius = np.array(feeder.centre_mm), feeder.neck_diameter_mm / 2
    inside = foot - out * min(feeder.ball_mm / 2, radius)
    return united([frustum(inside, centre, radius, radius), ball(centre, feeder.diameter_mm / 2)])


def stands_clear(studied: Studied, feeder: Feeder) -> bool:
    """Whether the ball keeps clear of the piece, but for its neck."""
    away = float(studied.tree.distance_mm(np.array([feeder.centre_mm]))[0])
    return away >= feeder.diameter_mm / 2 + _FREE_NECK * feeder.neck_length_mm


def apart_mm(feeder: Feeder, bars: Sequence[Mesh]) -> float:
    """How far the ball, as it stands in the ring's frame, is from the nearest of these bars."""
    centre = np.array([feeder.centre_mm])
    return min(float(surface(bar).distance_mm(centre)[0]) for bar in bars) - feeder.diameter_mm / 2
