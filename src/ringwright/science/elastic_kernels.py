"""Compiled kernels of :mod:`ringwright.science.elastic`."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from ringwright.terms.body import Floats, Ints

# Four-point rule, exact for quadratics: one barycentric coordinate large, three small.
_LARGE = 0.5854101966249685
_SMALL = 0.1381966011250105
# Mid-edge nodes stand behind the corners, in this order of corner pairs.
EDGE_PAIRS = np.array([[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]])
_PAIRS = EDGE_PAIRS


@njit(cache=True, inline="always")
def _slopes(l0: float, l1: float, l2: float, l3: float, d: Floats) -> None:
    """Derivatives (10, 3) of the quadratic shape functions by the barycentric coordinates 1, 2, 3."""
    bary = (l0, l1, l2, l3)
    for i in range(10):
        for k in range(3):
            d[i, k] = 0.0
    for k in range(3):
        d[0, k] = -(4.0 * l0 - 1.0)
        d[k + 1, k] = 4.0 * bary[k + 1] - 1.0
    for e in range(6):
        a, b = _PAIRS[e, 0], _PAIRS[e, 1]
        for k in range(3):
            da = -1.0 if a == 0 else (1.0 if a == k + 1 else 0.0)
            db = -1.0 if b == 0 else (1.0 if b == k + 1 else 0.0)
            d[4 + e, k] = 4.0 * (da * bary[b] + bary[a] * db)


@njit(cache=True, inline="always")
def _gradients(x: Floats, d: Floats, g: Floats) -> Any:
    """Gradients (10, 3) in space at one point of the curved element with nodes ``x`` (10, 3); gives the Jacobian."""
    j = np.zeros((3, 3))
    for i in range(10):
        for r in range(3):
            for k in range(3):
                j[r, k] += x[i, r] * d[i, k]
    c00 = j[1, 1] * j[2, 2] - j[1, 2] * j[2, 1]
    c01 = j[1, 2] * j[2, 0] - j[1, 0] * j[2, 2]
    c02 = j[1, 0] * j[2, 1] - j[1, 1] * j[2, 0]
    det = j[0, 0] * c00 + j[0, 1] * c01 + j[0, 2] * c02
    inv = np.empty((3, 3))
    inv[0, 0], inv[1, 0], inv[2, 0] = c00, c01, c02
    inv[0, 1] = j[0, 2] * j[2, 1] - j[0, 1] * j[2, 2]
    inv[1, 1] = j[0, 0] * j[2, 2] - j[0, 2] * j[2, 0]
    inv[2, 1] = j[0, 1] * j[2, 0] - j[0, 0] * j[2, 1]
    inv[0, 2] = j[0, 1] * j[1, 2] - j[0, 2] * j[1, 1]
    inv[1, 2] = j[0, 2] * j[1, 0] - j[0, 0] * j[1, 2]
    inv[2, 2] = j[0, 0] * j[1, 1] - j[0, 1] * j[1, 0]
    for i in range(10):
        for r in range(3):
            g[i, r] = (d[i, 0] * inv[0, r] + d[i, 1] * inv[1, r] + d[i, 2] * inv[2, r]) / det
    return det


@njit(cache=True)
def least_jacobians(points: Floats, cells: Ints) -> Floats:
    """(m,) the least Jacobian of each curved element at its integration points and corners."""
    out = np.empty(len(cells))
    d, g = np.empty((10, 3)), np.empty((10, 3))
    x = np.empty((10, 3))
    for e in range(len(cells)):
        for i in range(10):
            x[i] = points[cells[e, i]]
        worst = np.inf
        for q in range(8):
            bary = np.full(4, _SMALL if q < 4 else 0.0)
            bary[q % 4] = _LARGE if q < 4 else 1.0
            _slopes(bary[0], bary[1], bary[2], bary[3], d)
            worst = min(worst, _gradients(x, d, g))
        out[e] = worst
    return out


@njit(cache=True)
def assemble(points: Floats, cells: Ints, slot: Ints, blocks: Floats, lame: float, shear: float) -> None:
    """Add every element's stiffness to the (nnz, 3, 3) ``blocks``; ``slot`` (m, 10, 10) says where each pair goes."""
    d, g = np.empty((10, 3)), np.empty((10, 3))
    x = np.empty((10, 3))
    for e in range(len(cells)):
        for i in range(10):
            x[i] = points[cells[e, i]]
        for q in range(4):
            bary = np.full(4, _SMALL)
            bary[q] = _LARGE
            _slopes(bary[0], bary[1], bary[2], bary[3], d)
            w = _gradients(x, d, g) / 24.0
            for a in range(10):
                for b in range(10):
                    dot = g[a, 0] * g[b, 0] + g[a, 1] * g[b, 1] + g[a, 2] * g[b, 2]
                    s = slot[e, a, b]
                    for r in range(3):
                        for c in range(3):
                            blocks[s, r, c] += w * (lame * g[a, r] * g[b, c] + shear * g[a, c] * g[b, r])
                        blocks[s, r, r] += w * shear * dot


