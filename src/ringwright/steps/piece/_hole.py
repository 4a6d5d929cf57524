"""The finger hole: found, measured, told from an opening; and the ring turned so that it lies in its own frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science import cylinders, solids
from ringwright.terms.body import Body, Floats, Mesh
from ringwright.terms.commission import SeatBrief
from ringwright.terms.mistake import bad
from ringwright.terms.piece import Placement
from ringwright.terms.remark import Point

SECTORS = 72
PLAIN = 0.01
"""A centre of mass nearer to the axis than this share of the hole's radius does not tell where the head is."""
COMFORT_AT = 0.35
"""Where, of the band's width, the rise of the inside is looked at: beyond it lie the rounded edges of a flat band."""
COMFORT_RISE = 0.01
"""The rise at that place, of the band's width, from which the inside counts as rounded."""


@dataclass(frozen=True, eq=False)
class Round:
    """The wall of the hole by sector: the narrowest radius (NaN where no wall was found), and the share open."""

    radii: Floats
    open_percent: float


def through(metal: Mesh, where: str) -> cylinders.Through:
    """The largest cylinder through the metal. Raises :class:`BadInput` where there is no hole for a finger."""
    found = cylinders.largest_through(metal)
    if found is None:
        raise bad(
            where,
            "no finger hole was found: nothing passes through the model with metal all round it",
            "a ring has one; see that the whole ring was exported",
        )
    return found


def around(metal: Mesh, found: cylinders.Through) -> Round:
    """How wide the hole is in each direction, by the vertices of the faces that look inward."""
    normals = solids.face_normals(metal)
    centres = metal.middles_mm
    _, away, _ = cylinders.distances(centres, found.point, found.axis)
    inward = np.einsum("ij,ij->i", normals, away) < -0.5
    reach = found.radius * cylinders.NEAR
    wall = solids.part(metal, inward)
    radii = np.full(SECTORS, np.nan)
    if not len(wall.faces):
        return Round(radii, 100.0)
    far, sector = _sectors(wall.vertices_mm, found)
    near = far < reach
    narrowest = np.full(SECTORS, np.inf)
    np.minimum.at(narrowest, sector[near], far[near])
    far, sector = _sectors(solids.spread_points(wall, 20_000), found, 360)
    covered = len(np.unique(sector[far < reach]))
    radii[np.isfinite(narrowest)] = narrowest[np.isfinite(narrowest)]
    return Round(radii, 100.0 * (1.0 - covered / 360))


def _sectors(points: Floats, found: cylinders.Through, count: int = SECTORS) -> tuple[Floats, np.ndarray]:
    far, away, _ = cylinders.distances(points, found.point, found.axis)
    flat = away @ across(found.axis).T
    turn = np.arctan2(flat[:, 1], flat[:, 0]) + np.pi
    return far, (turn * (count / (2.0 * np.pi))).astype(np.int64) % count


def across(axis: Floats) -> Floats:
    """Two directions square to an axis."""
    helper = np.eye(3)[int(np.argmin(np.abs(axis)))]
    first = np.cross(axis, helper)
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(axis, first)])


def head(metal: Mesh, stones: Sequence[Body], seats: Sequence[SeatBrief], found: cylinders.Through) -> Floats:
    """The direction to the head, square to the axis.

    It is that of the centre of mass; of the main stone, where it sits within 60° of that; of the highest place, where
    the mass does not tell; and of the model's y, z or x where a plain band has no head at all.
    """
    total, moment = 0.0, np.zeros(3)
    for mesh in (metal, *(stone.mesh for stone in stones)):
        figures = solids.mass_properties(mesh)
        total += figures.volume_mm3
        moment += figures.volume_mm3 * (figures.centroid_mm - found.point)
    heavy: Floats = _square(moment / total, found.axis)
    main = _main_stone(stones, seats, found)
    if np.linalg.norm(heavy) > PLAIN * found.radius:
        heavy /= np.linalg.norm(heavy)
        return heavy if main is None or float(main @ heavy) < 0.5 else main
    if main is not None:
        return main
    far, away, _ = cylinders.distances(metal.vertices_mm, found.point, found.axis)
    top = float(far.max())
    high = away[far > top - 0.02 * found.radius]
    pointed: Floats = high.mean(axis=0)
    if np.linalg.norm(pointed) > 0.5:
        return _unit(_square(pointed, found.axis))
    for axis in (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])):
        flat = _square(axis, found.axis)
        if np.linalg.norm(flat) > 0.7:
            return _unit(flat)
    first: Floats = across(found.axis)[0]
    return first


