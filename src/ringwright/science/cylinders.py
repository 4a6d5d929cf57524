"""The largest round cylinder that passes through a body, found however the body is turned, in any unit.

Method. (1) Points spread over the surface are looked at from directions all over a half sphere; in each view the
largest empty circle that has surface round it on at least three quarters of its turn is found on a raster. Seen from a
tilt t a hole of radius R in a plate of width w shows only R cos t - (w/2) sin t, so that the true direction stands out
as a sharp peak. (2) The best views start a minimax search for the line that keeps the greatest distance from every
vertex: the distances are linearised about the present line and a linear programme moves it, within a step that shrinks
when it did not help. (3) Where the inside is rounded along the axis, the greatest distance hardly depends on the tilt;
then the axis is taken that the normals of the inner faces meet (least squares of the linear line complex: Pottmann &
Wallner, Computational Line Geometry, 2001), as far as that costs no radius.

Vertices of a faceted mesh lie on the surface that was meant, its chords inside: ``radius`` clears the vertices, and
edges too that are no chords of the hole; ``facet_radius`` clears everything.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ringwright.science import solids
from ringwright.terms.body import Floats, Ints, Mesh

VIEWS = 180
"""Directions that are tried: neighbours lie 11 degrees apart, so that no axis is missed by more than 8."""
RASTER = 64
"""Cells across a view."""
POINTS = 12_000
"""Points spread over the surface: a few in each cell of the raster that shows metal."""
ROUGH_VIEWS, ROUGH_POINTS = 60, 6_000
"""The same where only the rough radius is wanted: no axis is missed by more than 14 degrees, then looked at closer."""
SECTORS = 36
"""Parts of the turn round a hole."""
SURROUNDED = 0.75
"""Share of the turn round a hole that must show surface: a ring may be open by a quarter."""
CHORD_RAD = np.pi / 6.0
"""An edge across a smaller angle is a chord of the hole, across a larger one a flat side or a bar."""
_PIVOTS, _TIGHT = 200, 1e-12
"""Pivots of a linear programme in a handful of unknowns, and what counts as nothing there, over half the diagonal."""
FINEST = 1e-7
"""Where the search for the line stops, over half the body's diagonal: 2 nm on a ring."""
NEAR = 1.15
"""What lies within this many radii counts as the hole's own wall."""


@dataclass(frozen=True, eq=False)
class Through:
    """A cylinder through a body: a unit direction, a point of the axis, radii in the mesh's own unit, and the share
    of the turn at which there is surface within :data:`NEAR` radii."""

    axis: Floats
    point: Floats
    radius: float
    facet_radius: float
    walled: float


def largest_through(mesh: Mesh) -> Through | None:
    """The largest cylinder through the body, or None where no line passes through it with surface all round."""
    low, high = solids.bounds(mesh)
    middle, scale = 0.5 * (low + high), 0.5 * float(np.linalg.norm(high - low))
    if not scale > 0:
        return None
    unit = Mesh((mesh.vertices_mm - middle) / scale, mesh.faces)
    best: Through | None = None
    for view in _views(solids.spread_points(unit, POINTS)):
        if best is not None and best.radius > 1.15 * view.radius:
            break  # seen from 8 degrees off, a hole as wide as long shows six sevenths of itself
        if best is not None and _same(best, view):
            continue
        found = _search(unit, view)
        if found is not None and (best is None or found.radius > best.radius * (1.0 + 1e-9)):
            best = found
    if best is None:
        return None
    axis = best.axis if best.axis[int(np.argmax(np.abs(best.axis)))] > 0 else -best.axis
    return Through(axis, best.point * scale + middle, best.radius * scale, best.facet_radius * scale, best.walled)


def rough_radius(mesh: Mesh) -> float | None:
    """About the radius of the largest cylinder through the body, a few percent small, or None: from the views alone."""
    low, high = solids.bounds(mesh)
    scale = 0.5 * float(np.linalg.norm(high - low))
    if not scale > 0:
        return None
    points = solids.spread_points(mesh, ROUGH_POINTS)
    views = _views(points, ROUGH_VIEWS)
    if not views:
        return None
    nearer = _views(points, axes=_about(views[0].axis))
    return max(view.radius for view in (*views, *nearer))


