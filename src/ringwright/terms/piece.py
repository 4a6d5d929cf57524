"""What exactly was drawn: the model as read, the piece in the ring's own frame, and its figures."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

import numpy as np

from ringwright.terms.body import Body, Floats, Mesh, Role
from ringwright.terms.commission import SeatBrief, State
from ringwright.terms.fact import Row
from ringwright.terms.gems import CutSolid
from ringwright.terms.quantity import Figure
from ringwright.terms.remark import Point, Remark


@dataclass(frozen=True, kw_only=True)
class PieceLimit(Row):
    """A bound on what a drawn ring may measure. Which columns a row has is told by its key.

    ``hole`` (inner diameter that a finger ring can have, and the usual one), ``overall`` (largest extent),
    ``size-off`` (how far the inner circumference may miss the ordered one), ``roundness`` (of the hole),
    ``loose`` (how far apart two bodies may lie and still count as touching), ``crossing`` (space that a surface which
    crosses itself counts twice, of the volume).
    """

    low_mm: float | None = None
    high_mm: float | None = None
    usual_mm: float | None = None
    heed_mm: float | None = None
    halt_mm: float | None = None
    halt_percent: float | None = None


@dataclass(frozen=True, kw_only=True)
class StarterProportion(Row):
    """One proportion of a starter shape: a length, or a share of the length that the key names."""

    title: str
    length_mm: float | None = None
    share_percent: float | None = None


class UnitsFrom(StrEnum):
    """Who said in which unit the model is drawn."""

    DECLARED = "declared"
    FILE = "file"
    GUESSED = "guessed"
    STARTER = "starter"


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A model as read: closed bodies in mm, in the model's own coordinates.

    One body of role METAL, named "ring"; the others are stones. ``mended`` tells in plain words what was mended,
    ``remarks`` what the reader says of the drawing. ``seats`` are the places for stones that a starter shape offers
    (a file has none).
    """

    name: str
    format: str
    units: str
    units_from: UnitsFrom
    bodies: tuple[Body, ...]
    closed_as_drawn: bool = True
    mended: tuple[str, ...] = ()
    remarks: tuple[Remark, ...] = ()
    seats: tuple[SeatBrief, ...] = ()

    @property
    def metal(self) -> Mesh:
        """The metal."""
        return next(body.mesh for body in self.bodies if body.role is Role.METAL)

    @property
    def stones(self) -> tuple[Body, ...]:
        """The stones that were drawn."""
        return tuple(body for body in self.bodies if body.role is Role.STONE)


@dataclass(frozen=True)
class Placement:
    """How the model was turned into the ring's own frame: ``ring = rotation @ model + shift`` (mm, no scale)."""

    rotation: tuple[Point, Point, Point]
    shift_mm: Point

    @property
    def matrix(self) -> Floats:
        """The rotation as an array (3, 3)."""
        return np.array(self.rotation, dtype=np.float64)

    def to_ring(self, points_mm: Floats) -> Floats:
        """Points (…, 3) of the model, in the ring's frame."""
        moved: Floats = np.asarray(points_mm, dtype=np.float64) @ self.matrix.T + np.array(self.shift_mm)
        return moved

    def to_model(self, points_mm: Floats) -> Floats:
        """Points (…, 3) of the ring's frame, in the model's coordinates."""
        moved: Floats = (np.asarray(points_mm, dtype=np.float64) - np.array(self.shift_mm)) @ self.matrix
        return moved

    def turned(self, directions: Floats) -> Floats:
        """Directions (…, 3) of the model, in the ring's frame."""
        moved: Floats = np.asarray(directions, dtype=np.float64) @ self.matrix.T
        return moved

    def seat(self, seat: SeatBrief) -> SeatBrief:
        """A stone's place in the model's coordinates, in the ring's frame."""
        return _seat_of(self.matrix @ seat_axes(seat), self.to_ring(np.array(seat.at_mm)))


