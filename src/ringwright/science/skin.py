"""A surface as patches of about even size, however large or small its triangles are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.terms.body import Floats, Mesh

# A triangle is halved while an edge of it is this many patches long.
_LONG = 1.5
_FAR = 4096


@dataclass(frozen=True, eq=False)
class Patches:
    """``points_mm`` (p, 3) the middle of each patch, its area (p,) and the way outward (p, 3)."""

    points_mm: Floats
    area_mm2: Floats
    outward: Floats

    def where(self, chosen: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Patches:
        """Some of the patches."""
        return Patches(self.points_mm[chosen], self.area_mm2[chosen], self.outward[chosen])


def patches(mesh: Mesh, size_mm: float) -> Patches:
    """The surface of a closed mesh in patches of about ``size_mm``: what lies in a cube and faces one way."""
    corners = _halved(mesh.corners_mm, _LONG * size_mm)
    normal = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return _gathered(corners.mean(axis=1), np.linalg.norm(normal, axis=1), normal, size_mm)


def coarser(fine: Patches, size_mm: float) -> Patches:
    """The same surface in larger patches."""
    return _gathered(fine.points_mm, fine.area_mm2, fine.outward * fine.area_mm2[:, None], size_mm)


def _halved(corners: Floats, longest_mm: float) -> Floats:
    """Triangles (m, 3, 3), halved across their longest edge until none is longer."""
    done = []
    while len(corners):
        edge = np.linalg.norm(corners[:, [1, 2, 0]] - corners, axis=2)
        far = edge.max(axis=1) > longest_mm
        done.append(corners[~far])
        corners, first = corners[far], edge[far].argmax(axis=1)
        each = np.arange(len(corners))
        a, b, c = (corners[each, (first + k) % 3] for k in range(3))
        middle = (a + b) / 2.0
        corners = np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
    return np.concatenate(done)


def _gathered(points: Floats, area: Floats, normal: Floats, size_mm: float) -> Patches:
    cube = np.floor(points / size_mm).astype(np.int64) + _FAR
    axis = np.abs(normal).argmax(axis=1)
    side = 2 * axis + (normal[np.arange(len(normal)), axis] > 0)
    key = ((cube[:, 0] * 2 * _FAR + cube[:, 1]) * 2 * _FAR + cube[:, 2]) * 6 + side
    _, mine = np.unique(key, return_inverse=True)
    total = np.maximum(np.bincount(mine, area), 1e-300)
    middle = np.stack([np.bincount(mine, area * points[:, i]) for i in range(3)], axis=1) / total[:, None]
    way = np.stack([np.bincount(mine, normal[:, i]) for i in range(3)], axis=1).astype(float)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-300)
    some = total > 1e-9
    return Patches(middle[some], total[some], way[some])
