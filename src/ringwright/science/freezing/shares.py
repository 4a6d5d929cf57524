"""What share of a face lies in the metal, from the signed distance at its corners."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Singles = NDArray[np.float32]


@njit(cache=True, nogil=True)
def share_of_triangle(a: float, b: float, c: float) -> float:
    """The share of a triangle where a linear function with these corner values is below 0."""
    if a > b:
        a, b = b, a
    if b > c:
        b, c = c, b
    if a > b:
        a, b = b, a
    if c <= 0.0:
        return 1.0 if a < 0.0 else 0.0
    if a >= 0.0:
        return 0.0
    if b >= 0.0:
        return a * a / ((a - b) * (a - c))
    return 1.0 - c * c / ((c - a) * (c - b))


@njit(cache=True, nogil=True)
def share_of_square(a: float, b: float, c: float, d: float) -> float:
    """The share of a square below 0, from its corners in order: four triangles about the middle."""
    low = min(a, b, c, d)
    high = max(a, b, c, d)
    if low >= 0.0:
        return 0.0
    if high <= 0.0:
        return 1.0
    m = 0.25 * (a + b + c + d)
    return 0.25 * (
        share_of_triangle(a, b, m)
        + share_of_triangle(b, c, m)
        + share_of_triangle(c, d, m)
        + share_of_triangle(d, a, m)
    )


@njit(cache=True, nogil=True)
def face_share(d: Singles, i: int, j: int, k: int, axis: int) -> float:
    """The metal's share of the low face across ``axis`` of finest cell (i, j, k)."""
    if axis == 0:
        return share_of_square(d[i, j, k], d[i, j + 1, k], d[i, j + 1, k + 1], d[i, j, k + 1])
    if axis == 1:
        return share_of_square(d[i, j, k], d[i + 1, j, k], d[i + 1, j, k + 1], d[i, j, k + 1])
    return share_of_square(d[i, j, k], d[i + 1, j, k], d[i + 1, j + 1, k], d[i, j + 1, k])