def _main_stone(stones: Sequence[Body], seats: Sequence[SeatBrief], found: cylinders.Through) -> Floats | None:
    """The direction from the axis to the largest stone, or to the first seat; None without either."""
    if stones:
        largest = max(stones, key=lambda stone: abs(solids.volume(stone.mesh)))
        place = solids.mass_properties(largest.mesh).centroid_mm
    elif seats:
        place = np.array(seats[0].at_mm, dtype=np.float64)
    else:
        return None
    flat = _square(place - found.point, found.axis)
    return _unit(flat) if np.linalg.norm(flat) > 0.2 * found.radius else None


def _plain(direction: Floats) -> Floats:
    """A direction within some millionths of an axis of the coordinates is that axis."""
    nearest = np.round(direction)
    return nearest + 0.0 if np.abs(direction - nearest).max() < 1e-5 else direction


def _square(vector: Floats, axis: Floats) -> Floats:
    flat: Floats = vector - (vector @ axis) * axis
    return flat


def _unit(vector: Floats) -> Floats:
    unit: Floats = vector / np.linalg.norm(vector)
    return unit


@dataclass(frozen=True)
class Band:
    """The section of the band at the bottom: width along the finger, thickness, its middle along the finger, and the
    shape of the inside."""

    width_mm: float
    thickness_mm: float
    middle_mm: float
    profile: str


def placed(metal: Mesh, found: cylinders.Through, up: Floats) -> tuple[Placement, Band]:
    """The way into the ring's frame: z along the finger, y to the head, origin in the middle of the band's width."""
    axis = _plain(found.axis)
    up = _plain(_unit(_square(up, axis)))
    x = np.cross(up, axis)
    rotation = np.stack([x, up, axis])
    turned = metal.moved(rotation, -rotation @ found.point)
    band = section(turned)
    shift = -rotation @ found.point - np.array([0.0, 0.0, band.middle_mm])
    rows = tuple(_point(row) for row in rotation)
    return Placement((rows[0], rows[1], rows[2]), _point(shift)), band


def section(metal: Mesh) -> Band:
    """The band at the bottom, or at the place nearest to it where there is metal.

    Raises :class:`BadInput` where no section opposite the head shows metal.
    """
    for turn in (0.0, 15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0):
        cut = _cut(metal, turn)
        if len(cut):
            break
    else:
        raise bad("model", "there is no metal opposite the head", "a ring has a band that goes round the finger")
    low, high = cut.min(axis=(0, 1)), cut.max(axis=(0, 1))
    width = float(high[1] - low[1])
    rises = [_rise(_cut(metal, at)) for at in (0.0, 30.0, -30.0, 45.0, -45.0)]
    found = [rise for rise in rises if rise is not None]
    rounded = bool(found) and float(np.median(found)) > COMFORT_RISE
    return Band(width, float(high[0] - low[0]), float(0.5 * (high[1] + low[1])), "comfort" if rounded else "flat")


def _cut(metal: Mesh, turn_deg: float) -> Floats:
    """Segments (k, 2, 2) of (radius, z) in the half plane so many degrees from the bottom."""
    turn = np.radians(-90.0 + turn_deg)
    out = np.array([np.cos(turn), np.sin(turn), 0.0])
    cut = solids.section(metal, (0.0, 0.0, 0.0), (-out[1], out[0], 0.0))
    flat = np.stack([cut @ out, cut[..., 2]], axis=-1)
    return flat[(flat[..., 0] > 0).all(axis=1)]


def _rise(cut: Floats) -> float | None:
    """How much wider the hole is towards the band's edges than at its middle, of the band's width."""
    if not len(cut):
        return None
    low, high = float(cut[..., 1].min()), float(cut[..., 1].max())
    middle, width = 0.5 * (low + high), high - low
    heights = [middle, middle - COMFORT_AT * width, middle + COMFORT_AT * width]
    inner = [_inner(cut, z) for z in heights]
    if any(radius is None for radius in inner):
        return None
    at_middle, below, above = (float(radius or 0.0) for radius in inner)
    return (0.5 * (below + above) - at_middle) / width


def _inner(cut: Floats, z: float) -> float | None:
    """The innermost radius at a height."""
    a, b = cut[:, 0], cut[:, 1]
    spans = (np.minimum(a[:, 1], b[:, 1]) <= z) & (np.maximum(a[:, 1], b[:, 1]) > z)
    if not spans.any():
        return None
    a, b = a[spans], b[spans]
    share = (z - a[:, 1]) / (b[:, 1] - a[:, 1])
    return float((a[:, 0] + share * (b[:, 0] - a[:, 0])).min())


def _point(vector: Floats) -> Point:
    return (float(vector[0]), float(vector[1]), float(vector[2]))
