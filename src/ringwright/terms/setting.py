"""Will it hold the stone, and can it be set? Limits as facts, and what is found of walls, stones and claws.

Heights, tilts and turns of a stone are in the ring's frame (:mod:`ringwright.terms.body`); *above* and *below* the
girdle
are along the stone's own axis, toward the table and toward the culet.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from ringwright.terms.commission import Setting
from ringwright.terms.fact import Row
from ringwright.terms.quantity import Figure
from ringwright.terms.remark import Point


class Stage(StrEnum):
    """At which point of the making a wall must be so thick."""

    PRINT = "print"
    CAST = "cast"
    WEAR = "wear"


class Seated(StrEnum):
    """Who said where a stone sits."""

    GIVEN = "given in the commission"
    DRAWN = "drawn in the model"
    STARTER = "offered by the starter shape"
    FOUND = "found from the metal"
    NOWHERE = "not placed"


class Temper(StrEnum):
    """The state in which the metal is set."""

    CAST = "cast"
    ANNEALED = "annealed"
    WORKED = "worked"


@dataclass(frozen=True, kw_only=True)
class WallLimit(Row):
    """How thick a part must be at a stage: below ``at_least_mm`` it is to be heeded, below ``never_below_mm`` not to
    be made.

    ``role`` is the part (wall, claw, gallery, bezel, gap …), ``metal`` the base metal for which the row holds instead
    of
    the general one.
    """

    title: str
    role: str
    stage: Stage
    metal: str = ""
    at_least_mm: float | None = None
    never_below_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class SettingLimit(Row):
    """A bound on what a setting may be, in ``unit``: heeded outside ``at_least`` and ``at_most``, refused beyond
    ``never_*``."""

    title: str
    unit: str
    at_least: float | None = None
    never_below: float | None = None
    at_most: float | None = None
    never_above: float | None = None


@dataclass(frozen=True, kw_only=True)
class SettingPractice(Row):
    """A figure by which a setter works: a share of what the key names, a length, a force, or how hard a mineral is."""

    title: str
    share_percent: float | None = None
    share_low_percent: float | None = None
    share_high_percent: float | None = None
    length_mm: float | None = None
    force_N: float | None = None
    mohs: float | None = None
    knoop_kgf_mm2: float | None = None


@dataclass(frozen=True, kw_only=True)
class ThinPlace:
    """A place where the metal is thin, or an opening narrow."""

    place: Annotated[str, Figure("", 0, "Where on the ring")]
    point_mm: Annotated[Point, Figure("mm", 2, "The place")]
    drawn_mm: Annotated[float, Figure("mm", 2, "As drawn: the largest ball that fits there")]
    cast_mm: Annotated[float, Figure("mm", 2, "As cast, stock for the polish included")]
    worn_mm: Annotated[float, Figure("mm", 2, "As worn, stock taken off")]


@dataclass(frozen=True, kw_only=True)
class Walls:
    """How thick the metal is, and how wide the openings in it are."""

    thinnest: Annotated[tuple[ThinPlace, ...], Figure("", 0, "Thinnest place of each part, thinnest first")]
    narrowest: Annotated[tuple[ThinPlace, ...], Figure("", 0, "Narrowest openings and gaps, narrowest first")]
    median_mm: Annotated[float, Figure("mm", 2, "Wall over half of the surface is thinner than this")]
    knife_mm: Annotated[float, Figure("mm", 1, "Length of knife edges")]
    crevice_mm: Annotated[float, Figure("mm", 1, "Length of inner corners that are drawn sharp")]
    shells: Annotated[int, Figure("", 0, "Separate bodies of metal")]


@dataclass(frozen=True, kw_only=True)
class Claw:
    """One holder of a stone: a claw, or a wall where the metal runs along the girdle."""

    number: Annotated[int, Figure("", 0, "Number, counter-clockwise from the stone's length, seen from the table")]
    wall: Annotated[bool, Figure("", 0, "Whether it is a wall along the girdle")]
    at_deg: Annotated[float, Figure("deg", 0, "Where on the girdle, from the stone's length")]
    point_mm: Annotated[Point, Figure("mm", 2, "Where the girdle meets it")]
    tip_mm: Annotated[Point, Figure("mm", 2, "Its tip as drawn")]
    width_mm: Annotated[float, Figure("mm", 2, "Width along the girdle")]
    thickness_mm: Annotated[float, Figure("mm", 2, "Thickness away from the stone, uncut")]
    section_mm2: Annotated[float, Figure("mm2", 2, "Section at the girdle, as drawn")]
    above_mm: Annotated[float, Figure("mm", 2, "Length above the girdle")]
    lean_deg: Annotated[float, Figure("deg", 0, "Lean outward from the stone's axis")]
    seat_mm: Annotated[float, Figure("mm", 2, "Depth of the seat: what the stone takes of it, drawn notch included")]
    seat_percent: Annotated[float, Figure("%", 0, "Depth of the seat in percent of the thickness")]
    left_mm: Annotated[float, Figure("mm", 2, "Thickness left behind the seat, as worn")]
    left_mm2: Annotated[float, Figure("mm2", 2, "Section left behind the seat")]
    gap_mm: Annotated[float, Figure("mm", 2, "Gap to the girdle before setting")]
    bearing: Annotated[bool, Figure("", 0, "Whether there is metal for a bearing below the girdle")]
    bend_deg: Annotated[float, Figure("deg", 0, "Angle through which it is bent to lie on the crown")]
    strain_percent: Annotated[float, Figure("%", 0, "Strain of its outside in bending")]
    springback_deg: Annotated[float, Figure("deg", 1, "How far it springs back")]
    force_N: Annotated[float, Figure("N", 0, "Force at the tip that bends it")]
    root_share: Annotated[
        float, Figure("", 2, "Moment at its root over what the root bears: above 1 the root bends first")
    ]
    pressure_MPa: Annotated[float, Figure("MPa", 0, "Mean pressure on the crown under the tip")]
    bears_MPa: Annotated[float, Figure("MPa", 0, "Hardness of the stone: mean pressure that dents it")]
    bears_N: Annotated[float, Figure("N", 0, "Force on one claw that the stone bears: material, cleavage, girdle")]


@dataclass(frozen=True, kw_only=True)
class Loss:
    """What becomes of the stone when one claw is gone."""

    claw: Annotated[int, Figure("", 0, "The claw that is gone")]
    held: Annotated[bool, Figure("", 0, "Whether the stone is still held")]
    leaves: Annotated[str, Figure("", 0, "Which way it leaves")]
    margin: Annotated[float, Figure("", 2, "What is left of the margin")]


@dataclass(frozen=True, kw_only=True)
class Held:
    """Retention as statics: contacts that can push and cannot pull, without friction."""

    held: Annotated[bool, Figure("", 0, "Whether no motion of the stone is free")]
    turns: Annotated[bool, Figure("", 0, "Whether it can only turn in its seat, as a round stone does")]
    leaves: Annotated[str, Figure("", 0, "Which way it leaves where it is not held")]
    margin: Annotated[float, Figure("", 2, "Weakest pull that it resists, in N per N that a claw holds")]
    weakest: Annotated[str, Figure("", 0, "The weakest pull")]
    weakest_way: Annotated[Point, Figure("", 2, "Its direction")]
    losses: Annotated[tuple[Loss, ...], Figure("", 0, "Each claw taken away in turn")]


@dataclass(frozen=True, kw_only=True)
class Covered:
    """A corner or point of a stone, and whether metal covers it."""

    feature: Annotated[str, Figure("", 0, "corner, point, end or cleft")]
    point_mm: Annotated[Point, Figure("mm", 2, "Where it is")]
    covered: Annotated[bool, Figure("", 0, "Whether metal lies about it")]
    away_mm: Annotated[float, Figure("mm", 2, "How far the nearest claw or wall is")]


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A tool for this stone, with its size."""

    what: Annotated[str, Figure("", 0, "Tool, and what it is for")]
    low_mm: Annotated[float, Figure("mm", 2, "Smallest size")]
    high_mm: Annotated[float, Figure("mm", 2, "Largest size")]


