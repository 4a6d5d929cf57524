"""Does the ring stay head up? The moment of the mass off the finger's axis against friction."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ringwright.terms.facts import used
from ringwright.terms.remark import Point
from ringwright.terms.wear import WearLimitFact

_GRAVITY_M_S2 = 9.80665


@dataclass(frozen=True)
class Poise:
    """Centre of mass off the axis, moment that turns, moment that holds, and their ratio."""

    off_axis_mm: float
    turning_Nmm: float
    friction_Nmm: float
    share: float


def balance(
    metal_g: float,
    metal_at_mm: Point,
    stones: Sequence[tuple[float, Point]],
    radius_mm: float,
    limits: Sequence[WearLimitFact],
) -> Poise:
    """A ring that hangs loose on a round finger, head sideways: the worst way to hold it.

    It touches the finger along one line and its weight m g acts off the axis by e. It slips when the weight's
    moment m g e exceeds what friction holds, m g r sin(arctan μ) (the angle of friction; statics of a body on
    a rough cylinder). A ring that fits snugly holds better than this.
    """
    parts = [(metal_g, metal_at_mm), *stones]
    mass = sum(m for m, _ in parts)
    x, y = (sum(m * p[i] for m, p in parts) / mass for i in (0, 1))
    off = math.hypot(x, y)
    friction = used(limits, "skin-friction").coefficient or 0.0
    weight_N = mass * 1e-3 * _GRAVITY_M_S2
    turning, holding = weight_N * off, weight_N * radius_mm * math.sin(math.atan(friction))
    return Poise(off, turning, holding, turning / holding)
