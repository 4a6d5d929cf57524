"""The planes of step cuts (stacked offset polygons with a keel) and of the princess (chevrons between four ridges).

Heights in mm from the lower edge of the girdle (z = 0); its upper edge is at z = ``girdle``.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from ringwright.terms.body import Floats


def profile(angles_deg: Sequence[float], shares: Sequence[float], run: float, rise: float) -> list[tuple[float, float]]:
    """The corners (inset, height) of a row of steps from (0, 0) to (``run``, ``rise``).

    Each step takes its share of the run; the angles say how the rise is parted, and are made steeper or flatter
    together (by their tangents) so that the whole rise comes out.
    """
    parts = np.array(shares) / sum(shares) * run
    raw = parts * np.tan(np.radians(angles_deg))
    heights = raw * (rise / raw.sum())
    corners = np.column_stack([np.cumsum(parts), np.cumsum(heights)])
    return [(0.0, 0.0), *((float(e), float(z)) for e, z in corners)]


def step_planes(
    half: Floats, girdle: float, crown: Sequence[tuple[float, float]], pavilion: Sequence[tuple[float, float]]
) -> tuple[Floats, Floats]:
    """The half-spaces of a step cut on half of a polygon: every side is set in evenly, step by step.

    ``crown`` and ``pavilion`` are profiles (inset, height or depth) from the girdle; where the sides of the pavilion
    meet they form the keel (or the point, on a square).
    """
    normals: list[Floats] = [np.array([0.0, 0.0, 1.0])]
    offsets: list[float] = [girdle + crown[-1][1]]
    for a, b in itertools.pairwise(half):
        along = (b - a) / np.linalg.norm(b - a)
        outward = np.array([along[1], -along[0]])
        reach = float(outward @ a)
        for base, sign, steps in ((girdle, 1.0, crown), (0.0, -1.0, pavilion)):
            for (e0, z0), (e1, z1) in itertools.pairwise(steps):
                slope = (z1 - z0) / (e1 - e0)
                normals.append(np.array([*(slope * outward), sign]))
                offsets.append(sign * base + z0 + slope * (reach - e0))
    return np.array(normals), np.array(offsets)


def princess_planes(
    length: float,
    width: float,
    girdle: float,
    crown: Sequence[tuple[float, float]],
    pavilion: Sequence[tuple[float, float]],
    ridge: float,
) -> tuple[Floats, Floats]:
    """The half-spaces of a princess: on a square, then stretched to the length.

    Crown: ``crown`` is the profile on the middle of a side; in each corner a kite from the corner to the table.
    Pavilion: ``pavilion`` is the profile on the middle of a side, from the girdle to the culet. Its first step is one
    facet along the side; every other step is a chevron, two facets that meet in the profile's line and fan out to
    the corner; from each corner a narrow ridge facet runs to the culet. ``ridge`` (0 to 1) says how far the last
    chevron leaves room for it: 1 leaves none.
    """
    a = width / 2
    depth = pavilion[-1][1]
    square = np.array([(a, -a), (a, a), (-a, a), (-a, -a)])
    normals, offsets = step_planes(square, girdle, crown, pavilion[:2])
    rows: list[tuple[Floats, float]] = list(zip(normals, offsets, strict=True))
    kite = crown[-1][1] / (2 * crown[-1][0])
    for x, y in ((1.0, 1.0), (-1.0, 1.0)):
        rows.append((np.array([kite * x, kite * y, 1.0]), girdle + 2 * a * kite))
        rows.append((np.array([x, y, -2 * a / depth]), 2 * a))
    for (e0, z0), (e1, z1) in itertools.pairwise(pavilion[1:]):
        slope = (z1 - z0) / (e1 - e0)
        spill = z0 - slope * e0
        last = (e1, z1) == tuple(pavilion[-1])
        tilt = (ridge if last else 1.0) * spill / a
        for x, y in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)):
            for side in (-1.0, 1.0):
                horizontal = np.array([slope * x - side * tilt * y, slope * y + side * tilt * x])
                rows.append((np.array([*horizontal, -1.0]), spill + slope * a))
    stretch = np.array([width / length, 1.0, 1.0])
    kept = [(normal * stretch, offset) for normal, offset in rows if normal[1] >= -1e-12]
    return np.array([n for n, _ in kept]), np.array([o for _, o in kept])
