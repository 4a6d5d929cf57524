"""Sections of a shank, as outlines of (height over the finger, place along it), and the proportions of starters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringwright.terms.body import Floats
from ringwright.terms.facts import used
from ringwright.terms.mistake import bad
from ringwright.terms.piece import StarterProportion

STEP_MM = 0.2
"""Distance of the vertices along a section."""
BOW = 48
"""Least number of chords of a bow: what they cut off, of the bow's own area, is one part in the square of it."""
AROUND = 288
"""Sections round a shank: chords take 0.008 % of the volume, and vertices stand 0.2 mm apart."""
SECTIONS = ("flat", "D", "court", "oval")


class Proportions:
    """The rows of ``starter_proportions`` by key."""

    def __init__(self, rows: Sequence[StarterProportion]) -> None:
        self._rows = tuple(rows)

    def mm(self, key: str) -> float:
        """A length in mm."""
        value = used(self._rows, key, "proportion of a starter").length_mm
        if value is None:
            raise bad("starter_proportions", f"'{key}' has no length", "give length_mm")
        return value

    def share(self, key: str) -> float:
        """A share, of one."""
        value = used(self._rows, key, "proportion of a starter").share_percent
        if value is None:
            raise bad("starter_proportions", f"'{key}' has no share", "give share_percent")
        return value / 100.0


def outline(section: str, width: float, thickness: float, *, comfort: bool, proportions: Proportions) -> Floats:
    """The closed outline (m, 2) of a section as broad and thick as said; comfort rounds the inside.

    Court is a D with a rounded inside; oval is an ellipse, rounded inside by nature.
    """
    half = width / 2.0
    if section == "oval":
        count = max(int(np.ceil(np.pi * (half + thickness / 2.0) / STEP_MM)), 3 * BOW)
        turn = np.arange(count) * (2.0 * np.pi / count)
        points: Floats = np.stack([thickness / 2.0 * (1.0 - np.cos(turn)), half * np.sin(turn)], axis=1)
        return points
    rise = proportions.share("comfort-rise") * thickness if comfort or section == "court" else 0.0
    inside = _bow(half, 0.0, rise)[::-1] if rise else _line((0.0, half), (0.0, -half))
    if section == "flat" and not rise:
        return _rounded(half, thickness, min(proportions.mm("flat-edge"), 0.4 * thickness, 0.4 * half))
    edge = thickness if section == "flat" else proportions.share("dome-edge") * thickness
    outside = _line((edge, -half), (edge, half)) if section == "flat" else _bow(half, thickness, edge)
    sides = (_line((rise, -half), (edge, -half)), _line((edge, half), (rise, half)))
    return np.concatenate([inside[:-1], sides[0][:-1], outside[:-1], sides[1][:-1]])


def _line(start: tuple[float, float], end: tuple[float, float]) -> Floats:
    """Points from ``start`` to ``end``, both counted."""
    a, b = np.array(start), np.array(end)
    count = max(int(np.ceil(float(np.linalg.norm(b - a)) / STEP_MM)), 1)
    points: Floats = a + np.linspace(0.0, 1.0, count + 1)[:, None] * (b - a)
    return points


def _bow(half: float, middle: float, edge: float) -> Floats:
    """A bow from (edge, -half) by (middle, 0) to (edge, half): of a circle, or half an ellipse if it is steeper."""
    sag = abs(middle - edge)
    way = np.sign(middle - edge)
    count = max(int(np.ceil(2.0 * (half + sag) / STEP_MM)), BOW)
    if sag >= half:
        turn = np.linspace(-np.pi / 2.0, np.pi / 2.0, count + 1)
        return np.stack([edge + way * sag * np.cos(turn), half * np.sin(turn)], axis=1)
    radius = (half**2 + sag**2) / (2.0 * sag)
    reach = np.arcsin(half / radius)
    turn = np.linspace(-reach, reach, count + 1)
    points: Floats = np.stack([middle - way * radius * (1.0 - np.cos(turn)), radius * np.sin(turn)], axis=1)
    points[0], points[-1] = (edge, -half), (edge, half)
    return points


def _rounded(half: float, thickness: float, edge: float) -> Floats:
    """A rectangle with four rounded corners, beginning at the inside."""
    quarter = np.linspace(0.0, np.pi / 2.0, 7)
    corners = [
        (edge, -half + edge, np.pi),
        (thickness - edge, -half + edge, 1.5 * np.pi),
        (thickness - edge, half - edge, 0.0),
        (edge, half - edge, 0.5 * np.pi),
    ]
    pieces = []
    for k, (r, z, start) in enumerate(corners):
        arc = np.stack([r + edge * np.cos(start + quarter), z + edge * np.sin(start + quarter)], axis=1)
        r2, z2, start2 = corners[(k + 1) % 4]
        to = (r2 + edge * np.cos(start2), z2 + edge * np.sin(start2))
        pieces.append(np.concatenate([arc, _line((float(arc[-1, 0]), float(arc[-1, 1])), to)[1:-1]]))
    return np.concatenate(pieces)
