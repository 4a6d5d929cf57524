"""Rings with heads for the tests of setting: built here about a stone, each part's measure known, and one fault at a
time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from ringwright.steps import setting
from ringwright.steps.setting._placed import outline_normals, resampled
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Body, Floats, Mesh
from ringwright.terms.commission import SeatBrief, State, StoneBrief
from ringwright.terms.gems import CutSolid, Gem
from ringwright.terms.outcome import Outcome
from ringwright.terms.piece import Hole, Piece, Placement, seat_axes
from ringwright.terms.remark import Level, Remark
from ringwright.terms.setting import SettingFigures
from tests.steps import gem_stones
from tests.steps.metal_facts import resolve
from tests.steps.solids import band, box, rod, turned, united
from tests.tables import tables

FACTS = tables("setting_limits", "setting_practice", "wall_limits")
INNER_MM = 17.3
GIRDLE_MM = 14.2
"""Height of the girdle's middle over the finger's axis in the rings with claws."""
SEAT = SeatBrief(at_mm=(0.0, GIRDLE_MM, 0.0), facing=(0.0, 1.0, 0.0))
Stone = tuple[StoneBrief, Gem, CutSolid]


@cache
def gold(key: str = "18k-3n") -> Alloy:
    return resolve(key).result


def stone(cut: str = "round brilliant", seat: SeatBrief | None = SEAT, **given: Any) -> Stone:
    gem, solid = _worked(cut, tuple(sorted(given.items())))
    return gem_stones.brief(cut, seat=seat, **given), gem, solid


@cache
def _worked(cut: str, given: tuple[tuple[str, Any], ...]) -> tuple[Gem, CutSolid]:
    without = {k: v for k, v in given if k != "setting"}
    return gem_stones.worked(cut, **without).result, gem_stones.solid(cut, **without)


def piece(metal: Mesh, stones: Sequence[Body] = (), thick_mm: float = 2.0, facet_mm: float = 0.0) -> Piece:
    hole = Hole(
        diameter_mm=INNER_MM, facet_diameter_mm=INNER_MM - facet_mm, mean_diameter_mm=INNER_MM, roundness_mm=0.0,
        axis=(0.0, 0.0, 1.0), centre_mm=(0.0, 0.0, 0.0), profile="flat", open_percent=0.0,
    )  # fmt: skip
    still = Placement(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), (0.0, 0.0, 0.0))
    return Piece(
        name="test", metal=metal, stones=tuple(stones), seats=(), placement=still, hole=hole, state=State.FINISHED,
        band_width_mm=3.0, band_thickness_mm=thick_mm,
    )  # fmt: skip


def shank(thick_mm: float = 2.0, width_mm: float = 3.0) -> Mesh:
    return band(INNER_MM, width_mm, thick_mm, 128)


def placed(mesh: Mesh, seat: SeatBrief = SEAT) -> Mesh:
    """A mesh of the stone's frame in the ring's."""
    return mesh.moved(seat_axes(seat), np.array(seat.at_mm))


def at_outline(solid: CutSolid, angle_deg: float) -> tuple[Floats, Floats]:
    points = resampled(solid.outline_mm, 720)
    normals = outline_normals(points)
    k = int(np.argmin(np.abs(np.angle(np.exp(1j * (np.arctan2(*points.T[::-1]) - np.radians(angle_deg)))))))
    return points[k], normals[k]


def head(
    solid: CutSolid,
    at_deg: Sequence[float] = (45, 135, 225, 315),
    *,
    thick_mm: float = 1.1,
    bite: float = 0.3,
    above_mm: float = 1.2,
    rail_mm: float = 2.6,
    sides: int = 24,
    foot_mm: float = 4.3,
    gap_mm: float = 0.0,
) -> list[Mesh]:
    """Upright round claws on a ring at the shank, and one rail so far below the girdle; in the ring's frame."""
    parts = []
    reach = 0.0
    for angle in at_deg:
        p, n = at_outline(solid, angle)
        out = p + (thick_mm / 2 - bite * thick_mm + gap_mm) * n
        reach = max(reach, float(np.linalg.norm(out)))
        parts.append(rod((*out, -foot_mm), (*out, above_mm), thick_mm / 2, sides))
    middle = float(np.mean([np.linalg.norm(at_outline(solid, a)[0]) for a in at_deg]))
    low, high = min(middle, reach) - 0.7, max(middle, reach) + 0.45
    for z in {foot_mm - 1.0, rail_mm}:
        parts.append(turned([(low, -z - 1.0), (high, -z - 1.0), (high, -z), (low, -z)], 96))
    return [placed(part) for part in parts]


def solitaire(solid: CutSolid, **given: Any) -> Piece:
    return piece(united(shank(), *head(solid, **given)))


def tube(
    solid: CutSolid, *, wall_mm: float = 0.8, above_mm: float = 0.6, ledge_mm: float = 0.4, gap: float = 0.08
) -> Piece:
    """A round tube on the shank with a ledge under the girdle; ledge 0 is none."""
    r = float(np.linalg.norm(solid.outline_mm, axis=1).max()) + gap
    z = float(solid.girdle_bottom_mm.min())
    section = [
        (r - ledge_mm, -4.3),
        (r + wall_mm, -4.3),
        (r + wall_mm, above_mm),
        (r, above_mm),
        (r, z),
        (r - ledge_mm, z),
    ]
    if ledge_mm == 0:
        section = [(r, -4.3), (r + wall_mm, -4.3), (r + wall_mm, above_mm), (r, above_mm)]
    return piece(united(shank(), placed(turned(section, 128))))


def on_shank(*parts: Mesh, thick_mm: float = 2.0) -> Piece:
    """A band with something on it."""
    return piece(united(shank(thick_mm), *parts), thick_mm=thick_mm)


def judged(ring: Piece, *stones: Stone, alloy: str = "18k-3n", **given: Any) -> Outcome[SettingFigures]:
    return setting.judge(
        ring, stones, gold(alloy), FACTS.wall_limits, FACTS.setting_limits, FACTS.setting_practice, **given
    )


def warned(outcome: Outcome[Any], kind: str) -> list[Remark]:
    """The remarks of a kind that are not fine."""
    return [r for r in outcome.remarks if r.kind == kind and r.level is not Level.FINE]


def fin(thick_mm: float) -> Mesh:
    """A plate that stands on the top of the band, across the finger."""
    return box((-thick_mm / 2, 10.2, -1.2), (thick_mm / 2, 13.5, 1.2))


def moved(mesh: Mesh, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> Mesh:
    return mesh.moved(np.eye(3), np.array([x, y, z]))


def prism(outline: Sequence[tuple[float, float]], low: float, high: float) -> Mesh:
    """A counter-clockwise convex outline (x, y) between two heights z."""
    n = len(outline)
    flat = np.array(outline)
    points = np.vstack([np.column_stack([flat, np.full(n, low)]), np.column_stack([flat, np.full(n, high)])])
    faces = [(0, k + 1, k) for k in range(1, n - 1)] + [(n, n + k, n + k + 1) for k in range(1, n - 1)]
    for k in range(n):
        j = (k + 1) % n
        faces += [(k, j, n + j), (k, n + j, n + k)]
    return Mesh(points, np.array(faces))


def renamed(one: Stone, name: str, seat: SeatBrief | None) -> Stone:
    return replace(one[0], name=name, seat=seat), one[1], one[2]
