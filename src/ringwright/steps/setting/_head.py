"""What stands around a stone: the metal cut at the girdle in the stone's own frame, claw by claw.

Everything is read from exact sections of the solid: the part of the metal above the girdle falls apart in holders;
each is
measured along the outline's normal (thickness) and along the outline (width).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ringwright.steps.setting._placed import Placed, outline_normals, pavilion_deg, resampled
from ringwright.terms.body import Floats, Ints

# Geometry, no figures of the trade: how finely the girdle is walked, what lies close enough to a stone to be looked at,
# and from which share of the girdle on a holder is a wall.
SAMPLES = 360
_AROUND_MM = 3.0
_WALL_SHARE = 0.2
_STEP_MM = 0.4


@dataclass(frozen=True, eq=False)
class Girdle:
    """The girdle seen from the table: points (n, 2) evenly along it, outward normals, its length, and the polygon."""

    points: Floats
    normals: Floats
    length_mm: float
    polygon: Any


@dataclass(frozen=True, eq=False)
class Holder:
    """One holder in the stone's frame. ``touch`` are the numbers of the girdle's points that it holds; ``middle``
    that of
    its middle; ``raster`` the (k, 2) positions along normal and outline of its section's cells, each of
    ``cell_mm2``."""

    wall: bool
    touch: Ints
    middle: int
    width: float
    thickness: float
    section: float
    notch: float
    seat: float
    gap: float
    above: float
    tip: Floats
    lean_deg: float
    bearing: bool
    root: float
    raster: Floats
    cell_mm2: float


@dataclass(frozen=True, eq=False)
class Head:
    """The metal around one stone."""

    girdle: Girdle
    holders: tuple[Holder, ...]
    overlap_mm3: float
    sunk_percent: float
    gap_mm: float
    corners: tuple[int, ...]


def girdle_of(placed: Placed) -> Girdle:
    """The stone's girdle, walked evenly."""
    from shapely.geometry import Polygon

    points = resampled(placed.solid.outline_mm, SAMPLES)
    length = float(np.linalg.norm(points - np.roll(points, -1, axis=0), axis=1).sum())
    return Girdle(points, outline_normals(points), length, Polygon(placed.solid.outline_mm))


def about(placed: Placed, metal: Any) -> Any:
    """The metal (a manifold in the ring's frame) near the stone, in the stone's frame."""
    import manifold3d

    solid = placed.solid
    low = np.append(solid.outline_mm.min(axis=0) - _AROUND_MM, solid.culet_z_mm - _AROUND_MM)
    high = np.append(solid.outline_mm.max(axis=0) + _AROUND_MM, solid.table_z_mm + 2 * _AROUND_MM)
    turned = metal.transform(np.column_stack([placed.axes.T, -placed.axes.T @ placed.at]))
    box = manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low))
    return turned ^ box


def look(placed: Placed, near: Any, reach_mm: float) -> Head:
    """The holders of the stone; ``reach_mm`` is how far off the girdle metal can be and still be pushed to it."""
    import shapely

    from ringwright.science.solids import to_manifold

    solid = placed.solid
    girdle = girdle_of(placed)
    own = to_manifold(solid.mesh)
    overlap = own ^ near
    below = overlap.trim_by_plane((0.0, 0.0, -1.0), -float(solid.girdle_bottom_mm.mean()))
    pavilion = own.trim_by_plane((0.0, 0.0, -1.0), -float(solid.girdle_bottom_mm.mean())).volume()
    whole = polygons(near.slice(0.0))
    gap = min((float(p.boundary.distance(girdle.polygon.exterior)) for p in whole), default=np.inf)
    if any(p.intersects(girdle.polygon) for p in whole):
        gap = 0.0
    z_0 = 1e-3
    under = shapely.union_all(polygons(near.slice(float(solid.girdle_bottom_mm.min()) - 0.2)))
    found: list[Holder] = []
    for part in near.trim_by_plane((0.0, 0.0, 1.0), 0.0).decompose():
        section = shapely.union_all(polygons(part.slice(z_0)))
        if section.is_empty or section.distance(girdle.polygon) > reach_mm:
            continue
        found += _holders(placed, girdle, part, section, under, near, reach_mm)
    found.sort(key=lambda h: float(np.arctan2(*girdle.points[h.middle][::-1]) % (2 * np.pi)))
    corners = tuple(_corners(section_corners(p)) for p in whole if p.distance(girdle.polygon) <= reach_mm)
    share = below.volume() / pavilion if pavilion > 1e-9 else overlap.volume() / solid.volume_mm3
    return Head(girdle, tuple(found), float(overlap.volume()), 100.0 * float(share), gap, corners)


