"""The largest empty circle in a cloud of points seen from one side, with points round it: a kernel.

Imported only where it is used: it is compiled by numba.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.terms.body import Floats, Ints

PEAKS = 12
"""So many circles are tried, the largest first."""


@njit(cache=True)
def empty_circle(points: Floats, frame: Floats, cells: int, sectors: int, surrounded: float) -> Floats:
    """Centre (in the two directions of ``frame``) and radius of the largest circle that holds no point.

    ``points`` is (3, n), ``frame`` (2, 3). The view is a raster of ``cells`` across; a circle counts where at least the
    share ``surrounded`` of ``sectors`` about it shows points, anywhere in the view. Radius 0 where there is none.
    """
    n = points.shape[1]
    flat = np.empty((2, n))
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    for k in range(n):
        for d in range(2):
            x = frame[d, 0] * points[0, k] + frame[d, 1] * points[1, k] + frame[d, 2] * points[2, k]
            flat[d, k] = x
            low[d] = min(low[d], x)
            high[d] = max(high[d], x)
    cell = max(high[0] - low[0], high[1] - low[1]) / (cells - 4)
    filled = np.zeros((cells, cells), dtype=np.bool_)
    for k in range(n):
        filled[int((flat[0, k] - low[0]) / cell) + 2, int((flat[1, k] - low[1]) / cell) + 2] = True
    room = _room(filled)
    shown = np.argwhere(filled)
    places = _peaks(room)
    for p in range(len(places)):
        i, j = places[p, 0], places[p, 1]
        seen = np.zeros(sectors, dtype=np.bool_)
        for k in range(len(shown)):
            turn = np.arctan2(float(shown[k, 1] - j), float(shown[k, 0] - i))
            seen[int((turn + np.pi) * (sectors / (2.0 * np.pi))) % sectors] = True
        if seen.sum() >= surrounded * sectors:
            return np.array([low[0] + (i - 1.5) * cell, low[1] + (j - 1.5) * cell, room[i, j] * cell])
    return np.zeros(3)


@njit(cache=True)
def _room(filled: NDArray[np.bool_]) -> Floats:
    """The distance of each cell from the next filled one, in cells: exact, columns first and then rows."""
    rows, columns = filled.shape
    far = rows + columns
    along = np.empty((rows, columns), dtype=np.int64)
    for j in range(columns):
        gap = far
        for i in range(rows):
            gap = 0 if filled[i, j] else gap + 1
            along[i, j] = gap
        gap = far
        for i in range(rows - 1, -1, -1):
            gap = 0 if filled[i, j] else gap + 1
            along[i, j] = min(along[i, j], gap)
    room = np.empty((rows, columns))
    for i in range(rows):
        for j in range(columns):
            best = along[i, j] * along[i, j]
            for aside in range(1, columns):
                if aside * aside >= best:
                    break
                if j >= aside:
                    best = min(best, aside * aside + along[i, j - aside] * along[i, j - aside])
                if j + aside < columns:
                    best = min(best, aside * aside + along[i, j + aside] * along[i, j + aside])
            room[i, j] = np.sqrt(float(best))
    return room


@njit(cache=True)
def _peaks(room: Floats) -> Ints:
    """Cells with as much room as any beside them, the most first, of equals the first; not at the view's edge."""
    rows, columns = room.shape
    found = np.empty((PEAKS, 2), dtype=np.int64)
    count = 0
    for i in range(2, rows - 2):
        for j in range(2, columns - 2):
            here = room[i, j]
            if here <= 2.0:
                continue
            most = 0.0
            for a in range(i - 1, i + 2):
                for b in range(j - 1, j + 2):
                    most = max(most, room[a, b])
            if here < most:
                continue
            at = count
            while at > 0 and room[found[at - 1, 0], found[at - 1, 1]] < here:
                at -= 1
            if at >= PEAKS:
                continue
            count = min(count + 1, PEAKS)
            for k in range(count - 1, at, -1):
                found[k] = found[k - 1]
            found[at, 0], found[at, 1] = i, j
    return found[:count]
