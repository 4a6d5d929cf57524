"""The largest empty circle in a cloud of points seen from one side, with points round it: a kernel.

Imported only where it is used: it is compiled by numba.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.terms.body import Floats, Ints

Bools = NDArray[np.bool_]

PEAKS = 12
"""So many circles are tried, the largest first."""


def empty_circle(points: Floats, frame: Floats, cells: int, sectors: int, surrounded: float) -> tuple[Floats, float]:
    """Centre (in the two directions of ``frame``) and radius of the largest circle that holds no point.

    ``points`` is (3, n), ``frame`` (2, 3). The view is a raster of ``cells`` across; a circle counts where at least the
    share ``surrounded`` of ``sectors`` about it shows points, anywhere in the view. Radius 0 where there is none.
    """
    # The kernels take their memory from here: the compiler takes long over arrays that a kernel makes.
    out = np.zeros(3)
    _empty_circle(
        frame @ points,
        surrounded * sectors,
        np.zeros((cells, cells), np.bool_),
        np.empty((cells, cells), np.int64),
        np.empty((cells, cells)),
        np.empty((PEAKS, 2), np.int64),
        np.empty(sectors, np.bool_),
        out,
    )
    return out[:2], float(out[2])


@njit(cache=True)
def _empty_circle(
    flat: Floats, enough: float, filled: Bools, along: Ints, room: Floats, places: Ints, seen: Bools, out: Floats
) -> None:
    n, cells = flat.shape[1], filled.shape[0]
    left = right = flat[0, 0]
    low = high = flat[1, 0]
    for k in range(n):
        left, right = min(left, flat[0, k]), max(right, flat[0, k])
        low, high = min(low, flat[1, k]), max(high, flat[1, k])
    cell = max(right - left, high - low) / (cells - 4)
    for k in range(n):
        filled[int((flat[0, k] - left) / cell) + 2, int((flat[1, k] - low) / cell) + 2] = True
    _room(filled, along, room)
    for p in range(_peaks(room, places)):
        i, j = places[p, 0], places[p, 1]
        if _sectors_seen(filled, i, j, seen) >= enough:
            out[0], out[1], out[2] = left + (i - 1.5) * cell, low + (j - 1.5) * cell, room[i, j] * cell
            return


@njit(cache=True)
def _sectors_seen(filled: Bools, i: int, j: int, seen: Bools) -> int:
    """In how many directions from a cell there are filled ones."""
    sectors = seen.size
    for s in range(sectors):
        seen[s] = False
    count = 0
    for a in range(filled.shape[0]):
        for b in range(filled.shape[1]):
            if filled[a, b]:
                turn = np.arctan2(float(b - j), float(a - i))
                s = int((turn + np.pi) * (sectors / (2.0 * np.pi))) % sectors
                count += not seen[s]
                seen[s] = True
    return count


@njit(cache=True)
def _room(filled: Bools, along: Ints, room: Floats) -> None:
    """Into ``room`` the distance of each cell from the next filled one, in cells: exact, by columns and then rows."""
    rows, columns = filled.shape
    far = rows + columns
    for j in range(columns):
        gap = far
        for i in range(rows):
            gap = 0 if filled[i, j] else gap + 1
            along[i, j] = gap
        gap = far
        for i in range(rows - 1, -1, -1):
            gap = 0 if filled[i, j] else gap + 1
            along[i, j] = min(along[i, j], gap)
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


@njit(cache=True)
def _peaks(room: Floats, found: Ints) -> int:
    """Cells with as much room as any beside them, the most first, of equals the first; not at the view's edge.

    Gives how many of them stand in ``found``.
    """
    rows, columns = room.shape
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
                found[k, 0], found[k, 1] = found[k - 1, 0], found[k - 1, 1]
            found[at, 0], found[at, 1] = i, j
    return count
