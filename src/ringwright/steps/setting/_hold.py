"""Will it hold? The contacts after setting as unilateral constraints: bearing below, tip or lip above.

No friction is counted on. A claw's tip lies on the crown with its two edges, its bearing under the pavilion likewise,
and
its notch about the girdle. A worn claw has lost its tip, not its bearing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringwright.science.wrench import UNLIMITED, Contacts, directions, freedom, resisted
from ringwright.steps.setting._head import Head, Holder
from ringwright.steps.setting._placed import Placed, crown_deg, pavilion_deg, point
from ringwright.terms.body import Floats
from ringwright.terms.facts import used
from ringwright.terms.setting import Held, Loss, SettingLimit, SettingPractice

_PARTS_OF_A_LIP = 8
_PULLS = directions(3)


def reaches(placed: Placed, holder: Holder, limits: Sequence[SettingLimit]) -> bool:
    """Whether a holder stands high enough over the girdle to come over the crown."""
    row = used(limits, "bezel above" if holder.wall else "claw above")
    height = placed.solid.table_z_mm
    return holder.above > (row.never_below or 0.0) / 100 * height


def contacts(
    placed: Placed, head: Head, limits: Sequence[SettingLimit], practice: Sequence[SettingPractice]
) -> Contacts:
    """The contacts after setting, in the stone's frame. A holder's number is its group; parts of a lip have their
    own."""
    solid = placed.solid
    lie = used(practice, "crown contact").share_percent or 0.0
    over, under = np.radians(crown_deg(solid)), np.radians(pavilion_deg(solid))
    points: list[Floats] = []
    pushes: list[Floats] = []
    groups: list[int] = []

    def add(at: Floats, out: Floats, down: float, tilt: float, group: int) -> None:
        points.append(at)
        pushes.append(np.append(-np.sin(tilt) * out, down * np.cos(tilt)))
        groups.append(group)

    for number, holder in enumerate(head.holders):
        spots = holder.touch[:: max(1, len(holder.touch) // 24)] if holder.wall else _ends(head, holder)
        tip = reaches(placed, holder, limits)
        for order, k in enumerate(spots):
            p, n = head.girdle.points[k], head.girdle.normals[k]
            group = number
            if holder.wall:
                group = 100 * (number + 1) + order * _PARTS_OF_A_LIP // len(spots)
            if holder.bearing:
                z = float(solid.girdle_bottom_mm.mean())
                add(np.append(p, z), n, 1.0, under, UNLIMITED)
            if tip:
                inward = lie / 200 * solid.crown_height_mm / max(np.tan(over), 0.2)
                z = float(solid.girdle_top_mm.mean()) + lie / 200 * solid.crown_height_mm
                add(np.append(p - inward * n, z), n, -1.0, over, group)
            if holder.bearing or tip:
                add(np.append(p, 0.0), n, 0.0, np.pi / 2, UNLIMITED if holder.wall else group)
    reach = float(np.linalg.norm(head.girdle.points, axis=1).mean())
    shape = np.array(points).reshape(-1, 3), np.array(pushes).reshape(-1, 3), np.array(groups, dtype=np.int64)
    return Contacts(*shape, np.zeros(3), reach)


def _ends(head: Head, holder: Holder) -> list[int]:
    """The girdle's points at the two edges of a claw."""
    step = head.girdle.length_mm / len(head.girdle.points)
    half = max(1, round(0.4 * holder.width / step))
    n = len(head.girdle.points)
    return [(holder.middle - half) % n, holder.middle, (holder.middle + half) % n]