def distances(points: Floats, point: Floats, axis: Floats) -> tuple[Floats, Floats, Floats]:
    """Each point's distance from a line, its unit direction away from it (n, 3), and its place along it."""
    away = points - point
    along = away @ axis
    across = away - along[:, None] * axis
    far = np.linalg.norm(across, axis=1)
    return far, across / np.maximum(far, 1e-300)[:, None], along


@dataclass(frozen=True, eq=False)
class _View:
    axis: Floats
    point: Floats
    radius: float


def _same(found: Through, view: _View) -> bool:
    """Whether a view shows the hole that was found, from aside."""
    off = float(distances(found.point[None], view.point, view.axis)[0][0])
    return abs(float(found.axis @ view.axis)) > np.cos(np.radians(40.0)) and off < 0.5 * view.radius


def _half_sphere(count: int) -> Floats:
    """Directions spread evenly over a half sphere (golden-angle spiral)."""
    k = np.arange(count) + 0.5
    z = k / count
    turn = k * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(1.0 - z**2)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), z], axis=1)


def _about(axis: Floats) -> Floats:
    """Directions about one: eight at the radius at which a rough view may be off by half, four nearer."""
    first, second = _frame(axis)
    out = []
    for count, lean in ((8, 0.18), (4, 0.08)):
        turns = np.arange(count) * 2.0 * np.pi / count
        out += [axis + lean * (np.cos(turn) * first + np.sin(turn) * second) for turn in turns]
    ways = np.array(out)
    return np.asarray(ways / np.linalg.norm(ways, axis=1, keepdims=True))


def _views(points: Floats, count: int = VIEWS, axes: Floats | None = None) -> list[_View]:
    """The most promising views, largest empty circle first, no two from nearly the same direction."""
    columns = np.ascontiguousarray(points.T)
    tried = _half_sphere(count) if axes is None else axes
    seen = [view for view in (_look(columns, axis) for axis in tried) if view is not None]
    seen.sort(key=lambda view: -view.radius)
    chosen: list[_View] = []
    for view in seen:
        if all(abs(float(view.axis @ other.axis)) < np.cos(np.radians(20.0)) for other in chosen):
            chosen.append(view)
        if len(chosen) == 4:
            break
    return [view for view in chosen if view.radius > 0.5 * chosen[0].radius]


def _look(points: Floats, axis: Floats) -> _View | None:
    """The largest empty circle with surface round it, seen along ``axis``; ``points`` is (3, n)."""
    from ringwright.science.empty_circles import empty_circle

    frame = _frame(axis)
    middle, radius = empty_circle(points, frame, RASTER, SECTORS, SURROUNDED)
    return _View(axis, middle @ frame, radius) if radius > 0 else None


def look_slow(points: Floats, frame: Floats) -> tuple[Floats, float] | None:
    """Centre and radius of the largest empty circle, by the library's distances: the slow twin for tests."""
    from scipy import ndimage

    flat = frame @ points
    low = flat.min(axis=1)
    cell = float((flat.max(axis=1) - low).max()) / (RASTER - 4)
    cells = ((flat - low[:, None]) / cell).astype(np.int64) + 2
    filled = np.zeros((RASTER, RASTER), dtype=bool)
    filled[cells[0], cells[1]] = True
    room = ndimage.distance_transform_edt(~filled)
    peaks = (room == ndimage.maximum_filter(room, size=3)) & (room > 2.0)
    peaks[:2], peaks[-2:], peaks[:, :2], peaks[:, -2:] = False, False, False, False
    places = np.argwhere(peaks)
    places = places[np.argsort(-room[peaks], kind="stable")][:12]
    shown = np.argwhere(filled)
    for place in places:
        across = shown - place
        turn = np.arctan2(across[:, 1], across[:, 0])
        bins = np.unique(((turn + np.pi) * (SECTORS / (2.0 * np.pi))).astype(np.int64) % SECTORS)
        if len(bins) >= SURROUNDED * SECTORS:
            return low + (place - 1.5) * cell, float(room[place[0], place[1]]) * cell
    return None


