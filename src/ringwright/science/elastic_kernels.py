"""Compiled kernels of :mod:`ringwright.science.elastic`: assembly, and the products with the stiffness."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from ringwright.terms.body import Floats, Ints


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


@njit(cache=True, nogil=True)
def gather(gradients: Floats, weights: Floats, slot: Ints, lame: float, shear: float, blocks: Floats) -> None:
    """Add every element's stiffness to the (nnz, 3, 3) ``blocks``; ``slot`` (m, 10, 10) says where each pair goes."""
    for e in range(slot.shape[0]):
        for q in range(4):
            g = gradients[e, q]
            w = weights[e, q]
            for a in range(10):
                for b in range(10):
                    s = slot[e, a, b]
                    dot = w * shear * (g[a, 0] * g[b, 0] + g[a, 1] * g[b, 1] + g[a, 2] * g[b, 2])
                    for r in range(3):
                        for c in range(3):
                            blocks[s, r, c] += w * (lame * g[a, r] * g[b, c] + shear * g[a, c] * g[b, r])
                        blocks[s, r, r] += dot
