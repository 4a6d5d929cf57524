"""One piece on its gates: a straight sprue for one, a fork under a stem for more."""

from __future__ import annotations

import itertools
import math

import numpy as np

from ringwright.steps.tree.layout import INTO_BUTTON_MM, Hung, Part, Sizes, facing, fillet_mm, hung, sprue, trunk_radius
from ringwright.steps.tree.shapes import ball, frustum
from ringwright.terms.body import Floats, Mesh

_STUBS = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
_LEAST_UP = -0.1


def on_one(part: Part, sizes: Sizes) -> Hung | None:
    """The piece on all of its gates, or None if no fork reaches them without touching the piece.

    Every branch of a fork leaves the metal squarely and bends toward the stem. The direction that points up is the
    one, of the gates' mean and 14 others, that takes least room.
    """
    if len(part.gates) == 1:
        return _straight(part, sizes)
    outs = np.array([g.outward for g in part.gates])
    mean = outs.sum(axis=0)
    ups = [np.array(u, float) for u in itertools.product((-1, 0, 1), repeat=3) if 0 < sum(map(abs, u)) != 2]
    if np.linalg.norm(mean) > 0.3:
        ups.insert(0, mean)
    ups = [u / np.linalg.norm(u) for u in ups]
    for stub in _STUBS:
        ways = [_fork(part, sizes, up, stub * sizes.sprue_mm) for up in ups if (outs @ up).min() > _LEAST_UP]
        clear = [way for way in ways if way is not None]
        if clear:
            return min(clear, key=lambda way: way.radius_mm**2 * way.depth_mm)
    return None


def _straight(part: Part, sizes: Sizes) -> Hung:
    gate = part.gates[0]
    out = np.array(gate.outward)
    turn = facing(out)
    at = turn @ np.array(gate.point_mm)
    points = part.points @ turn.T
    rise = float(points[:, 2].max())
    radius = sizes.sprue_mm / 2
    fillet = fillet_mm(part, radius, sizes.least_fillet)
    length = max(sizes.length_mm, rise - float(at[2]) + sizes.clear_of_rim_mm)
    shift = -(at + np.array([0.0, 0.0, length]))
    end = np.array([0.0, 0.0, INTO_BUTTON_MM])
    return hung(
        (turn,),
        (shift,),
        part.gates,
        sprue(at + shift, end, end, turn @ out, gate, radius, fillet),
        tip_mm=radius,
        length_mm=length,
        fillet=fillet,
        stem_mm=None,
        placed=[points + shift],
    )


def _fork(part: Part, sizes: Sizes, up: Floats, stub_mm: float) -> Hung | None:
    """The fork for one direction up; None if a branch would touch the piece."""
    turn = facing(up)
    gates = np.array([g.point_mm for g in part.gates]) @ turn.T
    ways = np.array([g.outward for g in part.gates]) @ turn.T
    radius = sizes.sprue_mm / 2
    elbows = gates + ways * stub_mm
    middle = elbows[:, :2].mean(axis=0)
    aside = np.linalg.norm(elbows[:, :2] - middle, axis=1)
    steep = math.tan(math.radians(sizes.fork_deg))
    lift = np.maximum(np.sqrt(np.maximum((sizes.length_mm - stub_mm) ** 2 - aside**2, 0.0)), aside * steep)
    fork = np.array([middle[0], middle[1], float((elbows[:, 2] + lift).max())])
    points = part.points @ turn.T
    rise = float(points[:, 2].max())
    if rise > fork[2] or not _clear(part, turn, gates, elbows, fork, radius):
        return None
    stem_radius = max(trunk_radius(len(gates), sizes), radius)
    stem = max(sizes.stem_length_mm, rise + sizes.clear_of_rim_mm - float(fork[2]))
    shift = -(fork + np.array([0.0, 0.0, stem]))
    fillet = fillet_mm(part, radius, sizes.least_fillet)
    bars: list[Mesh] = []
    for at, elbow, way, gate in zip(gates, elbows, ways, part.gates, strict=True):
        bars += sprue(at + shift, elbow + shift, fork + shift, way, gate, radius, fillet)
    bars.append(ball(fork + shift, stem_radius))
    bars.append(frustum(fork + shift, np.array([0.0, 0.0, INTO_BUTTON_MM]), stem_radius, stem_radius))
    return hung(
        (turn,),
        (shift,),
        part.gates,
        tuple(bars),
        tip_mm=stem_radius,
        length_mm=float(stub_mm + np.linalg.norm(fork - elbows, axis=1).max()),
        fillet=fillet,
        stem_mm=(2 * stem_radius, stem),
        placed=[points + shift],
    )


def _clear(part: Part, turn: Floats, gates: Floats, elbows: Floats, fork: Floats, radius_mm: float) -> bool:
    """Whether the branches keep free of the piece, but for the feet on it."""
    for at, elbow in zip(gates, elbows, strict=True):
        stub, branch = elbow - at, fork - elbow
        near = np.linspace(0.3, 1.0, 6)[:, None]
        steps = np.linspace(0.0, 1.0, max(4, int(np.linalg.norm(branch) / (radius_mm / 2))))[:, None]
        away = part.away_mm(np.concatenate([at + near * stub, elbow + steps * branch]) @ turn)
        least = np.concatenate(
            [np.minimum(near[:, 0] * np.linalg.norm(stub), radius_mm), np.full(len(steps), radius_mm)]
        )
        if (away < 0.85 * least).any():
            return False
    return True
