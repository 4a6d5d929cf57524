"""Outlines of cuts seen from the top, exact: ellipse, two-arc marquise, pear, heart, cushion, cut-corner rectangle.

Every outline is symmetric about the length. What is kept is its half with y >= 0, from the end at +x (the point of a
pear, a marquise or a heart) counter-clockwise to the end at -x; lengths in mm, centred on the bounding box.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.terms.body import Floats

_STEP = math.radians(3.0)


@dataclass(frozen=True, eq=False)
class Outline:
    """Half an outline with the places where the facets of a brilliant meet it.

    ``points`` (n, 2) runs from +x to -x; ``mains`` are the places of the main facets with their outward ``normals``
    (m, 2), ``mids`` the places between them; ``centre`` is the x over the culet. A ``notched`` outline ends at -x in a
    cleft: the normal there is that of the one lobe, so that the two mains of the cleft form a valley.
    """

    points: Floats
    mains: Floats
    normals: Floats
    mids: Floats
    centre: float = 0.0
    notched: bool = False


@dataclass(frozen=True)
class _Arc:
    """A piece of an ellipse: centre, half axes, and the angles (radians) from which to which it runs."""

    x: float
    y: float
    rx: float
    ry: float
    start: float
    end: float

    def at(self, share: float) -> tuple[float, float]:
        angle = self.start + share * (self.end - self.start)
        return self.x + self.rx * math.cos(angle), self.y + self.ry * math.sin(angle)

    def normal(self, share: float) -> tuple[float, float]:
        angle = self.start + share * (self.end - self.start)
        nx, ny = math.cos(angle) / self.rx, math.sin(angle) / self.ry
        length = math.hypot(nx, ny)
        return nx / length, ny / length


_Place = tuple[int, float]
"""A place on a chain of arcs: which arc, and the share of its angle."""


def _outline(
    arcs: Sequence[_Arc],
    mains: Sequence[_Place],
    mids: Sequence[_Place],
    centre: float = 0.0,
    notched: bool = False,
    also: Sequence[_Place] = (),
) -> Outline:
    """Sample a chain of arcs so that every main and mid is a point; the first and the last main lie on the axis."""
    shares: list[set[float]] = [{0.0, 1.0} for _ in arcs]
    for number, share in (*mains, *mids, *also):
        shares[number].add(share)
    points: list[tuple[float, float]] = []
    for arc, marks in zip(arcs, shares, strict=True):
        ordered = sorted(marks)
        for a, b in itertools.pairwise(ordered):
            count = max(1, math.ceil(abs(arc.end - arc.start) * (b - a) / _STEP))
            points += [arc.at(a + (b - a) * i / count) for i in range(count)]
    points.append(arcs[-1].at(1.0))
    chain = np.array(points)
    chain[[0, -1], 1] = 0.0
    places = np.array([arcs[i].at(s) for i, s in mains])
    normals = np.array([arcs[i].normal(s) for i, s in mains])
    places[[0, -1], 1] = 0.0
    for end in (0,) if notched else (0, -1):
        normals[end] = (math.copysign(1.0, places[end, 0] - centre), 0.0)
    between = np.array([arcs[i].at(s) for i, s in mids])
    return Outline(chain, places, normals, between, centre, notched)


def ellipse(length: float, width: float) -> Outline:
    """An ellipse (a circle where the two are equal), with eight mains around it."""
    arc = _Arc(0.0, 0.0, length / 2, width / 2, 0.0, math.pi)
    return _outline([arc], [(0, k / 4) for k in range(5)], [(0, (k + 0.5) / 4) for k in range(4)])


def marquise(length: float, width: float) -> Outline:
    """Two arcs of one radius, W (1 + q²) / 4 for L:W = q, that meet in two points."""
    radius = (length**2 + width**2) / (4 * width)
    start = math.asin((radius - width / 2) / radius)
    arc = _Arc(0.0, width / 2 - radius, radius, radius, start, math.pi - start)
    return _outline([arc], [(0, k / 4) for k in range(5)], [(0, (k + 0.5) / 4) for k in range(4)])


def pear(length: float, width: float) -> Outline:
    """A half circle as the head, and two arcs that leave it without a kink and meet in the point at +x.

    The places of the facets along the arcs are a layout of ours: so that no girdle's scallop is much deeper than the
    others.
    """
    r = width / 2
    centre = -length / 2 + r
    side = _to_point(centre, r, length / 2)
    head = _Arc(centre, 0.0, r, r, math.pi / 2, math.pi)
    return _outline(
        [side, head],
        [(0, 0.0), (0, 0.45), (1, 0.0), (1, 0.5), (1, 1.0)],
        [(0, 0.22), (0, 0.75), (1, 0.25), (1, 0.75)],
        centre,
    )


def heart(length: float, width: float, cleft: float) -> Outline:
    """Two lobes that meet in a cleft of depth ``cleft`` at -x, and two arcs that meet in the point at +x.

    The places of the facets are laid out as those of a pear.
    """
    r = cleft + width / 2 - math.sqrt(cleft * width)
    x, y = -length / 2 + r, width / 2 - r
    side = _to_point(x, width / 2, length / 2)
    end = math.pi + math.asin(y / r)
    lobe = _Arc(x, y, r, r, math.pi / 2, end)
    return _outline(
        [side, lobe],
        [(0, 0.0), (0, 0.45), (1, 0.0), (1, 0.58), (1, 1.0)],
        [(0, 0.22), (0, 0.72), (1, 0.28), (1, 0.84)],
        notched=True,
        also=[(1, (math.pi / 2) / (end - math.pi / 2))],
    )


def cushion(length: float, width: float, corner_radius: float, bulge: float) -> Outline:
    """Four bulged sides, each an arc that rises ``bulge`` over its chord, joined by corner arcs without a kink."""
    long = ((length / 2) ** 2 + bulge**2) / (2 * bulge)
    short = ((width / 2) ** 2 + bulge**2) / (2 * bulge)
    ax, ay = length / 2 - short, width / 2 - long
    x, y = _meet((ax, 0.0), short - corner_radius, (0.0, ay), long - corner_radius)
    low = math.atan2(y, x - ax)
    high = math.atan2(y - ay, x)
    arcs = [
        _Arc(ax, 0.0, short, short, 0.0, low),
        _Arc(x, y, corner_radius, corner_radius, low, high),
        _Arc(0.0, ay, long, long, high, math.pi - high),
        _Arc(-x, y, corner_radius, corner_radius, math.pi - high, math.pi - low),
        _Arc(-ax, 0.0, short, short, math.pi - low, math.pi),
    ]
    return _outline(
        arcs,
        [(0, 0.0), (1, 0.5), (2, 0.5), (3, 0.5), (4, 1.0)],
        [(1, 0.0), (1, 1.0), (3, 0.0), (3, 1.0)],
    )


def rectangle(length: float, width: float, leg: float) -> Floats:
    """Half of a rectangle with corners cut at 45 degrees; ``leg`` is what the cut takes of each side, 0 for none."""
    a, b = length / 2, width / 2
    if leg <= 0:
        return np.array([(a, 0.0), (a, b), (-a, b), (-a, 0.0)])
    return np.array([(a, 0.0), (a, b - leg), (a - leg, b), (-a + leg, b), (-a, b - leg), (-a, 0.0)])


def mirrored(half: Floats) -> Floats:
    """The whole outline, counter-clockwise, from its half; the two ends on the axis stand once."""
    return np.vstack([half, half[-2:0:-1] * np.array([1.0, -1.0])])


def _to_point(x: float, rise: float, tip: float) -> _Arc:
    """The arc from the point (tip, 0) to (x, rise), level there: it runs on without a kink."""
    reach = tip - x
    radius = (reach**2 + rise**2) / (2 * rise)
    start = math.atan2(radius - rise, reach)
    return _Arc(x, rise - radius, radius, radius, start, math.pi / 2)


def _meet(a: tuple[float, float], ra: float, b: tuple[float, float], rb: float) -> tuple[float, float]:
    """Where the circles about ``a`` and ``b`` meet in the quarter x > 0, y > 0."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    d = math.hypot(dx, dy)
    along = (ra**2 - rb**2 + d**2) / (2 * d)
    across = math.sqrt(ra**2 - along**2)
    mx, my = a[0] + along * dx / d, a[1] + along * dy / d
    return max((mx - across * dy / d, my + across * dx / d), (mx + across * dy / d, my - across * dx / d), key=min)
