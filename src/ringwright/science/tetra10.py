"""The ten-node isoparametric tetrahedron: gradients of its shape functions, and stress.

Corners first, then the middles of the edges (0 1, 0 2, 0 3, 1 2, 1 3, 2 3); all over the elements of a mesh at once.
The four-point rule is exact for quadratics (O. C. Zienkiewicz, R. L. Taylor, "The Finite Element Method").
"""

from __future__ import annotations

from typing import cast

import numpy as np

from ringwright.terms.body import Floats, Ints

EDGE_PAIRS = np.array([[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]])
_LARGE = 0.5854101966249685
_SMALL = 0.1381966011250105
_POINTS = np.full((4, 4), _SMALL) + (_LARGE - _SMALL) * np.eye(4)
_CORNERS = np.eye(4)


def _slopes(at: Floats) -> Floats:
    """(10, 3) derivatives of the shape functions by the barycentric coordinates 1, 2, 3 at barycentric ``at`` (4,)."""
    by = np.concatenate([-np.ones((1, 3)), np.eye(3)])
    corner = (4.0 * at - 1.0)[:, None] * by
    a, b = EDGE_PAIRS.T
    edge = 4.0 * (by[a] * at[b][:, None] + at[a][:, None] * by[b])
    return np.concatenate([corner, edge])


def _gradients(x: Floats, at: Floats) -> tuple[Floats, Floats]:
    """Gradients in space (m, 10, 3) and Jacobians (m,) of the elements with nodes ``x`` (m, 10, 3)."""
    slopes = _slopes(at)
    jacobian = np.einsum("eir,ik->erk", x, slopes, optimize=True)
    det = np.linalg.det(jacobian)
    safe = np.where(np.abs(det) > 1e-300, 0.0, 1.0)[:, None, None] * np.eye(3)
    return slopes @ np.linalg.inv(jacobian + safe), det


def least_jacobians(points: Floats, cells: Ints) -> Floats:
    """(m,) the least Jacobian of each element at its integration points and corners."""
    x = points[cells]
    found = [_gradients(x, at)[1] for at in (*_POINTS, *_CORNERS)]
    return cast(Floats, np.min(found, axis=0))


def at_points(points: Floats, cells: Ints) -> tuple[Floats, Floats]:
    """Gradients (m, 4, 10, 3) and weights (m, 4) of the elements at their integration points."""
    x = points[cells]
    found = [_gradients(x, at) for at in _POINTS]
    return np.stack([g for g, _ in found], axis=1), np.stack([det for _, det in found], axis=1) / 24.0


def corner_stress(points: Floats, cells: Ints, moved: Floats, corners: int, lame: float, shear: float) -> Floats:
    """(corners, 6, k) stress at the corner nodes (xx yy zz xy yz zx), the mean of the elements about each.

    ``moved`` (n, 3, k) are the displacements of k load cases.
    """
    cases = moved.shape[2]
    total, hits = np.zeros((corners, 6 * cases)), np.zeros(corners)
    x = points[cells]
    u = moved[cells].transpose(0, 2, 3, 1).reshape(len(cells), 3 * cases, 10)
    for node, at in enumerate(_CORNERS):
        g, det = _gradients(x, at)
        h = (u @ g).reshape(len(cells), 3, cases, 3)
        trace = lame * (h[:, 0, :, 0] + h[:, 1, :, 1] + h[:, 2, :, 2])
        stress = np.stack(
            [
                trace + 2.0 * shear * h[:, 0, :, 0],
                trace + 2.0 * shear * h[:, 1, :, 1],
                trace + 2.0 * shear * h[:, 2, :, 2],
                shear * (h[:, 0, :, 1] + h[:, 1, :, 0]),
                shear * (h[:, 1, :, 2] + h[:, 2, :, 1]),
                shear * (h[:, 2, :, 0] + h[:, 0, :, 2]),
            ],
            axis=1,
        ).reshape(len(cells), -1)
        good = det > 0
        which = cells[good, node]
        hits += np.bincount(which, minlength=corners)
        for part in range(6 * cases):
            total[:, part] += np.bincount(which, stress[good, part], corners)
    return (total / np.maximum(hits, 1.0)[:, None]).reshape(corners, 6, cases)
