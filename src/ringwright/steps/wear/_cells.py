"""The metal as curved tetrahedra, smaller where it is thinner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.science.elastic import Quadratic
from ringwright.science.tetra import SignedDistance
from ringwright.terms.body import Floats
from ringwright.terms.piece import Piece

_GRID_MM = 0.15
_ROUGH_MM = 0.4
# How much smaller cells may become from one end of the ring to the other, and what counts as an end.
_MOST = 2.0
_END = 0.3
_POWER = 1.5
# How much of the metal a mesh may lose where it is too thin for its cells, and how often smaller ones are tried.
_LOST = 0.025
_TRIES = 3


@dataclass(frozen=True)
class _Grading:
    """Space stretched evenly in all directions by 1 at ``low_mm`` of y to ``ratio`` at ``low_mm + span_mm``.

    A lattice of even cells laid over the stretched ring has smaller ones, ``ratio`` times, where the stretch is more.
    """

    low_mm: float
    span_mm: float
    ratio: float

    def scale(self, y: Floats) -> Floats:
        """How much the place is stretched."""
        share = np.clip((y - self.low_mm) / self.span_mm, -0.2, 1.2)
        return np.asarray(1.0 + (self.ratio - 1.0) * share)

    def stretched(self, points: Floats) -> Floats:
        """From the ring to the lattice."""
        s = self.scale(points[:, 1])
        y = points[:, 1] - self.low_mm
        return np.column_stack([points[:, 0] * s, y * (1.0 + s) / 2.0, points[:, 2] * s])

    def back(self, points: Floats) -> Floats:
        """From the lattice to the ring: the inverse, y (1 + (ratio - 1) y / 2 span) = y', within the ends."""
        more = (self.ratio - 1.0) / (2.0 * self.span_mm)
        ends = np.array([-0.2, 1.2]) * self.span_mm
        low, high = ends * (1.0 + more * ends)
        inner = np.clip(points[:, 1], low, high)
        y = 2.0 * inner / (1.0 + np.sqrt(1.0 + 4.0 * more * inner))
        beyond = points[:, 1] - inner
        y = y + beyond / np.where(beyond > 0, 1.0 + more * ends[1], 1.0 + more * ends[0])
        s = self.scale(y + self.low_mm)
        return np.column_stack([points[:, 0] / s, y + self.low_mm, points[:, 2] / s])


def signed_distance(piece: Piece) -> SignedDistance:
    """The metal's signed distance (positive inside) as a function of points, from a fine grid."""
    from scipy.ndimage import map_coordinates

    from ringwright.science.distance import signed
    from ringwright.science.voxels import fill

    grid = fill(piece.metal, _GRID_MM, margin_cells=7)
    values = -signed(piece.metal, grid, reach_mm=0.45)
    origin = np.asarray(grid.origin_mm)

    def distance(points: Floats) -> Floats:
        at = (points - origin) / _GRID_MM - 0.5
        out: Floats = map_coordinates(values, at.T, order=1, mode="nearest").astype(np.float64)
        return out

    return distance


def whole(piece: Piece, distance: SignedDistance, cells: int) -> Quadratic:
    """The whole ring as about so many cells, or as many more as it takes to keep its thin parts."""
    from ringwright.science import solids, tetra10

    metal = piece.metal.vertices_mm
    volume = solids.volume(piece.metal)
    for _ in range(_TRIES):
        mesh = filled(metal.min(axis=0), metal.max(axis=0), distance, cells)
        if tetra10.volumes(mesh.points_mm, mesh.cells).sum() > (1.0 - _LOST) * volume:
            break
        cells = round(1.25 * cells)
    return mesh


def filled(low: Floats, high: Floats, distance: SignedDistance, cells: int, *, even: bool = False) -> Quadratic:
    """Curved tetrahedra of about that number inside of ``distance`` and a box.

    Unless ``even``, they are smaller toward head or bottom, whichever is the thinner: cells too large for a claw would
    lose it, and cells as small as it takes would be wasted on a thick shank.
    """
    from ringwright.science.elastic import quadratic
    from ringwright.science.tetra import Tets, fill, largest_part

    axes = [np.arange(a, b, _ROUGH_MM) for a, b in zip(low, high, strict=True)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    depth = distance(points)
    inside, depth = points[depth > 0], depth[depth > 0]
    grading = _Grading(0.0, 1.0, 1.0) if even else _graded(inside[:, 1], depth)
    size_mm3 = max(float((grading.scale(inside[:, 1]) ** 3).sum()) * _ROUGH_MM**3, 1.0)
    # A body-centred lattice has twelve tetrahedra for each cube of its edge.
    edge = float((12.0 * size_mm3 / cells) ** (1 / 3))
    reach = np.array([_ROUGH_MM, _ROUGH_MM, _ROUGH_MM]) * max(1.0, grading.ratio) * 1.2
    lattice = grading.stretched(inside)
    tets = fill(lambda p: distance(grading.back(p)), lattice.min(axis=0) - reach, lattice.max(axis=0) + reach, edge)
    return quadratic(largest_part(Tets(grading.back(tets.points_mm), tets.cells, tets.skin)), distance)


def _graded(y: Floats, depth: Floats) -> _Grading:
    """The ratio of how thick the metal is at both ends, by its mean depth, and somewhat more: means hide thin parts."""
    if not len(y):
        return _Grading(0.0, 1.0, 1.0)
    low, span = float(y.min()), max(float(np.ptp(y)), 1.0)
    bottom, top = depth[y < low + _END * span].mean(), depth[y > low + (1.0 - _END) * span].mean()
    return _Grading(low, span, float(np.clip((bottom / top) ** _POWER, 1.0 / _MOST, _MOST)))
