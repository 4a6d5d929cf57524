"""The ten-node isoparametric tetrahedron: gradients of its shape functions, and stress.

Corners first, then the middles of the edges (0 1, 0 2, 0 3, 1 2, 1 3, 2 3); all over the elements of a mesh at once,
element by element along the last axis, so that each step is one long array.
The four-point rule is exact for quadratics (O. C. Zienkiewicz, R. L. Taylor, "The Finite Element Method"); its points
are also where the stress is most accurate (J. Barlow, "Optimal stress locations in finite element models", 1976).
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


def _shapes(at: Floats) -> Floats:
    """(10,) the shape functions at barycentric ``at`` (4,)."""
    a, b = EDGE_PAIRS.T
    return np.concatenate([at * (2.0 * at - 1.0), 4.0 * at[a] * at[b]])


def _slopes(at: Floats) -> Floats:
    """(10, 3) derivatives of the shape functions by the barycentric coordinates 1, 2, 3 at barycentric ``at`` (4,)."""
    by = np.concatenate([-np.ones((1, 3)), np.eye(3)])
    corner = (4.0 * at - 1.0)[:, None] * by
    a, b = EDGE_PAIRS.T
    edge = 4.0 * (by[a] * at[b][:, None] + at[a][:, None] * by[b])
    return np.concatenate([corner, edge])


def _nodes(values: Floats, cells: Ints) -> Floats:
    """(c, 10, m) from (n, c) at the nodes."""
    return np.ascontiguousarray(values.T)[:, cells.T]


def _jacobian(x: Floats, slopes: Floats) -> tuple[Floats, Floats]:
    """(3, 3, m) how space (first axis) goes with the barycentric coordinates (second), and its determinant (m,)."""
    j = slopes.T @ x
    det = (
        j[0, 0] * (j[1, 1] * j[2, 2] - j[1, 2] * j[2, 1])
        - j[0, 1] * (j[1, 0] * j[2, 2] - j[1, 2] * j[2, 0])
        + j[0, 2] * (j[1, 0] * j[2, 1] - j[1, 1] * j[2, 0])
    )
    return j, det


def _gradients(x: Floats, at: Floats) -> tuple[Floats, Floats]:
    """Gradients in space (3, 10, m) and Jacobians (m,) of the elements with nodes ``x`` (3, 10, m)."""
    return _of_slopes(x, _slopes(at))


def _of_slopes(x: Floats, slopes: Floats) -> tuple[Floats, Floats]:
    """The same of elements with nodes ``x`` (3, c, m) and slopes (c, 3)."""
    j, det = _jacobian(x, slopes)
    over = 1.0 / np.where(np.abs(det) > 1e-300, det, 1.0)
    inverse = np.empty_like(j)
    for k in range(3):
        for r in range(3):
            k1, k2, r1, r2 = (k + 1) % 3, (k + 2) % 3, (r + 1) % 3, (r + 2) % 3
            inverse[r, k] = (j[r1, k1] * j[r2, k2] - j[r1, k2] * j[r2, k1]) * over
    return slopes @ inverse, det


def least_jacobians(points: Floats, cells: Ints) -> Floats:
    """(m,) the least Jacobian of each element at its integration points and corners."""
    x = _nodes(points, cells)
    found = [_jacobian(x, _slopes(at))[1] for at in (*_POINTS, *_CORNERS)]
    return cast(Floats, np.min(found, axis=0))


def volumes(points: Floats, cells: Ints) -> Floats:
    """(m,) the volume of each element, curved as it is."""
    x = _nodes(points, cells)
    return cast(Floats, np.sum([_jacobian(x, _slopes(at))[1] for at in _POINTS], axis=0) / 24.0)


def at_points(points: Floats, cells: Ints) -> tuple[Floats, Floats]:
    """Gradients (m, 4, 10, 3) and weights (m, 4) of the elements at their integration points."""
    x = _nodes(points, cells)
    found = [_gradients(x, at) for at in _POINTS]
    gradients = np.empty((len(cells), 4, 10, 3))
    for q, (g, _) in enumerate(found):
        gradients[:, q] = g.transpose(2, 1, 0)
    return gradients, np.stack([det for _, det in found], axis=1) / 24.0


def straight(points: Floats, cells: Ints) -> tuple[Floats, Floats]:
    """Gradients (m, 1, 4, 3) and weights (m, 1) of the linear elements on the same corners."""
    x = _nodes(points, cells[:, :4])
    slopes = np.concatenate([-np.ones((1, 3)), np.eye(3)])
    g, det = _of_slopes(x, slopes)
    return np.ascontiguousarray(g.transpose(2, 1, 0))[:, None], det[:, None] / 6.0


def stress_inside(
    points: Floats, cells: Ints, moved: Floats, lame: float, shear: float
) -> tuple[Floats, Floats, Floats]:
    """The integration points (4 m, 3), the volume of each (4 m,), and the stress there (4 m, 6, k).

    Stress as xx yy zz xy yz zx; ``moved`` (n, 3, k) are the displacements of k load cases.
    """
    cases, m = moved.shape[2], len(cells)
    x = _nodes(points, cells)
    u = _nodes(moved.reshape(len(moved), 3 * cases), cells)
    places, volumes, stress = np.empty((4, m, 3)), np.empty((4, m)), np.empty((4, m, 6, cases))
    for q, at in enumerate(_POINTS):
        g, det = _gradients(x, at)
        h = np.einsum("iam,ram->irm", u, g).reshape(3, cases, 3, m)
        trace = lame * (h[0, :, 0] + h[1, :, 1] + h[2, :, 2])
        for part, (i, r) in enumerate(((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (2, 0))):
            value = shear * (h[i, :, r] + h[r, :, i])
            stress[q, :, part] = (value + trace if i == r else value).T
        places[q] = np.einsum("iam,a->mi", x, _shapes(at))
        volumes[q] = np.maximum(det, 0.0) / 24.0
    return places.reshape(-1, 3), volumes.ravel(), stress.reshape(4 * m, 6, cases)
