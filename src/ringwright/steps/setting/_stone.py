"""One stone in its place, with all its figures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ringwright.science import solids
from ringwright.steps.setting._bend import Metal, claw
from ringwright.steps.setting._head import SAMPLES, Head, polygons
from ringwright.steps.setting._hold import hold
from ringwright.steps.setting._placed import Placed, point
from ringwright.terms.commission import Setting
from ringwright.terms.facts import used
from ringwright.terms.piece import Piece
from ringwright.terms.setting import Covered, FlushSeat, SetStone, SettingLimit, SettingPractice, Tool

_FAR_MM = 5.0


def figures(
    piece: Piece, placed: Placed, others: Sequence[Placed], head: Head, near: Any, metal: Metal, stock_mm: float,
    limits: Sequence[SettingLimit], practice: Sequence[SettingPractice],
) -> SetStone:  # fmt: skip
    """All figures of one stone. ``near`` is the metal about it, in the stone's frame."""
    mesh = placed.mesh
    radius = np.hypot(mesh.vertices_mm[:, 0], mesh.vertices_mm[:, 1])
    inner = piece.hole.diameter_mm / 2
    out = placed.at * [1.0, 1.0, 0.0]
    tilt = float(
        np.degrees(np.arccos(np.clip(placed.axes[:, 2] @ out / max(float(np.linalg.norm(out)), 1e-9), -1.0, 1.0)))
    )
    touched = np.zeros(SAMPLES, bool)
    for holder in head.holders:
        touched[holder.touch] = True
    neighbour, apart = _neighbour(placed, others)
    claws = tuple(claw(placed, head, n, metal, stock_mm, practice) for n in range(len(head.holders)))
    return SetStone(
        name=placed.brief.name, setting=placed.brief.setting, seated=placed.seated, at_mm=point(placed.at),
        facing=point(placed.axes[:, 2]), turn_deg=placed.turn_deg,
        centre_mm=point(placed.to_ring(solids.mass_properties(placed.solid.mesh).centroid_mm)), tilt_deg=tilt,
        height_mm=float(radius.max()) - inner, culet_mm=_over_finger(placed, inner), overlap_mm3=head.overlap_mm3,
        overlap_mm=max((h.seat - h.notch for h in head.holders), default=0.0), gap_mm=min(head.gap_mm, 99.0),
        contact_percent=100.0 * float(touched.mean()), arcs=len(head.holders), neighbour=neighbour, neighbour_mm=apart,
        claws=claws, hold=hold(placed, head, limits, practice), corners=_corners(placed, head, limits),
        flush=_flush(piece, placed, head, near, practice) if placed.brief.setting is Setting.FLUSH else None,
        tools=_tools(placed, claws, practice),
    )  # fmt: skip


def _over_finger(placed: Placed, inner_mm: float) -> float:
    """How far the stone's lowest place is over the finger, negative where it reaches into the hole."""
    corners = placed.mesh.vertices_mm
    return float(np.hypot(corners[:, 0], corners[:, 1]).min()) - inner_mm


def _neighbour(placed: Placed, others: Sequence[Placed]) -> tuple[str, float | None]:
    """The nearest other stone; a clearance below nothing is by how much two overlap, as the side of a cube."""
    best: tuple[str, float | None] = ("", None)
    for other in others:
        gap = solids.gap(placed.mesh, other.mesh, _FAR_MM)
        if gap <= 0:
            both = solids.common(placed.mesh, other.mesh)
            gap = -float(np.cbrt(max(solids.volume(both), 0.0))) if len(both.faces) else 0.0
        if gap < _FAR_MM and (best[1] is None or gap < best[1]):
            best = other.brief.name, gap
    return best


def _corners(placed: Placed, head: Head, limits: Sequence[SettingLimit]) -> tuple[Covered, ...]:
    """Each corner or point of the stone, and the nearest holder by its touched part of the girdle."""
    reach = used(limits, "corner").at_most or 0.0
    found = []
    for corner in placed.solid.corners:
        at = np.array(corner.at_mm)
        touched = [head.girdle.points[h.touch] for h in head.holders]
        away = min((float(np.linalg.norm(t - at[:2], axis=1).min()) for t in touched), default=99.0)
        found.append(
            Covered(feature=corner.feature, point_mm=point(placed.to_ring(at)), covered=away <= reach, away_mm=away)
        )
    return tuple(found)


def _flush(piece: Piece, placed: Placed, head: Head, near: Any, practice: Sequence[SettingPractice]) -> FlushSeat:
    """Metal under, beside and over the girdle of a stone that is sunk in metal."""
    solid = placed.solid
    inner = piece.hole.diameter_mm / 2
    over = float(np.hypot(placed.at[0], placed.at[1])) - inner
    allowance = used(practice, "flush depth").length_mm or 0.0
    beside = _beside(near, head, float(solid.girdle_bottom_mm.mean()) - 0.05)
    surface = _surface(near, head)
    return FlushSeat(
        depth_mm=over, needed_mm=-solid.culet_z_mm + allowance, lip_mm=surface - float(solid.girdle_top_mm.mean()),
        proud_mm=solid.table_z_mm - surface, beside_mm=beside, below_mm=_over_finger(placed, inner),
    )  # fmt: skip


def _surface(near: Any, head: Head) -> float:
    """How high the metal stands just outside the girdle, at its lowest place."""
    heights = []
    for k in range(0, SAMPLES, 15):
        p = head.girdle.points[k] + 0.15 * head.girdle.normals[k]
        hits = near.ray_cast((float(p[0]), float(p[1]), 20.0), (float(p[0]), float(p[1]), -20.0))
        heights.append(max((float(hit.position[2]) for hit in hits), default=-20.0))
    return min(heights)


def _beside(near: Any, head: Head, z: float) -> float:
    """The least way from the girdle outward to the edge of the metal in which the stone lies."""
    from shapely.geometry import Point

    least = 0.0
    for piece in polygons(near.slice(z)):
        if piece.intersects(head.girdle.polygon):
            rim = piece.exterior
            least = max(least, min(float(rim.distance(Point(p))) for p in head.girdle.points[::10]))
    return least


def _tools(placed: Placed, claws: Sequence[Any], practice: Sequence[SettingPractice]) -> tuple[Tool, ...]:
    """The tools' sizes, from the stone's width and the claws'."""
    width = placed.gem.width_mm

    def of(key: str, base: float, what: str) -> Tool:
        row = used(practice, key)
        return Tool(
            what=what,
            low_mm=base * (row.share_low_percent or 0.0) / 100,
            high_mm=base * (row.share_high_percent or 0.0) / 100,
        )

    setting = placed.brief.setting
    found = [of("drill", width, "drill, under the stone"), of("ball bur", width, "ball bur, to open the seat")]
    if setting is Setting.FLUSH:
        smaller = used(practice, "flush bur").length_mm or 0.0
        found.append(Tool(what="setting bur, for the seat", low_mm=width - smaller, high_mm=width - smaller))
    else:
        found.append(of("setting bur", width, "setting bur, for the bearing"))
    tips = [one.width_mm for one in claws if not one.wall]
    if tips:
        found.append(of("pusher", max(tips), "pusher, across its face"))
        found.append(Tool(what="cup bur, to round the tips", low_mm=max(tips), high_mm=1.2 * max(tips)))
    return tuple(found)