def _frame(axis: Floats) -> Floats:
    """Two directions (2, 3) square to ``axis`` and to each other."""
    x, y, z = float(axis[0]), float(axis[1]), float(axis[2])
    least = min((abs(x), 0), (abs(y), 1), (abs(z), 2))[
        1
    ]  # written out: numpy takes longer for its calls than for these
    a, b, c = ((0.0, z, -y), (-z, 0.0, x), (y, -x, 0.0))[least]
    long = math.sqrt(a * a + b * b + c * c)
    a, b, c = a / long, b / long, c / long
    return np.array([[a, b, c], [y * c - z * b, z * a - x * c, x * b - y * a]])


def _search(mesh: Mesh, view: _View) -> Through | None:
    """The largest cylinder near a view, with the mesh's flats and bars heeded; None if it does not pass through."""
    points = mesh.vertices_mm
    axis, point, radius = _clear(points, view.axis, view.point, tilt=True)
    facet, bars = _edges(mesh, axis, point, radius)
    for _ in range(6):
        if not len(bars):
            break
        points = np.concatenate([points, bars])
        axis, point, radius = _clear(points, axis, point, tilt=True)
        facet, bars = _edges(mesh, axis, point, radius)
    axis, point, radius = _revolution(mesh, points, axis, point, radius)
    facet = _edges(mesh, axis, point, radius)[0]
    if radius <= 0 or facet <= 0 or _pierced(mesh, axis, point):
        return None
    walled, surrounded = _walled(mesh, axis, point, radius)
    if surrounded < SURROUNDED:
        return None
    return Through(axis, point, radius, min(facet, radius), walled)


def _clear(points: Floats, axis: Floats, point: Floats, *, tilt: bool) -> tuple[Floats, Floats, float]:
    """Move the line so that its least distance from the points is as great as may be (a local greatest).

    Only the points that can hold the line are worked with; those that the line then meets are added.
    """
    active = _nearest(points, point, axis, np.inf)
    radius = 0.0
    for _ in range(12):
        axis, point, held = _moved(points[active], axis, point, tilt=tilt)
        far = distances(points, point, axis)[0]
        radius = float(far.min())
        if radius >= held - FINEST:
            break
        active = np.union1d(active, _nearest(points, point, axis, held))
    return axis, point, radius


def _moved(points: Floats, axis: Floats, point: Floats, *, tilt: bool) -> tuple[Floats, Floats, float]:
    """:func:`_clear` of a few points: linear programmes within a step that shrinks when it did not help."""
    far, away, along = distances(points, point, axis)
    radius = float(far.min())
    step = 0.1
    for _ in range(60):
        frame = _frame(axis)
        near = np.flatnonzero(far <= radius + 4.0 * step)
        flat = away[near] @ frame.T
        reach = max(float(np.abs(along[near]).max()), 1e-6)
        moves = [flat, flat * along[near, None] / reach] if tilt else [flat]
        move = highest(np.concatenate(moves, axis=1), far[near], step)
        if move is None:
            break
        lean = move[2:4] @ frame / reach if tilt else np.zeros(3)
        trial_axis = (axis + lean) / np.linalg.norm(axis + lean)
        trial_point = point + move[:2] @ frame
        trial = distances(points, trial_point, trial_axis)
        gain = float(trial[0].min()) - radius
        promised = float(move[-1]) - radius
        if gain > 0:
            axis, point, radius = trial_axis, trial_point, radius + gain
            far, away, along = trial
        if gain <= 0.25 * promised:
            step *= 0.3
        if step < FINEST or 0 < gain < FINEST or promised < FINEST:
            break
    return axis, point, radius