@dataclass(frozen=True, kw_only=True)
class FlushSeat:
    """The metal about a flush-set stone."""

    depth_mm: Annotated[float, Figure("mm", 2, "Metal from the girdle down to the finger")]
    needed_mm: Annotated[float, Figure("mm", 2, "Depth that pavilion and allowance need")]
    lip_mm: Annotated[float, Figure("mm", 2, "Metal above the girdle that is burnished over")]
    proud_mm: Annotated[float, Figure("mm", 2, "How far the table stands over the metal")]
    beside_mm: Annotated[float, Figure("mm", 2, "Least wall left beside the stone")]
    below_mm: Annotated[float, Figure("mm", 2, "Wall left below the culet")]


@dataclass(frozen=True, kw_only=True)
class SetStone:
    """One stone in its place."""

    name: Annotated[str, Figure("", 0, "The stone's name in this commission")]
    setting: Annotated[Setting, Figure("", 0, "claw, bezel, flush or channel")]
    seated: Annotated[Seated, Figure("", 0, "Who said where it sits")]
    at_mm: Annotated[Point, Figure("mm", 2, "Centre of the girdle plane")]
    facing: Annotated[Point, Figure("", 3, "Direction that the table faces")]
    turn_deg: Annotated[float, Figure("deg", 1, "Turn about that direction")]
    centre_mm: Annotated[Point, Figure("mm", 2, "Centre of the stone's mass")]
    tilt_deg: Annotated[float, Figure("deg", 1, "Tilt of its axis off the finger's radius")]
    height_mm: Annotated[float, Figure("mm", 2, "Height of the stone's top over the finger")]
    culet_mm: Annotated[float, Figure("mm", 2, "Clearance of the stone's lowest point over the finger")]
    overlap_mm3: Annotated[float, Figure("mm3", 2, "Metal in the stone's place, to be cut as seat")]
    overlap_mm: Annotated[float, Figure("mm", 2, "Deepest of it at the girdle")]
    gap_mm: Annotated[float, Figure("mm", 2, "Least gap between girdle and metal")]
    contact_percent: Annotated[float, Figure("%", 0, "Share of the girdle that metal touches or will be pushed to")]
    arcs: Annotated[int, Figure("", 0, "Arcs of contact around the girdle")]
    neighbour: Annotated[str, Figure("", 0, "Nearest other stone")]
    neighbour_mm: Annotated[float | None, Figure("mm", 2, "Clearance to it")]
    claws: Annotated[tuple[Claw, ...], Figure("", 0, "Claws and walls around the girdle")]
    hold: Annotated[Held | None, Figure("", 0, "Whether it is held")]
    corners: Annotated[tuple[Covered, ...], Figure("", 0, "Corners and points of the stone")]
    flush: Annotated[FlushSeat | None, Figure("", 0, "Metal about a flush-set stone")]
    tools: Annotated[tuple[Tool, ...], Figure("", 0, "Tools for this stone")]


@dataclass(frozen=True, kw_only=True)
class SettingFigures:
    """What is found of the walls and of each stone."""

    walls: Annotated[Walls, Figure("", 0, "Walls and gaps")]
    stones: Annotated[tuple[SetStone, ...], Figure("", 0, "Stones in their places")]
    temper: Annotated[Temper, Figure("", 0, "State in which the metal is set")]
    yield_MPa: Annotated[float, Figure("MPa", 0, "Yield strength reckoned with")]
    elongation_percent: Annotated[float, Figure("%", 0, "Elongation at break reckoned with")]

    @property
    def claw_tips_mm(self) -> tuple[Point, ...]:
        """The tips of all claws (not of walls): where a ring may snag."""
        return tuple(claw.tip_mm for stone in self.stones for claw in stone.claws if not claw.wall)
