"""Several pieces on one tree: in tiers about a trunk, the heaviest nearest the button."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from ringwright.steps.tree.layout import INTO_BUTTON_MM, Hung, Part, Sizes, fillet_mm, hung, sprue, trunk_radius
from ringwright.steps.tree.shapes import frustum
from ringwright.terms.body import Floats, Mesh


def on_trunk(parts: Sequence[Part], a_tier: int, sizes: Sizes) -> Hung | None:
    """Several pieces about a trunk, ``a_tier`` in a tier, the heaviest nearest the button; None if they touch.

    A branch leaves the trunk outward and down as poured (upward, as the tree is built). Each piece hangs by its
    first gate with its finger axis across the radius, so that it takes least room around.
    """
    radius = sizes.sprue_mm / 2
    trunk = trunk_radius(min(a_tier, len(parts)), sizes)
    order = sorted(range(len(parts)), key=lambda n: (-parts[n].mass_g, n))
    tilt = math.radians(sizes.angle_deg)
    rotations: dict[int, Floats] = {}
    shifts: dict[int, Floats] = {}
    placed: dict[int, Floats] = {}
    bars: list[Mesh] = []
    below = -sizes.clear_of_rim_mm
    fillet = min(fillet_mm(p, radius, sizes.least_fillet) for p in parts)
    attach = 0.0
    for start in range(0, len(order), a_tier):
        tier = order[start : start + a_tier]
        lowest, top = 0.0, -math.inf
        poses = []
        for seat, n in enumerate(tier):
            around = 2 * math.pi * (seat + 0.5 * (start // a_tier % 2)) / len(tier)
            out = np.array([math.cos(around), math.sin(around), 0.0])
            way = math.cos(tilt) * out - math.sin(tilt) * np.array([0.0, 0.0, 1.0])
            turn = _hanging(np.array(parts[n].gates[0].outward), -way, np.cross([0.0, 0.0, 1.0], out))
            gate = turn @ np.array(parts[n].gates[0].point_mm)
            shift = way * (trunk / math.cos(tilt) + sizes.length_mm) - gate
            points = parts[n].points @ turn.T + shift
            poses.append((n, turn, shift, way, points))
            top = max(top, float(points[:, 2].max()))
            lowest = min(lowest, float(points[:, 2].min()))
        attach = min(below - max(top, trunk), attach - sizes.sprue_mm)
        drop = np.array([0.0, 0.0, attach])
        for n, turn, shift, way, points in poses:
            rotations[n], shifts[n], placed[n] = turn, shift + drop, points + drop
            gate = parts[n].gates[0]
            at = turn @ np.array(gate.point_mm) + shift + drop
            bars += sprue(at, drop, drop, -way, gate, radius, fillet)
        below = attach + lowest - sizes.between_mm
    end = np.array([0.0, 0.0, attach - trunk])
    bars.append(frustum(end, np.array([0.0, 0.0, INTO_BUTTON_MM]), trunk, trunk))
    every = range(len(parts))
    gap = _least_gap(parts, rotations, shifts, placed, sizes.between_mm, trunk + sizes.clear_of_rim_mm)
    if gap is None:
        return None
    every = range(len(parts))
    return hung(
        tuple(rotations[n] for n in every),
        tuple(shifts[n] for n in every),
        tuple(parts[n].gates[0] for n in every),
        tuple(bars),
        tip_mm=trunk,
        length_mm=sizes.length_mm,
        fillet=fillet,
        stem_mm=(2 * trunk, float(-end[2])),
        placed=[placed[n] for n in every],
        between_mm=gap,
    )


def _hanging(outward: Floats, toward: Floats, across: Floats) -> Floats:
    """The rotation that brings ``outward`` to ``toward`` and the finger axis as near to ``across`` as it can be."""
    finger = np.array([0.0, 0.0, 1.0])
    a = finger - (finger @ outward) * outward
    if np.linalg.norm(a) < 0.1:
        a = np.array([1.0, 0.0, 0.0]) - outward[0] * outward
    a = a / np.linalg.norm(a)
    b = across - (across @ toward) * toward
    b = b / np.linalg.norm(b)
    there = np.array([toward, b, np.cross(toward, b)]).T
    here = np.array([outward, a, np.cross(outward, a)])
    return np.asarray(there @ here, dtype=np.float64)


def _least_gap(
    parts: Sequence[Part],
    rotations: dict[int, Floats],
    shifts: dict[int, Floats],
    placed: dict[int, Floats],
    least_mm: float,
    inner_mm: float,
) -> float | None:
    """The least gap between two pieces, by the points of one against the surface of the other; None if too little.

    None also if a piece comes nearer to the trunk's axis than ``inner_mm``.
    """
    least = math.inf
    for points in placed.values():
        if float(np.hypot(points[:, 0], points[:, 1]).min()) < inner_mm:
            return None
    for i, j in itertools.combinations(sorted(placed), 2):
        low, high = placed[i].min(axis=0), placed[i].max(axis=0)
        apart = np.maximum(np.maximum(low - placed[j].max(axis=0), placed[j].min(axis=0) - high), 0.0)
        if np.linalg.norm(apart) > 4 * least_mm:
            least = min(least, float(np.linalg.norm(apart)))
            continue
        other = (placed[j] - shifts[i]) @ rotations[i]
        gap = float(parts[i].tree.distance_mm(other).min())
        if gap < least_mm:
            return None
        least = min(least, gap)
    return least