def polygons(section: Any) -> list[Any]:
    """The pieces of a cross-section, with their holes."""
    from shapely.geometry import Polygon

    found = []
    for piece in section.decompose():
        rings = [np.asarray(ring) for ring in piece.to_polygons()]
        rings.sort(key=lambda ring: -abs(_area(ring)))
        polygon = Polygon(rings[0], rings[1:]) if rings else None
        if polygon is not None and polygon.area > 1e-6:
            found.append(polygon if polygon.is_valid else polygon.buffer(0))
    return found


def _area(ring: Floats) -> float:
    after = np.roll(ring, -1, axis=0)
    return float((ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0]).sum() / 2)


def section_corners(polygon: Any) -> Floats:
    """The corners of a section, points on straight runs left out."""
    return np.asarray(polygon.simplify(0.005).exterior.coords)[:-1]


def _corners(ring: Floats) -> int:
    return len(ring)


def _holders(
    placed: Placed, girdle: Girdle, part: Any, section: Any, under: Any, near: Any, reach_mm: float
) -> list[Holder]:
    """The holders in one connected part above the girdle: one for each run of girdle points that it is near to."""
    import shapely

    away = shapely.distance(shapely.points(girdle.points), section)
    least = float(away.min())
    touched = away <= max(min(0.25, reach_mm), least + 0.05)
    holders = []
    for run in runs(touched):
        wall = len(run) >= _WALL_SHARE * SAMPLES
        holders.append(_measured(placed, girdle, part, section, under, near, run, wall, away))
    return holders


def runs(mask: np.ndarray) -> list[Ints]:
    """The runs of True on a closed ring, as indices in order."""
    n = len(mask)
    if mask.all():
        return [np.arange(n)]
    start = int(np.flatnonzero(~mask)[0])
    order = (start + np.arange(n)) % n
    found: list[Ints] = []
    run: list[int] = []
    for k in order:
        if mask[k]:
            run.append(int(k))
        elif run:
            found.append(np.array(run))
            run = []
    if run:
        found.append(np.array(run))
    return [r for r in found if len(r) >= 2]