def seat_axes(seat: SeatBrief) -> Floats:
    """The rotation (3, 3) from a stone's own frame (x length, y width, z to the table) to the seat's coordinates.

    Without a turn the stone's length lies along z of these coordinates, as far as the facing lets it; where it faces
    along z, along x. In the ring's frame the length so lies along the finger. A turn is right-handed about the facing.
    """
    up = np.array(seat.facing, dtype=np.float64)
    up /= np.linalg.norm(up)
    along = np.array([0.0, 0.0, 1.0]) if abs(up[2]) < _ALONG_Z else np.array([1.0, 0.0, 0.0])
    along -= (along @ up) * up
    along /= np.linalg.norm(along)
    across = np.cross(up, along)
    turn = np.radians(seat.turn_deg)
    length = np.cos(turn) * along + np.sin(turn) * across
    axes: Floats = np.stack([length, np.cross(up, length), up], axis=1)
    return axes


def seated(mesh: Mesh, seat: SeatBrief) -> Mesh:
    """A stone's mesh in its own frame, put in its place."""
    return mesh.moved(seat_axes(seat), np.array(seat.at_mm))


_ALONG_Z = 0.999


def _seat_of(axes: Floats, at_mm: Floats) -> SeatBrief:
    """The seat that has these axes and this place."""
    at, facing = ((float(v[0]), float(v[1]), float(v[2])) for v in (at_mm, axes[:, 2]))
    still = seat_axes(SeatBrief(at_mm=at, facing=facing))
    turn = np.degrees(np.arctan2(axes[:, 0] @ still[:, 1], axes[:, 0] @ still[:, 0]))
    return SeatBrief(at_mm=at, facing=facing, turn_deg=float(turn))


@dataclass(frozen=True, kw_only=True)
class Hole:
    """The finger hole. ``axis`` and ``centre_mm`` are in the coordinates of the model as drawn."""

    diameter_mm: Annotated[float, Figure("mm", 2, "Largest cylinder that passes through the hole, as drawn")]
    facet_diameter_mm: Annotated[float, Figure("mm", 2, "Largest cylinder that clears the flat facets of the mesh")]
    mean_diameter_mm: Annotated[float, Figure("mm", 2, "Mean over all directions of the narrowest place")]
    roundness_mm: Annotated[float, Figure("mm", 3, "Largest less smallest radius around the hole")]
    axis: Annotated[Point, Figure("", 4, "Direction of the finger")]
    centre_mm: Annotated[Point, Figure("mm", 3, "Centre of the hole")]
    profile: Annotated[str, Figure("", 0, "Inside along the finger: flat or comfort")]
    open_percent: Annotated[float, Figure("%", 0, "Share of the round where there is an opening instead of metal")]


@dataclass(frozen=True, kw_only=True)
class Piece:
    """The ring in its own frame (see :mod:`ringwright.terms.body`): metal, stones, seats, hole, and where it came from.

    ``band_width_mm`` and ``band_thickness_mm`` are those of the section at the bottom, opposite the head.
    """

    name: str
    metal: Mesh
    stones: tuple[Body, ...]
    seats: tuple[SeatBrief, ...]
    placement: Placement
    hole: Hole
    state: State
    band_width_mm: float
    band_thickness_mm: float

    @property
    def bodies(self) -> tuple[Body, ...]:
        """Metal first, then the stones."""
        return (Body("ring", Role.METAL, self.metal), *self.stones)


@dataclass(frozen=True, kw_only=True)
class Weight:
    """Volume and mass of the metal, for any closed body, ring or not."""

    volume_mm3: Annotated[float, Figure("mm3", 2, "Volume of the metal")]
    area_mm2: Annotated[float, Figure("mm2", 1, "Surface of the metal")]
    mass_g: Annotated[dict[str, float], Figure("g", 3, "Mass in each alloy, by the alloy's key")]
    mass_spread_g: Annotated[dict[str, float], Figure("g", 3, "Spread of that mass, from the alloy's density")]