@njit(cache=True, nogil=True)
def _row_times(row: int, start: Ints, column: Ints, blocks: Any, x: Any, acc: Any) -> None:
    """``acc = A[row] x`` for four right-hand sides, kept in registers."""
    a0 = a1 = a2 = a3 = b0 = b1 = b2 = b3 = c0 = c1 = c2 = c3 = acc.dtype.type(0)
    for s in range(start[row], start[row + 1]):
        j = column[s]
        for c in range(3):
            x0, x1, x2, x3 = x[j, c, 0], x[j, c, 1], x[j, c, 2], x[j, c, 3]
            u, v, w = blocks[s, 0, c], blocks[s, 1, c], blocks[s, 2, c]
            a0 += u * x0
            a1 += u * x1
            a2 += u * x2
            a3 += u * x3
            b0 += v * x0
            b1 += v * x1
            b2 += v * x2
            b3 += v * x3
            c0 += w * x0
            c1 += w * x1
            c2 += w * x2
            c3 += w * x3
    acc[0, 0], acc[0, 1], acc[0, 2], acc[0, 3] = a0, a1, a2, a3
    acc[1, 0], acc[1, 1], acc[1, 2], acc[1, 3] = b0, b1, b2, b3
    acc[2, 0], acc[2, 1], acc[2, 2], acc[2, 3] = c0, c1, c2, c3


@njit(cache=True, nogil=True)
def multiply(first: int, last: int, start: Ints, column: Ints, blocks: Floats, x: Floats, y: Floats) -> None:
    """``y = A x`` for the block rows from ``first`` to ``last``; ``x`` and ``y`` are (n, 3, 4)."""
    for row in range(first, last):
        _row_times(row, start, column, blocks, x, y[row])


@njit(cache=True, nogil=True)
def chebyshev(
    first: int, last: int, start: Ints, column: Ints, blocks: Any, inverse: Any, fixed: Any,
    r: Any, x: Any, d: Any, x_new: Any, carry: float, gain: float, at_rest: bool,
) -> None:  # fmt: skip
    """``d = carry d + gain D⁻¹ (r - A x)``, ``x_new = x + d``; held rows stay zero; ``at_rest`` says that x is zero."""
    acc = np.zeros((3, 4), r.dtype)
    g, c = r.dtype.type(gain), r.dtype.type(carry)
    for row in range(first, last):
        if not at_rest:
            _row_times(row, start, column, blocks, x, acc)
        for i in range(3):
            for m in range(4):
                if fixed[row, i]:
                    d[row, i, m] = 0
                    x_new[row, i, m] = 0
                    continue
                step = r.dtype.type(0)
                for k in range(3):
                    step += inverse[row, i, k] * (r[row, k, m] - acc[k, m])
                d[row, i, m] = c * d[row, i, m] + g * step
                x_new[row, i, m] = x[row, i, m] + d[row, i, m]


@njit(cache=True)
def corner_stress(points: Floats, cells: Ints, u: Floats, lame: float, shear: float, out: Floats, hits: Ints) -> None:
    """Add each element's stress at its ten nodes to ``out`` (n, 6: xx yy zz xy yz zx); ``hits`` counts the elements."""
    d, g = np.empty((10, 3)), np.empty((10, 3))
    x = np.empty((10, 3))
    for e in range(len(cells)):
        for i in range(10):
            x[i] = points[cells[e, i]]
        for n in range(10):
            bary = np.zeros(4)
            if n < 4:
                bary[n] = 1.0
            else:
                bary[_PAIRS[n - 4, 0]] = 0.5
                bary[_PAIRS[n - 4, 1]] = 0.5
            _slopes(bary[0], bary[1], bary[2], bary[3], d)
            if _gradients(x, d, g) <= 0.0:
                continue
            h = np.zeros((3, 3))
            for a in range(10):
                for r in range(3):
                    for c in range(3):
                        h[r, c] += u[cells[e, a], r] * g[a, c]
            trace = lame * (h[0, 0] + h[1, 1] + h[2, 2])
            node = cells[e, n]
            for r in range(3):
                out[node, r] += trace + 2.0 * shear * h[r, r]
            out[node, 3] += shear * (h[0, 1] + h[1, 0])
            out[node, 4] += shear * (h[1, 2] + h[2, 1])
            out[node, 5] += shear * (h[2, 0] + h[0, 2])
            hits[node] += 1