def _measured(
    placed: Placed, girdle: Girdle, part: Any, section: Any, under: Any, near: Any, run: Ints, wall: bool, away: Floats
) -> Holder:
    import shapely

    solid = placed.solid
    pieces = list(getattr(section, "geoms", [section]))
    own = min(pieces, key=lambda p: p.distance(shapely.points(girdle.points[run[len(run) // 2]])))
    if not wall:
        centre = np.asarray(own.centroid.coords[0])
        middle = int(run[np.argmin(np.linalg.norm(girdle.points[run] - centre, axis=1))])
    else:
        middle = int(run[len(run) // 2])
    p, n = girdle.points[middle], girdle.normals[middle]
    t = np.array([-n[1], n[0]])
    if wall:
        thick, seat = _wall(own, girdle, run)
        width = len(run) / SAMPLES * girdle.length_mm
        raster = np.column_stack([np.linspace(0, thick, 60), np.zeros(60)])
        cell, area = thick / 60, thick  # per mm of the wall
        notch = 0.0
    else:
        corners = np.asarray(own.exterior.coords)
        along_n, along_t = (corners - p) @ n, (corners - p) @ t
        thick, width = float(np.ptp(along_n)), float(np.ptp(along_t))
        seat = max(0.0, -float(along_n.min())) if own.intersects(girdle.polygon) else 0.0
        seat = min(seat, thick)
        raster, cell = _raster(own, p, n, t)
        area = float(own.area)
        above_girdle = polygons(part.slice(float(solid.girdle_top_mm.mean()) + 0.3 * solid.crown_height_mm))
        full = max((_extent(q, n) for q in above_girdle if q.distance(own) < 0.3), default=thick)
        notch = max(0.0, full - thick) if full < 2 * thick else 0.0
        thick += notch
    top = part.bounding_box()[5] if not wall else _wall_top(part, girdle, run)
    tip, lean = _tip(part, own, p, n, top)
    if not wall:
        thick *= float(np.cos(np.radians(lean)))
    inward = min(0.2 / max(np.tan(np.radians(max(pavilion_deg(solid), 20.0))), 0.1), 0.4)
    bearing = not under.is_empty and bool(shapely.distance(shapely.points(p - inward * n), under) < 0.3)
    return Holder(
        wall, run, middle, width, thick, area, notch, seat + notch, float(away[run].min()), float(top), tip, lean,
        bearing, _root(near, own) if not wall else 0.0, raster, cell,
    )  # fmt: skip


def _extent(polygon: Any, n: Floats) -> float:
    return float(np.ptp(np.asarray(polygon.exterior.coords) @ n))


def _wall(section: Any, girdle: Girdle, run: Ints) -> tuple[float, float]:
    """The thickness of a wall, and how deep the girdle lies in it, in the mean along it."""
    from shapely.geometry import LineString

    thick, seat = [], []
    for k in run[:: max(1, len(run) // 24)]:
        p, n = girdle.points[k], girdle.normals[k]
        cut = LineString([p - 1.0 * n, p + 6.0 * n]).intersection(section)
        pieces = [g for g in getattr(cut, "geoms", [cut]) if g.length > 0]
        if pieces:
            first = min(pieces, key=lambda g: abs((np.asarray(g.coords[0]) - p) @ n))
            ends = (np.asarray(first.coords) - p) @ n
            thick.append(float(np.ptp(ends)))
            seat.append(max(0.0, -float(ends.min())))
    return (float(np.median(thick)), float(np.median(seat))) if thick else (0.0, 0.0)


def _wall_top(part: Any, girdle: Girdle, run: Ints) -> float:
    """How high a wall stands, at its lowest place along the run."""
    mesh = part.to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    heights = []
    for k in run[:: max(1, len(run) // 24)]:
        out = (points[:, :2] - girdle.points[k]) @ girdle.normals[k]
        side = (points[:, :2] - girdle.points[k]) @ np.array([-girdle.normals[k][1], girdle.normals[k][0]])
        near = (np.abs(side) < 0.35) & (out > -0.6) & (out < 1.2)
        if near.any():
            heights.append(float(points[near, 2].max()))
    return min(heights, default=float(part.bounding_box()[5]))


def _tip(part: Any, section: Any, p: Floats, n: Floats, top: float) -> tuple[Floats, float]:
    """The tip of a holder in the stone's frame, and how far it leans outward in degrees."""
    upper = polygons(part.slice(0.8 * top))
    if not upper:
        return np.append(p, top), 0.0
    nearest = min(upper, key=lambda q: float(np.linalg.norm(np.asarray(q.centroid.coords[0]) - p)))
    centre = np.asarray(nearest.centroid.coords[0])
    if len(nearest.interiors) or nearest.area > 4 * max(section.area, 1e-6):
        return np.append(p, top), 0.0
    out = float((centre - np.asarray(section.centroid.coords[0])) @ n)
    lean = float(np.degrees(np.arctan2(out, 0.8 * top)))
    return np.append(centre + 0.25 * out * n, top), lean


def _root(near: Any, section: Any) -> float:
    """How far below the girdle the claw stands free, down to where it grows into other metal."""
    here, area, depth = section, section.area, 0.0
    while depth < 8.0:
        pieces = [q for q in polygons(near.slice(-(depth + _STEP_MM))) if q.distance(here) < 0.05]
        if not pieces or sum(q.area for q in pieces) > 1.8 * area:
            break
        here = max(pieces, key=lambda q: q.area)
        depth += _STEP_MM
    return depth


def _raster(polygon: Any, p: Floats, n: Floats, t: Floats) -> tuple[Floats, float]:
    """The section as cells: positions along normal and outline from the girdle's point, and the area of each."""
    import shapely

    corners = np.asarray(polygon.exterior.coords)
    local = np.column_stack([(corners - p) @ n, (corners - p) @ t])
    low, high = local.min(axis=0), local.max(axis=0)
    h = float((high - low).max()) / 40
    u, v = (np.arange(low[k] + h / 2, high[k], h) for k in (0, 1))
    grid = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1).reshape(-1, 2)
    at = p + grid[:, :1] * n + grid[:, 1:] * t
    inside = grid[shapely.contains_xy(polygon, at[:, 0], at[:, 1])]
    return inside, float(polygon.area) / max(len(inside), 1)


def plastic_mm3(raster: Floats, cell_mm2: float) -> float:
    """The plastic section modulus in mm3: both halves' moments about the line that halves the area."""
    if not len(raster):
        return 0.0
    u = raster[:, 0]
    return float(np.abs(u - np.median(u)).sum() * cell_mm2)
