"""Heads of the starter shapes: claws with a gallery, and a bezel, built about the stone that they are to hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.science import solids, sweeps
from ringwright.steps.piece._sections import AROUND, Proportions
from ringwright.terms.body import Floats, Mesh
from ringwright.terms.commission import SeatBrief, StarterBrief
from ringwright.terms.mistake import bad
from ringwright.terms.piece import StoneRoom

ROUND_ROD = 64
"""Sides of a claw: its chords take 0.16 % of its volume, and a claw is some hundredths of the ring."""
SHARP_DEG = 60.0
"""A corner of a girdle that turns by more is a point that a claw has to cover."""
UPRIGHT = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
"""From a stone's frame (x length, y width, z to the table) to the ring's: the length along the finger, the table up."""


@dataclass(frozen=True, eq=False)
class Heights:
    """Heights over the finger's axis at which the stone of a head sits."""

    culet: float
    girdle_low: float
    girdle: float
    girdle_high: float
    table: float


@dataclass(frozen=True, eq=False)
class Claws:
    """The plan of a solitaire's head, in the ring's frame: each claw's foot, its tip, and the rails' outlines
    (x, y of the stone's frame) with their lower and upper heights."""

    thickness: float
    feet: Floats
    tips: Floats
    rails: tuple[tuple[Floats, float, float], ...]
    rail: float
    stone: Heights


def solitaire(
    shank: Mesh, brief: StarterBrief, radius: float, stone: StoneRoom, proportions: Proportions
) -> tuple[Mesh, SeatBrief]:
    """The shank, claws and gallery rails united, and where the stone sits."""
    plan = claws(brief, radius, stone, proportions)
    half = plan.thickness / 2.0
    parts = [shank]
    for foot, tip in zip(plan.feet, plan.tips, strict=True):
        parts.append(sweeps.rod(foot, tip, half, ROUND_ROD, half))
    for path, low, high in plan.rails:
        outer, inner = sweeps.widened(path, plan.rail / 2.0), sweeps.widened(path, -plan.rail / 2.0)
        parts.append(sweeps.prism(outer, low, high, [inner]).moved(UPRIGHT, np.zeros(3)))
    return solids.united(parts), SeatBrief(at_mm=(0.0, plan.stone.girdle, 0.0), facing=(0.0, 1.0, 0.0))


def claws(brief: StarterBrief, radius: float, stone: StoneRoom, proportions: Proportions) -> Claws:
    """Where the parts of a solitaire's head lie.

    The feet stand together as far as the proportions say, on the shank, and never so far in that a claw leans more than
    may be; where the stone is too flat or too large for that, or too small for the lower rail, it sits higher.
    """
    if brief.claws < 3:
        raise bad("starter.claws", f"{brief.claws} claws hold no stone", "3 or more")
    outside = radius + brief.thickness_mm
    share = proportions.share("claw-per-stone")
    thick = brief.claw_diameter_mm or proportions.mm("claw-base") + share * min(stone.width_mm, stone.length_mm)
    girdle = _outline(stone)
    points = at_girdle(girdle, brief.claws)
    distance = np.linalg.norm(points, axis=1)
    bite, rail = proportions.share("claw-bite") * thick, proportions.mm("rail")
    # The rails' path at the girdle is the outline through the claws' middles; below it shrinks evenly to the feet.
    path = sweeps.widened(girdle, thick / 2.0 - bite)
    across, far = float(np.abs(path[:, 1]).max()), float(distance.max()) + thick / 2.0
    most = (float(np.sqrt(outside**2 - (outside - brief.thickness_mm / 2.0) ** 2)) - rail / 2.0) / across

    def foot(spread: float) -> float:
        return float(np.sqrt(outside**2 - (spread * across + rail / 2.0) ** 2)) - proportions.mm("overlap")

    stone_at = _heights(outside + proportions.mm("culet-over-shank"), stone)
    leaning = proportions.share("claw-lean")
    spread = min(proportions.share("base-spread"), most)
    spread = min(max(spread, 1.0 - leaning * (stone_at.girdle - foot(spread)) / far), most, 1.0)
    low = foot(spread)
    lift = max((1.0 - spread) * far / leaning - (stone_at.girdle - low), 0.0)
    lift = max(lift, _over_rail(path, spread, low + rail, rail, stone, proportions) - stone_at.culet)
    stone_at = _heights(stone_at.culet + lift, stone)
    lean = (1.0 - spread) / (stone_at.girdle - low)
    rails = [(path * spread, low, low + rail)]
    upper = _upper_rail(path, lean, spread, low, rail, stone_at, stone, proportions)
    if upper is not None:
        rails.append(upper)
    tilt = np.arctan((distance + thick / 2.0 - bite) * lean)
    reach = distance + thick / 2.0 / np.cos(tilt) - bite
    out = points / distance[:, None]
    top = stone_at.table + (stone_at.table - stone_at.girdle) * proportions.share("claw-past-top")
    start = low + thick / 2.0 * np.sin(tilt)
    feet = _in_ring(out * (reach * (spread + lean * (start - low)))[:, None], start)
    tips = _in_ring(out * (reach * (spread + lean * (top - low)))[:, None], np.full(len(out), top))
    return Claws(thick, feet, tips, tuple(rails), rail, stone_at)


