"""Where on the ring: one name for any point, from its angle round the finger, its radius and the stones near it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringwright.steps.setting._head import Head
from ringwright.steps.setting._placed import Placed
from ringwright.terms.body import Floats
from ringwright.terms.piece import Piece

BOTTOM = "bottom of the shank"
# Angles from the bottom, in degrees, at which the names change; geometry of the words, no figures of the trade.
_BOTTOM_DEG = 30.0
_SHOULDER_DEG = 110.0
_TOP_DEG = 155.0


def roles(piece: Piece, stones: Sequence[tuple[Placed, Head]], points: Floats) -> tuple[np.ndarray, np.ndarray]:
    """For points (n, 3) of the ring's frame: the part (shank, shoulder, gallery, claw …) and the place in words."""
    angle = np.degrees(np.arctan2(points[:, 0], -points[:, 1]))
    side = np.where(points[:, 0] > 0, "right", "left")
    radius = np.hypot(points[:, 0], points[:, 1])
    role = np.full(len(points), "shank", dtype=object)
    place = np.array([f"shank, {s}" for s in side], dtype=object)
    low = np.abs(angle) < _BOTTOM_DEG
    role[low] = place[low] = BOTTOM
    high = np.abs(angle) > _SHOULDER_DEG
    role[high] = "shoulder"
    place[high] = [f"shoulder, {s}" for s in side[high]]
    top = np.abs(angle) > _TOP_DEG
    role[top], place[top] = "head", "head" if stones else "top of the ring"
    over = radius > piece.hole.diameter_mm / 2 + 1.15 * piece.band_thickness_mm
    for placed, head in stones:
        _about(placed, head, points, over, role, place, named=len(stones) > 1)
    return role, place


def _about(
    placed: Placed, head: Head, points: Floats, over: np.ndarray, role: np.ndarray, place: np.ndarray, *, named: bool
) -> None:
    """The names near one stone."""
    own = placed.to_own(points)
    reach = float(np.linalg.norm(head.girdle.points, axis=1).max()) + 2.0
    solid = placed.solid
    near = (
        (np.linalg.norm(own[:, :2], axis=1) < reach)
        & (own[:, 2] > solid.culet_z_mm - 3)
        & (own[:, 2] < solid.table_z_mm + 4)
    )
    of = f" of stone '{placed.brief.name}'" if named else ""
    below = near & over & (own[:, 2] <= -0.4)
    walls = any(holder.wall for holder in head.holders)
    role[below], place[below] = ("bezel" if walls else "gallery"), ("bezel" if walls else "gallery") + of
    up = np.flatnonzero(near & (own[:, 2] > -0.4))
    if not len(up) or not head.holders:
        return
    middles = np.array([head.girdle.points[h.middle] for h in head.holders])
    which = np.argmin(np.linalg.norm(own[up][:, None, :2] - middles[None], axis=2), axis=1)
    for k, holder in enumerate(head.holders):
        mine = up[which == k]
        role[mine] = "bezel" if holder.wall else "claw"
        place[mine] = ("bezel" if holder.wall else f"claw {k + 1}") + of
