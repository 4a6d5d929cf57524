"""Sprues, stems and buttons as closed solids: round, with as many sides as are asked for, and with the exact volume.

A round section is drawn as a polygon of the same area, so that volumes are those of the round solid.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from ringwright.terms.body import Floats, Mesh

SIDES = 48


def frustum(start: Floats, end: Floats, start_mm: float, end_mm: float, sides: int = SIDES) -> Mesh:
    """A round bar from ``start`` to ``end`` with these radii at its ends."""
    along = np.asarray(end, float) - np.asarray(start, float)
    z = along / np.linalg.norm(along)
    x, y = across(z)
    angle = 2 * np.pi * np.arange(sides) / sides
    ring = np.outer(np.cos(angle), x) + np.outer(np.sin(angle), y)
    wide = _equal_area(sides)
    points = np.concatenate([start + ring * (start_mm * wide), end + ring * (end_mm * wide), [start, end]])
    i = np.arange(sides)
    j = (i + 1) % sides
    first, last = np.full(sides, 2 * sides), np.full(sides, 2 * sides + 1)
    faces = np.concatenate(
        [
            np.stack([i, j, sides + j], axis=1),
            np.stack([i, sides + j, sides + i], axis=1),
            np.stack([first, j, i], axis=1),
            np.stack([last, sides + i, sides + j], axis=1),
        ]
    )
    return Mesh(points, faces)


def ball(centre: Floats, radius_mm: float) -> Mesh:
    """A ball, for the joint of bars that meet at an angle."""
    unit = _unit_ball()
    return Mesh(unit.vertices_mm * radius_mm + np.asarray(centre, float), unit.faces)


@cache
def _unit_ball() -> Mesh:
    from ringwright.science.solids import hull

    steps = SIDES // 2
    rows = []
    for k in range(steps + 1):
        polar = math.pi * k / steps
        turn = 2 * np.pi * np.arange(1 if k in (0, steps) else SIDES) / SIDES
        rows.append(
            np.stack(
                [math.sin(polar) * np.cos(turn), math.sin(polar) * np.sin(turn), np.full(len(turn), math.cos(polar))],
                axis=1,
            )
        )
    return hull(np.concatenate(rows))


def cone_height(volume_mm3: float, tip_mm: float, half_angle_deg: float) -> float:
    """Height of a cone frustum that widens from radius ``tip_mm`` by ``half_angle_deg`` and holds ``volume_mm3``.

    From V = pi ((r + h t)^3 - r^3) / (3 t) with t the tangent of the half-angle.
    """
    t = math.tan(math.radians(half_angle_deg))
    return (math.cbrt(tip_mm**3 + 3.0 * t * volume_mm3 / math.pi) - tip_mm) / t


def across(along: Floats) -> tuple[Floats, Floats]:
    """Two unit directions square to a unit direction and to each other, right-handed with it."""
    z = np.asarray(along, float)
    x = np.cross(z, (1.0, 0.0, 0.0) if abs(z[0]) < 0.9 else (0.0, 1.0, 0.0))
    x /= np.linalg.norm(x)
    return x, np.cross(z, x)


def _equal_area(sides: int) -> float:
    """Radius of the corners of a regular polygon with the area of the unit circle."""
    full = 2 * math.pi / sides
    return math.sqrt(full / math.sin(full))