def _over_rail(
    path: Floats, spread: float, top: float, rail: float, stone: StoneRoom, proportions: Proportions
) -> float:
    """The least height of the culet at which the pavilion clears the lower rail, whose top lies so high."""
    clear = proportions.mm("rail-clearance")
    inner = spread * float(np.abs(path).max(axis=0).min()) - rail / 2.0 - clear
    half = min(stone.width_mm, stone.length_mm) / 2.0
    return top - stone.pavilion_mm * inner / half if inner > 0 else top + clear


def _upper_rail(
    path: Floats,
    lean: float,
    spread: float,
    low: float,
    rail: float,
    stone_at: Heights,
    stone: StoneRoom,
    proportions: Proportions,
) -> tuple[Floats, float, float] | None:
    """The rail under the girdle, where there is room for it over the lower one; wide enough to clear the pavilion."""
    gap = proportions.mm("gallery-opening")
    room = stone_at.girdle_low - (low + rail)
    if room < rail + 2.0 * gap:
        return None
    bottom = low + rail + max(gap, 0.5 * (room - rail))
    scale = spread + lean * (bottom + rail / 2.0 - low)
    if stone.pavilion_mm > 0:
        share = min((bottom + rail - stone_at.culet) / stone.pavilion_mm, 1.0)
        needed = share * float(np.abs(np.array(stone.outline_mm)).max()) + rail / 2.0
        needed += proportions.mm("rail-clearance")
        scale = max(scale, needed / float(np.abs(path).max()))
    return path * scale, bottom, bottom + rail


def bezel(
    shank: Mesh, brief: StarterBrief, radius: float, stone: StoneRoom, proportions: Proportions
) -> tuple[Mesh, SeatBrief]:
    """A collet through the shank, open to the finger, with a conical bearing for the stone; and where the stone sits.

    It is the shank and the outline widened by the wall, from the finger to the lip; less the opening above the girdle,
    less a narrower opening below it, less the stone's pavilion (the hull of girdle and culet).
    """
    if brief.bezel_wall_mm <= 0:
        raise bad("starter.bezel_wall", f"{brief.bezel_wall_mm:g} mm", "more than nothing")
    stone_at = _heights(radius + proportions.mm("culet-over-finger"), stone)
    if stone.pavilion_mm <= 0:
        stone_at = _heights(radius + brief.thickness_mm, stone)
    girdle = _outline(stone)
    opening = girdle * proportions.share("bezel-opening")
    wall = sweeps.widened(opening, brief.bezel_wall_mm)
    if float(np.abs(wall[:, 1]).max()) >= radius:
        raise bad("starter", f"a bezel {2 * np.abs(wall[:, 1]).max():.1f} mm wide is wider than the finger", "a band")
    bearing = sweeps.widened(opening, -proportions.share("bezel-bearing") * brief.bezel_wall_mm)
    lip = stone_at.girdle_high + (stone_at.table - stone_at.girdle_high) * proportions.share("bezel-lip")
    tall = sweeps.prism(wall, 0.0, lip).moved(UPRIGHT, np.zeros(3))
    turn = sweeps.turns(AROUND)  # as many sides as the shank, so that the facets of the hole go on
    finger = sweeps.prism(radius * np.stack([np.cos(turn), np.sin(turn)], axis=1), -3.0 * radius, 3.0 * radius)
    head = solids.without(tall, [finger])
    tools = [
        sweeps.prism(opening, stone_at.girdle_low, lip + 1.0).moved(UPRIGHT, np.zeros(3)),
        sweeps.prism(bearing, 0.0, stone_at.girdle_low + 1e-3).moved(UPRIGHT, np.zeros(3)),
    ]
    if stone.pavilion_mm > 0:
        rim = np.column_stack([girdle, np.full(len(girdle), stone_at.girdle_low)])
        tip = np.array([[0.0, 0.0, stone_at.culet]])
        tools.append(solids.hull(np.concatenate([rim, tip])).moved(UPRIGHT, np.zeros(3)))
    whole = solids.without(solids.united([shank, head]), tools)
    return whole, SeatBrief(at_mm=(0.0, stone_at.girdle, 0.0), facing=(0.0, 1.0, 0.0))


