"""A stone's pose found from the metal: its girdle fitted to the seat that claws, walls and bearings offer.

Poses all round the finger are scored by what they have of a setting: metal along the girdle that goes on above it, none
in the pavilion, none over the table. The best are then settled: the girdle centred between what holds it, a claw
bitten by
a quarter of its thickness, a stone in a wall lowered until its pavilion lies on the bearing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ringwright.steps.setting._placed import Placed, Stone, outline_normals, resampled
from ringwright.steps.setting._pose import turned
from ringwright.terms.body import Floats, Ints
from ringwright.terms.commission import SeatBrief
from ringwright.terms.gems import CutSolid
from ringwright.terms.piece import Piece, seat_axes
from ringwright.terms.setting import Seated

# How the search weighs what it sees; no figures of the trade: they say only what counts as near, in mm.
_CELL_MM = 0.15
_NEAR_MM = 0.22
_EASY_MM = 0.2
_SUNK_MM = 0.06
_TALL_MM = 1.4
_OUTWARD_MM = (0.1, 0.6, 1.1)
_UPRIGHT = 0.1
_TIP_NEAR_MM = 0.35
_BITE = 0.25
_LEAST_SCORE = 0.045


@dataclass(frozen=True, eq=False)
class _Field:
    """The signed distance to the metal, read between cells."""

    origin: Floats
    h: float
    values: Floats

    def at(self, points: Floats) -> Floats:
        """The distance at points (…, 3), negative in the metal; far outside where the field ends."""
        from scipy.ndimage import map_coordinates

        flat = ((points.reshape(-1, 3) - self.origin) / self.h - 0.5).T
        read: Floats = map_coordinates(self.values, flat, order=1, mode="constant", cval=2.0)
        return read.reshape(points.shape[:-1])


@dataclass(frozen=True, eq=False)
class _Probe:
    """Points of a stone in its own frame: girdle, the same above and outside, pavilion, and over the table."""

    girdle: Floats
    normals: Floats
    above: Floats
    pavilion: Floats
    over: Floats
    tall: Floats
    tips: Floats


def search(piece: Piece, stone: Stone, taken: Sequence[Placed]) -> Placed | None:
    """The stone where the metal offers a seat for it, or None where it offers none."""
    solid = stone[2]
    field = _field(piece)
    coarse, fine = _probe(solid, 32), _probe(solid, 96)
    best: tuple[float, Floats, Floats] | None = None
    for axes, at in _candidates(piece, solid, field, coarse, taken):
        axes_, at_ = _settled(field, fine, solid, axes, at)
        score = float(_score(field, fine, axes_[None], at_[None])[0])
        as_seen = float(_score(field, fine, axes[None], at[None])[0])
        if score < 0.5 * as_seen:  # settling slid off the seat: the place as first seen is the better one
            score, axes_, at_ = as_seen, axes, at
        if best is None or score > best[0]:
            best = score, axes_, at_
    if best is None or best[0] < _LEAST_SCORE:
        return None
    return Placed(*stone, Seated.FOUND, best[1], best[2])


def _field(piece: Piece) -> _Field:
    from ringwright.science.distance import signed
    from ringwright.science.voxels import fill

    grid = fill(piece.metal, _CELL_MM, 8)
    values = np.clip(signed(piece.metal, grid, 1.0), -2.0, 2.0)
    return _Field(np.array(grid.origin_mm), grid.h_mm, np.asarray(values, dtype=np.float32))


def _probe(solid: CutSolid, count: int) -> _Probe:
    outline = resampled(solid.outline_mm, count)
    normals = outline_normals(outline)
    flat = np.zeros(count)
    rise = float(solid.girdle_top_mm.mean()) + 0.25 * solid.crown_height_mm
    below = []
    for share in (0.0, 0.1, 0.3, 0.6):
        z = float(solid.girdle_bottom_mm.mean()) - share * solid.pavilion_depth_mm
        below.append(np.column_stack([outline[::2] * (1 - share) * 0.98, np.full(len(outline[::2]), z)]))
    table = np.column_stack([outline[::4] * 0.5, np.full(len(outline[::4]), solid.table_z_mm + 0.3)])
    return _Probe(
        np.column_stack([outline, flat]),
        np.column_stack([normals, flat]),
        np.column_stack([outline + 0.15 * normals, np.full(count, rise)]),
        np.concatenate(below),
        np.concatenate([table, table + np.array([0.0, 0.0, 1.2])]),
        np.concatenate(
            [
                np.column_stack([outline + out * normals, np.full(count, solid.table_z_mm + _TALL_MM)])
                for out in _OUTWARD_MM
            ]
        ),
        np.column_stack([outline + 0.15 * normals, np.full(count, solid.table_z_mm)]),
    )


def _score(field: _Field, probe: _Probe, axes: Floats, at: Floats) -> Floats:
    """How much of a setting each pose (k) has: the held share of the girdle, less what is in the way."""

    def seen(points: Floats) -> Floats:
        return field.at(points @ axes.transpose(0, 2, 1) + at[:, None, :])

    girdle, above = seen(probe.girdle), seen(probe.above)
    tall = seen(probe.tall).reshape(len(at), len(_OUTWARD_MM), -1).min(axis=1)
    off = np.where(girdle > 0, girdle, np.minimum(girdle + _EASY_MM, 0.0))
    held = np.exp(-((off / _NEAR_MM) ** 2)) * (above < 0.2) * np.where(tall < 0.3, 0.1, 1.0)
    held *= np.where(seen(probe.tips) < _TIP_NEAR_MM, 1.0, 0.8)
    outward = np.einsum("kn,nj->kj", held, probe.normals) / np.maximum(held.sum(axis=1, keepdims=True), 1e-9)
    lopsided = np.linalg.norm(outward, axis=1)
    in_way = np.clip(-seen(probe.pavilion) - 0.03, 0, None).mean(axis=1) + np.clip(-girdle - 0.5, 0, None).mean(axis=1)
    sunk = np.clip(np.clip(-girdle, 0, None).mean(axis=1) - _SUNK_MM, 0, None)
    hidden = (seen(probe.over) < 0).mean(axis=1)
    towers = np.where((tall < 0.2).mean(axis=1) > 0.05, 0.2, 1.0)
    score: Floats = towers * held.mean(axis=1) * np.clip(1.0 - lopsided, 0.0, 1.0) ** 2 - 6.0 * (in_way + sunk) - hidden
    return score


def _candidates(
    piece: Piece, solid: CutSolid, field: _Field, probe: _Probe, taken: Sequence[Placed]
) -> list[tuple[Floats, Floats]]:
    """The best poses of a coarse round about the finger, far enough from each other and from the stones that are
    placed."""
    points = piece.metal.vertices_mm
    inner = piece.hole.diameter_mm / 2
    low = inner - min(0.0, solid.culet_z_mm)
    high = float(np.hypot(points[:, 0], points[:, 1]).max()) + 0.2
    half = max(0.0, float(np.abs(points[:, 2]).max()) - 0.3 * float(np.ptp(solid.outline_mm[:, 1])))
    along = np.arange(-np.floor(half / 0.5), np.floor(half / 0.5) + 1) * 0.5
    heights = np.arange(low, high, 0.2)
    if not len(heights):
        return []
    around = np.radians(np.arange(0.0, 360.0, 6.0))
    length, width = np.ptp(solid.outline_mm, axis=0)
    turns: tuple[float, ...] = (0.0,) if _is_round(solid) else (0.0, 45.0) if length < 1.05 * width else (0.0, 90.0)
    if not _is_round(solid) and len(solid.corners) == 1:
        turns = (0.0, 90.0, 180.0, 270.0)
    found: list[tuple[float, Floats, Floats]] = []
    for angle in around:
        out = np.array([np.cos(angle), np.sin(angle), 0.0])
        spots = np.array([h * out + [0, 0, z] for h in heights for z in along])
        for turn in turns:
            axes = seat_axes(SeatBrief(at_mm=(0, 0, 0), facing=(out[0], out[1], 0.0), turn_deg=turn))
            scores = _score(field, probe, np.broadcast_to(axes, (len(spots), 3, 3)), spots)
            for n in np.argsort(-scores)[:3]:
                found.append((float(scores[n]), axes, spots[n]))
    reach = max(length, width) / 2
    free: list[tuple[Floats, Floats]] = []
    for score, axes, at in sorted(found, key=lambda f: -f[0]):
        if score <= 0 or len(free) == 4:
            break
        clear = all(
            np.linalg.norm(at - other.at) > 0.85 * (reach + np.ptp(other.solid.outline_mm, axis=0).min() / 2)
            for other in taken
        )
        if clear and all(np.linalg.norm(at - there) > 0.5 or not np.allclose(axes, a) for a, there in free):
            free.append((axes, at))
    return free


def _is_round(solid: CutSolid) -> bool:
    radius = np.linalg.norm(solid.outline_mm, axis=1)
    return bool(np.ptp(radius) < 0.01 * radius.mean())


def _settled(field: _Field, probe: _Probe, solid: CutSolid, axes: Floats, at: Floats) -> tuple[Floats, Floats]:
    """The pose at rest near the given one."""
    from scipy.optimize import minimize

    turns = not _is_round(solid)
    offsets = np.arange(-0.6, 2.0, 0.1)
    for _ in range(2):
        seen = field.at(probe.girdle @ axes.T + at)
        above = field.at(probe.above @ axes.T + at)
        near = np.flatnonzero((seen < 0.45) & (seen > -0.8) & (above < 0.3))
        if len(near) < 6:
            return axes, at
        wall = len(near) > 0.5 * len(seen)
        rays = probe.girdle[near][:, None, :] + offsets[None, :, None] * probe.normals[near][:, None, :]
        inside = field.at(rays @ axes.T + at) < 0
        thick = (
            float(np.median(np.max(inside.sum(axis=1)[inside.any(axis=1)], initial=0)) * 0.1) if inside.any() else 0.0
        )
        bite = -_BITE * thick
        rest = _Rest(field, probe, near, axes, at, wall, bite, turns)
        simplex = np.vstack([np.zeros(6), np.diag([0.15, 0.15, 0.2, 0.03, 0.03, 0.05])])
        minimise: Any = minimize
        options = {"maxfev": 350, "xatol": 2e-3, "fatol": 1e-7, "initial_simplex": simplex}
        axes, at = rest.pose(minimise(rest.cost, np.zeros(6), method="Nelder-Mead", options=options).x)
    return axes, at


@dataclass(frozen=True, eq=False)
class _Rest:
    """How far a stone is from rest: six numbers (shift and turn in its own frame) from a start, over the points
    ``near``
    to what holds it. In a wall it sinks until its pavilion lies on metal; claws end at its table and are bitten by
    ``bite``; either way its girdle lies evenly between them."""

    field: _Field
    probe: _Probe
    near: Ints
    axes: Floats
    at: Floats
    wall: bool
    bite: float
    turns: bool

    def pose(self, x: Floats) -> tuple[Floats, Floats]:
        """The pose of these six numbers."""
        return self.axes @ turned(np.array([x[3], x[4], x[5] if self.turns else 0.0])), self.at + self.axes @ x[:3]

    def cost(self, x: Floats) -> float:
        """Zero where it lies evenly, as deep as it should, on nothing that it enters."""
        axes, at = self.pose(x)
        under = self.probe.pavilion if self.wall else self.probe.pavilion[len(self.probe.pavilion) // 2 :]
        own = [self.probe.girdle[self.near], under] + ([] if self.wall else [self.probe.tips[self.near]])
        seen = self.field.at(np.concatenate(own) @ axes.T + at)
        d, into = seen[: len(self.near)], seen[len(self.near) : len(self.near) + len(under)]
        sunk = np.clip(-into - 0.01, 0, None)
        if self.wall:
            rest = 0.03 * float(x[2])
        else:
            deepest = float(np.sort(d)[: max(1, len(d) // 5)].mean())
            tips = seen[len(self.near) + len(under) :]
            rest = (deepest - self.bite) ** 2 + 0.02 * float((tips**2).mean())
        rest += _UPRIGHT * float(x[3] ** 2 + x[4] ** 2)
        return float(3.0 * d.var() + rest + 20.0 * (sunk**2).mean())