def hold(
    placed: Placed, head: Head, limits: Sequence[SettingLimit], practice: Sequence[SettingPractice]
) -> Held | None:
    """Whether the stone is held, with its margin and every claw taken away in turn; None where nothing touches it."""
    every = contacts(placed, head, limits, practice)
    if not len(every.points_mm):
        return None
    axis = np.array([0.0, 0.0, 1.0])
    left = freedom(every)
    held = left.immobile or left.slides_only_about(axis)
    still = left.immobile
    pulls = np.concatenate([np.hstack([_PULLS, np.zeros_like(_PULLS)]), _tilts()])
    bears = resisted(every, pulls) if held else np.zeros(len(pulls))
    weakest = int(np.argmin(bears))
    losses = []
    claws = [n for n, holder in enumerate(head.holders) if not holder.wall or len(head.holders) > 1]
    coarse = pulls[[k for k in range(len(pulls)) if k % 3 == 0 or k >= len(_PULLS)]]
    for n in claws if held else []:
        rest = _without(every, n, head.holders[n])
        after = freedom(rest)
        kept = after.immobile or after.slides_only_about(axis)
        losses.append(
            Loss(
                claw=n + 1,
                held=kept,
                leaves="" if kept else way_out(head, after.escape, every.reach_mm, n),
                margin=float(resisted(rest, coarse).min()) if kept else 0.0,
            )
        )
    way = pulls[weakest]
    direction = placed.axes @ (way[:3] if np.any(way[:3]) else way[3:])
    return Held(
        held=held, turns=held and not still,
        leaves="" if held else way_out(head, left.escape, every.reach_mm, None),
        margin=float(bears[weakest]), weakest=_said(head, way) if held else "",
        weakest_way=point(direction), losses=tuple(losses),
    )  # fmt: skip


def _without(every: Contacts, number: int, holder: Holder) -> Contacts:
    if not holder.wall:
        return every.without(number)
    rest = every
    for part in range(_PARTS_OF_A_LIP):
        rest = rest.without(100 * (number + 1) + part)
    return rest


def _tilts() -> Floats:
    """Moments about axes in the girdle's plane."""
    turn = 2 * np.pi * np.arange(8) / 8
    return np.column_stack([np.zeros((8, 3)), np.cos(turn), np.sin(turn), np.zeros(8)])


def _said(head: Head, way: Floats) -> str:
    if not np.any(way[:3]):
        return f"tipping over {_beside(head, np.array([way[4], -way[3]]))}"
    if way[2] > 0.9:
        return "straight out"
    if way[2] < -0.9:
        return "straight in"
    tilt = "sideways and out" if way[2] > 0.3 else "sideways and in" if way[2] < -0.3 else "sideways"
    return f"{tilt}, toward {_beside(head, way[:2])}"


def _beside(head: Head, flat: Floats) -> str:
    """The holder that lies that way from the middle, or between which two."""
    angle = float(np.arctan2(flat[1], flat[0]))
    claws = [(n + 1, head.girdle.points[h.middle]) for n, h in enumerate(head.holders) if not h.wall]
    if not claws:
        return "the wall"
    gaps = [(abs((np.arctan2(p[1], p[0]) - angle + np.pi) % (2 * np.pi) - np.pi), n) for n, p in claws]
    gaps.sort()
    if len(gaps) > 1 and gaps[1][0] - gaps[0][0] < 0.35:
        one, two = sorted((gaps[0][1], gaps[1][1]))
        return f"between claws {one} and {two}"
    return f"claw {gaps[0][1]}"


def way_out(head: Head, escape: Floats | None, reach_mm: float, gone: int | None) -> str:
    """A free motion in words."""
    if escape is None:
        return "it slides along its seat"
    shift, turn = escape[:3], escape[3:] / reach_mm
    rim = np.column_stack([head.girdle.points[::12], np.zeros(len(head.girdle.points[::12]))])
    moves = shift + np.cross(turn, rim)
    rise = moves[:, 2]
    flat = np.linalg.norm(moves[:, :2], axis=1)
    if np.abs(rise).max() < 0.5 * flat.max():
        if np.linalg.norm(shift[:2]) < 0.3 * flat.max():
            return "it turns in its seat"
        side = _beside(head, shift[:2])
        return f"it slides sideways toward {side}"
    if rise.min() > 0.5 * rise.max():
        return "it lifts straight out"
    side = _beside(head, rim[int(np.argmax(rise)), :2])
    lost = gone is not None and side == f"claw {gone + 1}"
    return f"it tips out where claw {gone + 1} was" if lost and gone is not None else f"it tips out toward {side}"
