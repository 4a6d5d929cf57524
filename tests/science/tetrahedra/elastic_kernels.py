"""Compiled kernels of :mod:`tests.science.tetrahedra.elastic`: assembly, and the products with the stiffness."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from ringwright.terms.body import Floats, Ints


@njit(cache=True, nogil=True)
def _row_times(row: int, start: Any, column: Any, blocks: Any, x: Any, acc: Any) -> None:
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
def multiply(first: int, last: int, start: Any, column: Any, blocks: Any, x: Any, y: Any) -> None:
    """``y = A x`` for the block rows from ``first`` to ``last``; ``x`` and ``y`` are (n, 3, 4)."""
    for row in range(first, last):
        _row_times(row, start, column, blocks, x, y[row])


@njit(cache=True, nogil=True)
def chebyshev(
    first: int, last: int, start: Any, column: Any, blocks: Any, inverse: Any, fixed: Any,
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


@njit(cache=True, nogil=True)
def _slot(start: Any, column: Any, i: int, j: int) -> int:
    """Where the block of row ``i`` and column ``j`` stands; the columns of a row are in order."""
    low, high = start[i], start[i + 1] - 1
    while low < high:
        middle = (low + high) // 2
        if column[middle] < j:
            low = middle + 1
        else:
            high = middle
    return int(low)


@njit(cache=True, nogil=True)
def gather(
    gradients: Floats, weights: Floats, cells: Ints, start: Any, column: Any, lame: float, shear: float, blocks: Floats
) -> None:
    """Add every element's stiffness to the (nnz, 3, 3) ``blocks``; elements of any number of nodes and points."""
    p = np.empty((3, 3))
    for e in range(cells.shape[0]):
        for a in range(cells.shape[1]):
            for b in range(a, cells.shape[1]):
                p[:] = 0.0
                for q in range(weights.shape[1]):
                    for r in range(3):
                        for c in range(3):
                            p[r, c] += weights[e, q] * gradients[e, q, a, r] * gradients[e, q, b, c]
                dot = shear * (p[0, 0] + p[1, 1] + p[2, 2])
                i, j = cells[e, a], cells[e, b]
                s, t = _slot(start, column, i, j), _slot(start, column, j, i)
                for r in range(3):
                    for c in range(3):
                        value = lame * p[r, c] + shear * p[c, r] + (dot if r == c else 0.0)
                        blocks[s, r, c] += value
                        if a != b:
                            blocks[t, c, r] += value