def highest(slopes: Floats, heights: Floats, step: float) -> Floats | None:
    """Where the lowest of the planes ``heights`` - ``slopes`` . m is highest, no m beyond ``step``: m and that height.

    ``slopes`` (n, k) with few k. The dual simplex method (C. E. Lemke, 1954; Chvatal, Linear Programming, 1983, ch. 10)
    from the lowest plane and the walls that its slope leads to: what is most violated comes in, what first loses its
    hold goes out. None where it finds no end, which rounding could bring about.
    """
    n, k = slopes.shape
    walls = np.hstack([np.vstack([np.eye(k), -np.eye(k)]), np.zeros((2 * k, 1))])
    rows = np.concatenate([np.hstack([slopes, np.ones((n, 1))]), walls])
    ends = np.concatenate([heights, np.full(2 * k, step)])
    up = np.append(np.zeros(k), 1.0)
    lowest = int(np.argmin(heights))
    held = np.append(n + np.arange(k) + k * (slopes[lowest] > 0), lowest)
    for _ in range(_PIVOTS):
        at: Floats = np.linalg.solve(rows[held], ends[held])
        room = ends - rows @ at
        short = int(np.argmin(room))
        if room[short] >= -_TIGHT:
            return at
        holds = np.linalg.solve(rows[held].T, np.stack([up, rows[short]], axis=1))
        share = np.full(k + 1, np.inf)
        np.divide(holds[:, 0], holds[:, 1], out=share, where=holds[:, 1] > _TIGHT)
        if not np.isfinite(share.min()):
            return None
        held[np.argmin(share)] = short
    return None


def _nearest(points: Floats, point: Floats, axis: Floats, within: float) -> Ints:
    """The nearest point in each of 96 sectors and 16 stretches along the axis, of those nearer than ``within``."""
    far, away, along = distances(points, point, axis)
    near = np.flatnonzero(far < min(within, float(far.min()) * 1.6 + 1e-12))
    if not len(near):
        return near
    flat = away[near] @ _frame(axis).T
    sector = ((np.arctan2(flat[:, 1], flat[:, 0]) + np.pi) * (96 / (2.0 * np.pi))).astype(np.int64) % 96
    reach = along[near]
    low, high = float(reach.min()), float(reach.max())
    key = sector * 16 + np.minimum(((reach - low) / max(high - low, 1e-12) * 16).astype(np.int64), 15)
    order = np.lexsort((near, far[near], key))
    first = np.unique(key[order], return_index=True)[1]
    return near[order][first]


def _revolution(mesh: Mesh, points: Floats, axis: Floats, point: Floats, radius: float) -> tuple[Floats, Floats, float]:
    """The axis that the normals of the inner faces meet, if it keeps the radius; else the line as it is."""
    near = distances(mesh.vertices_mm, point, axis)[0] < radius * NEAR
    wall = solids.part(mesh, np.flatnonzero(near[mesh.faces].any(axis=1)))
    centres = wall.corners_mm.mean(axis=1)
    vectors = solids.face_vectors(wall)
    lengths = np.linalg.norm(vectors, axis=1)
    away = distances(centres, point, axis)[1]
    inner = (np.abs(np.einsum("ij,ij->i", vectors, away)) > 0.5 * lengths) & (lengths > 0)
    if np.count_nonzero(inner) < 12:
        return axis, point, radius
    normals, size = vectors[inner] / lengths[inner, None], lengths[inner]
    lines = np.concatenate([np.cross(centres[inner] - point, normals), normals], axis=1)
    weight = size
    for _ in range(3):
        direction, moment = _complex(lines, weight)
        miss = np.abs(lines @ np.concatenate([direction, moment]))
        weight = size / (1.0 + (miss / max(3.0 * float(np.median(miss)), 1e-9)) ** 2)
    if direction @ axis < 0:
        direction, moment = -direction, -moment
    if float(direction @ axis) < np.cos(np.radians(10.0)):
        return axis, point, radius
    through = point + np.cross(direction, moment)
    _, there, other = _clear(points, direction, through, tilt=False)
    if other >= radius * (1.0 - 2e-6):
        return direction, there, other
    if other >= radius * (1.0 - 2e-4) and float(direction @ axis) < np.cos(np.radians(0.1)):
        return direction, there, radius  # the tilt gained next to nothing: it is that of the surface's roughness
    return axis, point, radius


