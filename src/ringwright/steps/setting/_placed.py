"""A stone in its place, and the turns between its own frame and the ring's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.terms.body import Floats, Mesh
from ringwright.terms.commission import SeatBrief, StoneBrief
from ringwright.terms.gems import CutSolid, Gem
from ringwright.terms.piece import seat_axes
from ringwright.terms.remark import Point
from ringwright.terms.setting import Seated

Stone = tuple[StoneBrief, Gem, CutSolid]


@dataclass(frozen=True, eq=False)
class Placed:
    """A stone and its pose in the ring's frame: ``ring = axes @ own + at``. ``fit_mm`` is how far a drawn one
    differs."""

    brief: StoneBrief
    gem: Gem
    solid: CutSolid
    seated: Seated
    axes: Floats
    at: Floats
    fit_mm: float = 0.0

    @property
    def mesh(self) -> Mesh:
        """The stone in the ring's frame."""
        return self.solid.mesh.moved(self.axes, self.at)

    def to_ring(self, own: Floats) -> Floats:
        """Points (…, 3) of the stone's frame, in the ring's."""
        moved: Floats = np.asarray(own, dtype=np.float64) @ self.axes.T + self.at
        return moved

    def to_own(self, ring: Floats) -> Floats:
        """Points (…, 3) of the ring's frame, in the stone's."""
        moved: Floats = (np.asarray(ring, dtype=np.float64) - self.at) @ self.axes
        return moved

    @property
    def turn_deg(self) -> float:
        """The turn about the facing direction that a seat of this pose has."""
        still = seat_axes(SeatBrief(at_mm=(0.0, 0.0, 0.0), facing=point(self.axes[:, 2])))
        return float(np.degrees(np.arctan2(self.axes[:, 0] @ still[:, 1], self.axes[:, 0] @ still[:, 0])))


def point(vector: Floats) -> Point:
    """Three numbers as a point."""
    return float(vector[0]), float(vector[1]), float(vector[2])


def outline_normals(outline: Floats) -> Floats:
    """The outward normal (n, 2) at each point of a counter-clockwise outline; radial where the outline is a circle."""
    radius = np.linalg.norm(outline, axis=1)
    if np.ptp(radius) < 0.01 * float(radius.mean()):
        radial: Floats = outline / radius[:, None]
        return radial
    along = np.roll(outline, -1, axis=0) - np.roll(outline, 1, axis=0)
    out = np.stack([along[:, 1], -along[:, 0]], axis=1)
    normals: Floats = out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-12)
    return normals


def resampled(outline: Floats, count: int) -> Floats:
    """``count`` points evenly along a closed outline, from its first."""
    closed = np.vstack([outline, outline[:1]])
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = way[-1] * np.arange(count) / count
    return np.stack([np.interp(at, way, closed[:, 0]), np.interp(at, way, closed[:, 1])], axis=1)


def crown_deg(solid: CutSolid) -> float:
    """The slope of the crown from the girdle to the table (of a dome: to its top), mean over the width."""
    half = float(np.ptp(solid.outline_mm[:, 1])) / 2
    table = float(np.ptp(solid.table_mm[:, 1])) / 2 if len(solid.table_mm) else 0.0
    return float(np.degrees(np.arctan2(solid.crown_height_mm, max(half - table, 1e-6))))


def pavilion_deg(solid: CutSolid) -> float:
    """The slope of the pavilion from the girdle to the culet, mean over the width; 0 for a flat base."""
    half = float(np.ptp(solid.outline_mm[:, 1])) / 2
    return float(np.degrees(np.arctan2(solid.pavilion_depth_mm, half)))
