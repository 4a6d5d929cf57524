"""The cabochon: a flat base, an upright wall, and over it a part of an ellipsoid."""

from __future__ import annotations

import math

import numpy as np

from ringwright.science.polyhedra import Loop, Polyhedron
from ringwright.terms.body import Floats

_RINGS = 24


def dome_share(fullness: float) -> float:
    """The volume of a dome over its outline and height: 2/3 for half an ellipsoid, towards 1/2 for a flat cap.

    ``fullness`` (0 to 1] is the share of the half axis that the dome takes. Exact: (2 + s) / (3 (1 + s)) with
    s = 1 - fullness.
    """
    s = 1.0 - fullness
    return (2.0 + s) / (3.0 * (1.0 + s))


def dome_deg(height: float, half_width: float, fullness: float) -> float:
    """The angle at which the dome leaves the girdle, 90 being upright."""
    s = 1.0 - fullness
    return math.degrees(math.atan2(height * (1.0 + s), half_width * s))


def cabochon(outline: Floats, wall: float, height: float, fullness: float) -> Polyhedron:
    """The solid on a convex ``outline`` (n, 2): base at z = 0, upright to ``wall``, the dome's top at wall + height."""
    n = len(outline)
    s = 1.0 - fullness
    angles = np.linspace(math.asin(s), math.pi / 2, _RINGS + 1)[:-1]
    radii = np.cos(angles) / math.cos(angles[0])
    heights = wall + height * (np.sin(angles) - s) / (1.0 - s)
    rings = [np.column_stack([outline, np.zeros(n)])] if wall > 0 else []
    rings += [np.column_stack([outline * r, np.full(n, z)]) for r, z in zip(radii, heights, strict=True)]
    vertices = np.vstack([*rings, [(0.0, 0.0, wall + height)]])
    faces: list[Loop] = [tuple(range(n - 1, -1, -1))]
    for ring in range(len(rings) - 1):
        low, high = ring * n, (ring + 1) * n
        faces += [(low + i, low + (i + 1) % n, high + (i + 1) % n, high + i) for i in range(n)]
    last, top = (len(rings) - 1) * n, len(vertices) - 1
    faces += [(last + i, last + (i + 1) % n, top) for i in range(n)]
    return Polyhedron(vertices, tuple(faces))
