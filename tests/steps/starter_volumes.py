"""The volumes of the starter shapes computed a second way, from what their functions say they are made of.

Bands by closed forms (Pappus and Guldin); a signet by an integral over its sections; the heads by Sobol points in
the box about them, in or out by formulas of their own. Nothing here uses a mesh.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
from scipy import integrate
from scipy.stats import qmc

from ringwright.steps.piece._heads import Claws, Heights
from ringwright.terms.commission import StarterBrief
from ringwright.terms.piece import StarterProportion

Section = list[tuple[float, float]]
"""Areas with the height of their centroid over the finger; what is cut away counts as negative."""


class Rows:
    """The proportions by key."""

    def __init__(self, rows: tuple[StarterProportion, ...]) -> None:
        self._rows = {row.key: row for row in rows}

    def mm(self, key: str) -> float:
        value = self._rows[key].length_mm
        assert value is not None
        return value

    def share(self, key: str) -> float:
        value = self._rows[key].share_percent
        assert value is not None
        return value / 100.0


def segment(half: float, sag: float) -> tuple[float, float]:
    """Area of a bow over a chord, and how far its centroid lies from the chord: circle, or half ellipse if steeper."""
    if sag >= half:
        return math.pi * half * sag / 2.0, 4.0 * sag / (3.0 * math.pi)
    radius = (half**2 + sag**2) / (2.0 * sag)
    angle = 2.0 * math.asin(half / radius)
    area = radius**2 / 2.0 * (angle - math.sin(angle))
    centroid = 4.0 * radius * math.sin(angle / 2.0) ** 3 / (3.0 * (angle - math.sin(angle)))
    return area, centroid - (radius - sag)


def section(brief: StarterBrief, comfort: bool, rows: Rows) -> Section:
    """The section as areas with their heights."""
    w, t = brief.width_mm, brief.thickness_mm
    if brief.section == "oval":
        return [(math.pi * t * w / 4.0, t / 2.0)]
    rise = rows.share("comfort-rise") * t if comfort or brief.section == "court" else 0.0
    if brief.section == "flat":
        parts: Section = [(w * t, t / 2.0)]
        if not rise:
            edge = min(rows.mm("flat-edge"), 0.4 * t, 0.2 * w)
            parts.append((-(4.0 - math.pi) * edge**2, t / 2.0))
    else:
        edge = rows.share("dome-edge") * t
        area, up = segment(w / 2.0, t - edge)
        parts = [(w * edge, edge / 2.0), (area, edge + up)]
    if rise:
        area, up = segment(w / 2.0, rise)  # what lies between the bow and the line through its ends
        parts += [(-(w * rise), rise / 2.0), (area, rise - up)]
    return parts


def band(brief: StarterBrief, radius: float, comfort: bool, rows: Rows) -> float:
    """Area times the way of its centroid, part by part."""
    return sum(2.0 * math.pi * (radius + height) * area for area, height in section(brief, comfort, rows))


def signet(brief: StarterBrief, radius: float, comfort: bool, rows: Rows) -> float:
    """The integral of (R² - r²) / 2 over the angle and the width, both smooth on each of the three stretches."""
    plane = radius + brief.head_thickness_mm
    rim = math.hypot(brief.head_length_mm / 2.0, plane)
    half_face = math.atan2(brief.head_length_mm / 2.0, plane)
    shoulder = rows.share("signet-shoulder") * (math.pi - half_face)
    domed, rounded = brief.section != "flat", comfort or brief.section in ("court", "oval")
    rise = rows.share("comfort-rise") * brief.thickness_mm if rounded else 0.0

    def over(z: float, a: float) -> float:
        s = min(max((a - half_face) / shoulder, 0.0), 1.0)
        smooth = s * s * (3.0 - 2.0 * s)
        width = brief.head_width_mm + (brief.width_mm - brief.head_width_mm) * smooth
        outer = plane / math.cos(a) if a < half_face else rim + (radius + brief.thickness_mm - rim) * smooth
        if domed:
            outer -= (1.0 - rows.share("dome-edge")) * brief.thickness_mm * smooth * z * z
        inner = radius + rise * z * z
        return (outer**2 - inner**2) / 2.0 * width / 2.0

    cuts = (0.0, half_face, half_face + shoulder, math.pi)
    return 2.0 * sum(integrate.dblquad(over, a, b, -1.0, 1.0, epsabs=1e-6)[0] for a, b in itertools.pairwise(cuts))


def in_band(points: np.ndarray, brief: StarterBrief, radius: float, comfort: bool, rows: Rows) -> np.ndarray:
    """Whether points lie in a D or court band."""
    w, t = brief.width_mm, brief.thickness_mm
    over, z = np.hypot(points[:, 0], points[:, 1]) - radius, points[:, 2]
    edge = rows.share("dome-edge") * t
    rise = rows.share("comfort-rise") * t if comfort or brief.section == "court" else 0.0
    top = bow(z, w / 2.0, t, edge)
    low = bow(z, w / 2.0, 0.0, rise) if rise else np.zeros_like(z)
    return (np.abs(z) <= w / 2.0) & (over >= low) & (over <= top)


def bow(z: np.ndarray, half: float, middle: float, edge: float) -> np.ndarray:
    """The height at z of a circular bow with these heights at its middle and its edges."""
    sag = abs(middle - edge)
    radius = (half**2 + sag**2) / (2.0 * sag)
    fall = radius - np.sqrt(np.maximum(radius**2 - z**2, 0.0))
    return middle - math.copysign(1.0, middle - edge) * fall


def in_rod(points: np.ndarray, start: np.ndarray, end: np.ndarray, radius: float) -> np.ndarray:
    """A cylinder flat at the start with a half ball that reaches to the end."""
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    from_start = points - start
    at = from_start @ along
    aside = np.linalg.norm(from_start - at[:, None] * along, axis=1)
    ball = np.linalg.norm(from_start - (length - radius) * along, axis=1) <= radius
    return ((at >= 0) & (at <= length - radius) & (aside <= radius)) | ball


def solitaire(
    brief: StarterBrief, radius: float, comfort: bool, rows: Rows, plan: Claws, girdle: float
) -> tuple[float, float]:
    """The band, and what claws and rails about a round stone add to it; and how far the volume is in doubt."""

    def inside(points: np.ndarray) -> np.ndarray:
        found = np.zeros(len(points), dtype=bool)
        for foot, tip in zip(plan.feet, plan.tips, strict=True):
            found |= in_rod(points, foot, tip, plan.thickness / 2.0)
        aside = np.hypot(points[:, 0], points[:, 2])
        for path, low, high in plan.rails:
            middle = float(np.hypot(path[:, 0], path[:, 1]).max())
            found |= (np.abs(aside - middle) <= plan.rail / 2.0) & (points[:, 1] >= low) & (points[:, 1] <= high)
        return found & ~in_band(points, brief, radius, comfort, rows)

    reach = girdle + 2.0 * plan.thickness
    added, doubt = counted(inside, (-reach, radius, -reach), (reach, plan.stone.table + 1.0, reach))
    return band(brief, radius, comfort, rows) + added, doubt


def bezel(
    brief: StarterBrief, radius: float, comfort: bool, rows: Rows, stone: Heights, girdle: float
) -> tuple[float, float]:
    """The band outside the collet's box, and band and collet in it, about a round stone."""
    opening = girdle * rows.share("bezel-opening")
    wall = opening + brief.bezel_wall_mm
    bearing = opening - rows.share("bezel-bearing") * brief.bezel_wall_mm
    lip = stone.girdle_high + (stone.table - stone.girdle_high) * rows.share("bezel-lip")

    def change(points: np.ndarray) -> np.ndarray:
        x, y, z = points.T
        aside = np.hypot(x, z)
        there = in_band(points, brief, radius, comfort, rows)
        collet = (aside <= wall) & (y <= lip) & (np.hypot(x, y) >= radius)
        cone = (aside <= girdle * (y - stone.culet) / (stone.girdle_low - stone.culet)) & (y <= stone.girdle_low)
        hollow = ((aside <= opening) & (y >= stone.girdle_low)) | ((aside <= bearing) & (y < stone.girdle_low)) | cone
        return ((there | collet) & ~hollow).astype(float) - there

    added, doubt = counted(change, (-wall, 0.0, -wall), (wall, lip, wall))
    return band(brief, radius, comfort, rows) + added, doubt


def counted(
    inside: Callable[[np.ndarray], np.ndarray], low: tuple[float, ...], high: tuple[float, ...]
) -> tuple[float, float]:
    """The integral of ``inside`` over a box by 2^20 Sobol points, and how far a half of them differ from the other."""
    box = np.array(low), np.array(high)
    sobol = qmc.Sobol(3, scramble=True, seed=20)
    halves = []
    for _ in range(2):
        values = inside(box[0] + sobol.random_base2(19) * (box[1] - box[0]))
        halves.append(float(np.mean(values)) * float(np.prod(box[1] - box[0])))
    return sum(halves) / 2.0, abs(halves[0] - halves[1])