def _complex(lines: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """The axis (direction, moment) that lines (moment, direction) meet best: least sum of squared moments."""
    matrix = (lines * weight[:, None]).T @ lines
    a, b, d = matrix[:3, :3], matrix[:3, 3:], matrix[3:, 3:]
    inverse = np.linalg.pinv(d, rcond=1e-9, hermitian=True)
    direction: Floats = np.linalg.eigh(a - b @ inverse @ b.T)[1][:, 0]
    moment: Floats = -inverse @ b.T @ direction
    return direction, moment - (moment @ direction) * direction


def _edges(mesh: Mesh, axis: Floats, point: Floats, radius: float) -> tuple[float, Floats]:
    """How near the nearest edge comes (``radius`` if none comes nearer), and the nearest points of those edges that
    do and are no chords of the hole."""
    flat = (mesh.vertices_mm - point) @ _frame(axis).T
    far = np.hypot(flat[:, 0], flat[:, 1])
    edges = solids.half_edges(mesh.faces)
    span = flat[edges[:, 1]] - flat[edges[:, 0]]
    ends = far[edges[:, 0]] + far[edges[:, 1]]
    # A point of an edge is never nearer than half of what its ends are farther away than the edge is long.
    edges = edges[ends - np.hypot(span[:, 0], span[:, 1]) < 2.0 * radius]
    a, b = flat[edges[:, 0]], flat[edges[:, 1]]
    span = b - a
    length2 = np.einsum("ij,ij->i", span, span)
    share = np.clip(-np.einsum("ij,ij->i", a, span) / np.where(length2 > 0, length2, 1.0), 0.0, 1.0)
    near = np.linalg.norm(a + share[:, None] * span, axis=1)
    inside = np.flatnonzero(near < radius * (1.0 - 1e-6))
    if not len(inside):
        return radius, np.empty((0, 3))
    ra, rb = far[edges[inside, 0]], far[edges[inside, 1]]
    cosine = np.einsum("ij,ij->i", a[inside], b[inside]) / np.maximum(ra * rb, 1e-300)
    bars = inside[(cosine <= np.cos(CHORD_RAD)) | (np.maximum(ra, rb) >= radius * NEAR)]
    corners = mesh.vertices_mm[edges[bars]]
    return float(near.min()), corners[:, 0] + share[bars, None] * (corners[:, 1] - corners[:, 0])


def _pierced(mesh: Mesh, axis: Floats, point: Floats) -> bool:
    """Whether the line passes through a face."""
    flat = ((mesh.vertices_mm - point) @ _frame(axis).T)[mesh.faces]
    turn = flat[:, :, 0] * np.roll(flat[:, :, 1], -1, axis=1) - flat[:, :, 1] * np.roll(flat[:, :, 0], -1, axis=1)
    return bool(np.any(np.all(turn > 0, axis=1) | np.all(turn < 0, axis=1)))


def _walled(mesh: Mesh, axis: Floats, point: Floats, radius: float) -> tuple[float, float]:
    """The share of the turn with surface within :data:`NEAR` radii, and the share with surface at any distance."""
    points = np.concatenate([solids.spread_points(mesh, POINTS), mesh.vertices_mm])
    far, away, _ = distances(points, point, axis)
    flat = away @ _frame(axis).T
    sector = ((np.arctan2(flat[:, 1], flat[:, 0]) + np.pi) * (72 / (2.0 * np.pi))).astype(np.int64) % 72
    near = len(np.unique(sector[far < radius * NEAR])) / 72
    return near, len(np.unique(sector)) / 72
