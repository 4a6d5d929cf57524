"""How pieces hang on sprues: what one piece on a fork and several about a trunk have in common.

Here z points up as the mould is poured and the tip of the button's cone is at the origin; the tree hangs below it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science.surface import Surface
from ringwright.steps.tree.shapes import ball, frustum
from ringwright.terms.body import Floats, Mesh
from ringwright.terms.remark import Point
from ringwright.terms.tree import Gate

_FILLETS = (1.0, 0.8, 0.6, 0.4, 0.2, 0.0)
_ROUND = 16
INTO_BUTTON_MM = 0.5
"""The topmost bar reaches this far into the button, so that they are one."""


@dataclass(frozen=True, eq=False)
class Hung:
    """Pieces with their poses (rotation, shift) below the tip, the gates that are used, and the bars that feed them.

    ``tip_mm`` is the radius at the tip; ``stem_mm`` diameter and length of stem or trunk, where there is one.
    """

    rotations: tuple[Floats, ...]
    shifts: tuple[Floats, ...]
    gates: tuple[Gate, ...]
    bars: tuple[Mesh, ...]
    tip_mm: float
    length_mm: float
    fillet_mm: float
    stem_mm: tuple[float, float] | None
    radius_mm: float
    depth_mm: float
    between_mm: float | None = None


@dataclass(frozen=True, eq=False)
class Part:
    """What the layout needs of a piece: its points, its surface, its gates, and the balls of its feeders.

    The balls (middles, and radii with the mould that must be between) are of one piece with it: sprues keep clear.
    """

    name: str
    points: Floats
    tree: Surface
    gates: tuple[Gate, ...]
    mass_g: float
    own_gates: bool = False
    single: Gate | None = None
    feeders: tuple[tuple[Point, float], ...] = ()

    def away_mm(self, points_mm: Floats) -> Floats:
        """How far points are from the piece and from what must stay free about its feeders."""
        away = self.tree.distance_mm(points_mm)
        for middle, radius in self.feeders:
            away = np.minimum(away, np.linalg.norm(points_mm - np.array(middle), axis=1) - radius)
        return away


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """Sizes of the bars."""

    sprue_mm: float
    length_mm: float
    least_fillet: float
    angle_deg: float
    fork_deg: float
    stem_length_mm: float
    trunk_least_mm: float
    trunk_most_mm: float
    between_mm: float
    clear_of_rim_mm: float
    longest_mm: float


def facing(up: Floats) -> Floats:
    """The rotation that brings ``up`` to z and the finger axis as near to x as it can be."""
    z = up / np.linalg.norm(up)
    finger = np.array([0.0, 0.0, 1.0])
    x = finger - (finger @ z) * z
    if np.linalg.norm(x) < 0.1:
        x = np.array([1.0, 0.0, 0.0]) - z[0] * z
    x = x / np.linalg.norm(x)
    return np.array([x, np.cross(z, x), z])


def trunk_radius(feeds: int, sizes: Sizes) -> float:
    """Radius of a stem or trunk whose area is that of the feeds which it serves at once, within the trunk's bounds."""
    wide = sizes.sprue_mm * math.sqrt(feeds)
    return min(max(wide, sizes.trunk_least_mm), max(sizes.trunk_most_mm, sizes.sprue_mm)) / 2


def sprue(
    at: Floats, elbow: Floats, end: Floats, outward: Floats, gate: Gate, radius_mm: float, fillet: float
) -> tuple[Mesh, ...]:
    """A bar from inside the metal at a gate outward to ``elbow`` and on to ``end``, and the wider foot on the metal.

    The same point for elbow and end gives a straight bar.
    """
    into = outward * min(gate.ball_mm / 2, radius_mm)
    bars = [frustum(at - into, elbow, radius_mm, radius_mm)]
    if np.linalg.norm(end - elbow) > 1e-9:
        bars += [ball(elbow, radius_mm), frustum(elbow, end, radius_mm, radius_mm)]
    if fillet > 0.0:
        wide = radius_mm + fillet
        bars.append(frustum(at - outward * min(gate.ball_mm / 2, wide / 2), at, wide, wide))
        bars.append(frustum(at, at + outward * fillet, wide, radius_mm))
    return tuple(bars)


def fillet_mm(part: Part, radius_mm: float, share: float) -> float:
    """How much wider the foot may be at every gate: the share of the radius, or less where it would overhang."""
    widest = share * radius_mm
    for gate in part.gates:
        out = np.array(gate.outward)
        turn = facing(out)
        angle = 2 * np.pi * np.arange(_ROUND) / _ROUND
        circle = np.outer(np.cos(angle), turn[0]) + np.outer(np.sin(angle), turn[1])
        for f in _FILLETS:
            if f * share * radius_mm > widest + 1e-12:
                continue
            reach = radius_mm + f * share * radius_mm
            away = part.tree.distance_mm(np.array(gate.point_mm) + reach * circle)
            if away.max() <= reach / 2:
                widest = f * share * radius_mm
                break
        else:
            widest = 0.0
    return widest


def hung(
    rotations: tuple[Floats, ...],
    shifts: tuple[Floats, ...],
    gates: tuple[Gate, ...],
    bars: tuple[Mesh, ...],
    *,
    tip_mm: float,
    length_mm: float,
    fillet: float,
    stem_mm: tuple[float, float] | None,
    placed: Sequence[Floats],
    between_mm: float | None = None,
) -> Hung:
    """The layout with its reach: how far from the axis and how far below the tip it extends."""
    every = np.concatenate([*placed, *(bar.vertices_mm for bar in bars)])
    return Hung(
        rotations=rotations,
        shifts=shifts,
        gates=gates,
        bars=bars,
        tip_mm=tip_mm,
        length_mm=length_mm,
        fillet_mm=fillet,
        stem_mm=stem_mm,
        radius_mm=float(np.hypot(every[:, 0], every[:, 1]).max()),
        depth_mm=float(-every[:, 2].min()),
        between_mm=between_mm,
    )