def _heights(culet: float, stone: StoneRoom) -> Heights:
    culet = float(culet)
    low = culet + stone.pavilion_mm
    high = low + stone.girdle_mm
    return Heights(culet, low, 0.5 * (low + high), high, high + stone.crown_mm)


def _outline(stone: StoneRoom) -> Floats:
    outline = np.array(stone.outline_mm, dtype=np.float64).reshape(-1, 2)
    following = np.roll(outline, -1, axis=0)
    turn = float((outline[:, 0] * following[:, 1] - outline[:, 1] * following[:, 0]).sum())
    return outline if turn > 0 else outline[::-1]


def _in_ring(points: Floats, heights: Floats) -> Floats:
    """Points (x along the stone's length, y along its width) at heights, in the ring's frame."""
    placed: Floats = np.column_stack([points, heights]) @ UPRIGHT.T
    return placed


def at_girdle(outline: Floats, count: int) -> Floats:
    """Where on the girdle the claws stand: at its sharp points first, the others in the widest gaps between them.

    A girdle without points has its claws spread evenly, beginning half a step from the length; on a long stone four
    claws so stand at the corners of its box.
    """
    steps = np.diff(np.concatenate([outline[-1:], outline, outline[:1]]), axis=0)
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.degrees((np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi)
    sharp = outline[turn > SHARP_DEG]
    angles = np.sort(np.arctan2(sharp[:, 1], sharp[:, 0]))[:count]
    if len(angles) < 2:
        first = angles[0] if len(angles) else np.pi / count
        angles = first + np.arange(count) * (2.0 * np.pi / count)
        if not len(sharp):
            box = np.ptp(outline, axis=0)
            angles = np.arctan2(np.sin(angles) * box[1], np.cos(angles) * box[0])
    while len(angles) < count:
        gaps = np.diff(np.append(angles, angles[0] + 2.0 * np.pi))
        k = int(np.argmax(gaps - 1e-9 * np.arange(len(gaps))))
        angles = np.sort(np.append(angles, angles[k] + gaps[k] / 2.0))
    return np.array([on_outline(outline, float(angle)) for angle in angles])


def on_outline(outline: Floats, angle: float) -> Floats:
    """The farthest point of an outline in a direction from its middle."""
    out = np.array([np.cos(angle), np.sin(angle)])
    a, b = outline, np.roll(outline, -1, axis=0)
    side_a, side_b = a @ np.array([-out[1], out[0]]), b @ np.array([-out[1], out[0]])
    crossed = (side_a <= 0) != (side_b <= 0)
    share = side_a[crossed] / (side_a[crossed] - side_b[crossed])
    reach = ((1.0 - share)[:, None] * a[crossed] + share[:, None] * b[crossed]) @ out
    return float(reach.max()) * out