@dataclass(frozen=True, kw_only=True)
class PieceFigures:
    """What was drawn, in figures. Points are in the ring's frame unless said."""

    format: Annotated[str, Figure("", 0, "Kind of file")]
    units: Annotated[str, Figure("", 0, "Unit in which the model is drawn")]
    units_from: Annotated[UnitsFrom, Figure("", 0, "Who said so: declared, file, guessed or starter")]
    closed: Annotated[bool, Figure("", 0, "Whether the surface encloses a solid, after mending")]
    closed_as_drawn: Annotated[bool, Figure("", 0, "Whether it did so as drawn")]
    mended: Annotated[tuple[str, ...], Figure("", 0, "What was mended")]
    triangles: Annotated[int, Figure("", 0, "Triangles of the metal")]
    volume_mm3: Annotated[float, Figure("mm3", 2, "Volume of the metal", chief=True)]
    area_mm2: Annotated[float, Figure("mm2", 1, "Surface of the metal")]
    mass_g: Annotated[dict[str, float], Figure("g", 3, "Mass in each alloy, by the alloy's key")]
    mass_spread_g: Annotated[dict[str, float], Figure("g", 3, "Spread of that mass, from the alloy's density")]
    centre_of_mass_mm: Annotated[Point, Figure("mm", 3, "Centre of mass of the metal")]
    off_axis_mm: Annotated[float, Figure("mm", 3, "Distance of the centre of mass from the finger's axis")]
    inertia_mm5: Annotated[
        Point, Figure("mm5", 0, "Moments about x, y, z through the centre of mass; times density: g mm2")
    ]
    extent_mm: Annotated[Point, Figure("mm", 2, "Extent across, from bottom to head, and along the finger")]
    height_mm: Annotated[float, Figure("mm", 2, "Highest point above the finger, metal or stone", chief=True)]
    hole_diameter_mm: Annotated[
        float, Figure("mm", 2, "Largest cylinder that passes through the hole, as drawn", chief=True)
    ]
    hole_facet_diameter_mm: Annotated[float, Figure("mm", 2, "Largest cylinder that clears the mesh's flat facets")]
    hole_mean_diameter_mm: Annotated[float, Figure("mm", 2, "Mean over all directions of the narrowest place")]
    hole_roundness_mm: Annotated[float, Figure("mm", 3, "Largest less smallest radius around the hole")]
    hole_open_percent: Annotated[float, Figure("%", 0, "Share of the round with an opening instead of metal")]
    hole_profile: Annotated[str, Figure("", 0, "Inside along the finger: flat or comfort")]
    hole_axis: Annotated[Point, Figure("", 4, "Direction of the finger, in the model's coordinates")]
    hole_centre_mm: Annotated[Point, Figure("mm", 3, "Centre of the hole, in the model's coordinates")]
    head_axis: Annotated[Point | None, Figure("", 4, "Direction of the head, in the model's coordinates")] = None
    ordered_diameter_mm: Annotated[float | None, Figure("mm", 2, "Inner diameter that was ordered")] = None
    band_width_mm: Annotated[float, Figure("mm", 2, "Width of the band at the bottom", chief=True)]
    band_thickness_mm: Annotated[float, Figure("mm", 2, "Thickness of the band at the bottom", chief=True)]
    stones: Annotated[tuple[str, ...], Figure("", 0, "Stones that were drawn, by name")] = ()


@dataclass(frozen=True, kw_only=True)
class StoneRoom:
    """What a starter shape must know of a stone: its girdle's outline and its heights, in plain numbers.

    The outline is that of the girdle: x along the stone's length, y along its width, about the centre of the two,
    counter-clockwise.
    """

    name: str
    outline_mm: tuple[tuple[float, float], ...]
    crown_mm: float
    girdle_mm: float
    pavilion_mm: float

    @property
    def length_mm(self) -> float:
        """Extent of the outline along the stone's length."""
        x = [p[0] for p in self.outline_mm]
        return max(x) - min(x)

    @property
    def width_mm(self) -> float:
        """Extent of the outline along the stone's width."""
        y = [p[1] for p in self.outline_mm]
        return max(y) - min(y)


def room_for(stone: CutSolid) -> StoneRoom:
    """What a starter shape must know of a stone, from its solid."""
    half = stone.girdle_mean_mm / 2.0
    return StoneRoom(
        name=stone.name,
        outline_mm=tuple((float(x), float(y)) for x, y in stone.outline_mm),
        crown_mm=max(stone.table_z_mm - half, 0.0),
        girdle_mm=stone.girdle_mean_mm,
        pavilion_mm=max(-stone.culet_z_mm - half, 0.0),
    )
