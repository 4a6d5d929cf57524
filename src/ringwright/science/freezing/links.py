"""Who exchanges heat with whom: the kernels that look about every leaf and weigh its links."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.freezing.shares import face_share
from ringwright.science.slabs import in_slabs
from ringwright.terms.body import Floats, Ints

Singles = NDArray[np.float32]
Codes = NDArray[np.int32]
NOWHERE, REFINED = -1, -2
EVEN = 0.08
"""Cells whose depths differ by less than this share of an edge count as equally deep."""
_LEAST_DEPTH = 0.05
_LEAST_SHARE = 1e-4
_LEAST_SURFACE = 0.05


class Leaves(NamedTuple):
    """All cells and where they are found.

    Their place in the lattice, level and medium; the numbers of the finest cells of metal and of mould on their box,
    and of the coarser ones level by level in ``codes`` (``box`` gives each level's low corner, shape and first code);
    the signed distance ``d`` at the corners of the finest box, the lattice's size, the finest edge; and the depth under
    the surface, the surface's normal, its piece and its bend in each finest cell, and all cells' volume.
    """

    place: Ints
    level: Ints
    medium: NDArray[np.int8]
    metal_id: Codes
    mould_id: Codes
    codes: Codes
    box: Ints
    d: Singles
    lattice: Ints
    h: float
    depth: Singles
    normal: Singles
    surface: Singles
    bend: Singles
    volume: Floats


class Found(NamedTuple):
    """The links, one row after the other: the other cell, area over distance or area, and both depths across."""

    other: Codes
    reach: Singles
    own: Singles
    beyond: Singles


def links_of(leaves: Leaves) -> tuple[Codes, Found, NDArray[np.uint8]]:
    """Where each row starts, the links, and at which of its six sides each cell touches the room's walls."""
    n = len(leaves.place)
    count = np.zeros(n, np.int32)
    walls = np.zeros((n, 6), np.uint8)
    no_codes, none = np.empty(0, np.int32), np.empty(0, np.float32)
    of_others = (*leaves[:7], leaves.lattice, leaves.h)
    in_slabs(_links_of_finest, n, *leaves, False, count, no_codes, no_codes, none, none, none, walls)
    in_slabs(_links_of_others, n, *of_others, False, count, no_codes, no_codes, none, walls)
    start = np.zeros(n + 1, np.int32)
    np.cumsum(count, out=start[1:])
    found = Found(np.empty(start[-1], np.int32), *(np.zeros(start[-1], np.float32) for _ in range(3)))
    in_slabs(_links_of_finest, n, *leaves, True, count, start, *found, walls)
    in_slabs(_links_of_others, n, *of_others, True, count, start, found.other, found.reach, walls)
    return start, found, walls


# A tuple of many arrays, or many of them handed to a kernel within another, cost a microsecond each time: what is
# called within takes numbers and two arrays.
@njit(cache=True, nogil=True)
def _links_of_finest(
    start: int, stop: int, place: Ints, level: Ints, medium: NDArray[np.int8], metal_id: Codes, mould_id: Codes,
    codes: Codes, box: Ints, d: Singles, lattice: Ints, h: float, depth: Singles, normal: Singles, surface: Singles,
    bend: Singles, volume: Floats, write: bool, count: Codes, row: Codes, other: Codes, reach: Singles, own: Singles,
    beyond: Singles, walls: NDArray[np.uint8],
) -> None:  # fmt: skip
    """The rows of the finest leaves. Counts their links, or writes them from ``row`` on.

    Two finest leaves are linked metal with metal through its share of their face, mould with mould through the rest.
    Where a leaf is all one medium it takes part in both.
    """
    whole, least = 0.999 * h * h * h, _LEAST_DEPTH * h
    for n in range(start, stop):
        if level[n] != 0:
            continue
        at = row[n] if write else 0
        a, b, c = place[n, 0] - box[0, 0], place[n, 1] - box[0, 1], place[n, 2] - box[0, 2]
        mine = metal_id[a, b, c], mould_id[a, b, c]
        for side in range(6):
            axis = side >> 1
            x, y, z = _past(place[n, 0], place[n, 1], place[n, 2], side, 1)
            i, j, k = x - box[0, 0], y - box[0, 1], z - box[0, 2]
            theirs = _pair(metal_id, mould_id, i, j, k)
            if theirs[0] < 0 and theirs[1] < 0:
                code, size, nothing = _first(codes, box, lattice, 1, x, y, z)
                if code >= 0 and write:
                    other[at] = code
                    reach[at] = 2 * h / (1 + (1 << size))
                at += code >= 0
                walls[n, side] = nothing
                continue
            cut = min(mine) >= 0 or min(theirs) >= 0
            share = face_share(d, max(a, i), max(b, j), max(c, k), axis) if cut else 1.0
            for part in range(2):
                f = share if part == 0 else 1.0 - share
                if _either(mine, part) != n or f < _LEAST_SHARE:
                    continue
                to = _either(theirs, part)
                if write:
                    other[at] = to
                    cosine = 0.5 * abs(normal[n, axis] + normal[to, axis])
                    reach[at] = f * h
                    if medium[n] != medium[to]:
                        reach[at] = f * h * h * cosine
                        own[at], beyond[at] = max(depth[n], least), max(depth[to], least)
                    elif cut:
                        bulge = 0.5 * h * (bend[n] + bend[to]) * (2 * medium[n] - 1)
                        near, far = (n, to) if depth[n] <= depth[to] else (to, n)
                        reach[at] = f * h * _beside_skin(
                            cosine, depth[near] / h, depth[far] / h, volume[near] > whole, volume[far] > whole, bulge
                        )  # fmt: skip
                at += 1
        to = mine[1 - medium[n]]
        parted = to >= 0 and to != n
        if parted and write:
            # Across the surface within a cut cell: where the corners do not see the surface, a little of it.
            other[at] = to
            reach[at] = max(surface[n], surface[to], _LEAST_SURFACE * h * h)
            own[at], beyond[at] = max(depth[n], least), max(depth[to], least)
        at += parted
        if not write:
            count[n] = at


@njit(cache=True, nogil=True)
def _links_of_others(
    start: int, stop: int, place: Ints, level: Ints, medium: NDArray[np.int8], metal_id: Codes, mould_id: Codes,
    codes: Codes, box: Ints, lattice: Ints, h: float, write: bool, count: Codes, row: Codes, other: Codes,
    reach: Singles, walls: NDArray[np.uint8],
) -> None:  # fmt: skip
    """The rows of the larger leaves: to one as large or larger, or to the four next finer ones at a face.

    Those are not cut and not finer still: the layers see to that.
    """
    for n in range(start, stop):
        mine = level[n]
        if mine == 0:
            continue
        at = row[n] if write else 0
        for side in range(6):
            x, y, z = _past(place[n, 0], place[n, 1], place[n, 2], side, 1 << mine)
            code, size, nothing = _first(codes, box, lattice, mine, x, y, z)
            if code >= 0 and write:
                other[at] = code
                reach[at] = 2 * h * (1 << mine) / (1 + (1 << (size - mine)))
            at += code >= 0
            walls[n, side] = nothing
            if size != mine or code != REFINED:
                continue
            fine = mine - 1
            for spot in range(4):
                i, j, k = _quarter(x >> mine, y >> mine, z >> mine, side, spot)
                if fine > 0:
                    code = _at(codes, box, fine, i, j, k)
                else:
                    code = _pair(metal_id, mould_id, i - box[0, 0], j - box[0, 1], k - box[0, 2])[medium[n]]
                if code == REFINED:
                    raise ValueError("leaves grow too fast")
                if code >= 0 and write:
                    other[at] = code
                    reach[at] = h * (1 << fine) / 1.5
                at += code >= 0
        if not write:
            count[n] = at


@njit(cache=True, nogil=True)
def _past(x: int, y: int, z: int, side: int, size: int) -> tuple[int, int, int]:
    """A finest cell of the lattice just beyond a side of a leaf."""
    step = size if side & 1 else -1
    axis = side >> 1
    return x + step * (axis == 0), y + step * (axis == 1), z + step * (axis == 2)


@njit(cache=True, nogil=True)
def _quarter(x: int, y: int, z: int, side: int, spot: int) -> tuple[int, int, int]:
    """One of the four next finer cells of a cell at the face by which it was reached."""
    near, u, v = 1 - (side & 1), spot >> 1, spot & 1
    axis = side >> 1
    if axis == 0:
        return 2 * x + near, 2 * y + u, 2 * z + v
    if axis == 1:
        return 2 * x + u, 2 * y + near, 2 * z + v
    return 2 * x + u, 2 * y + v, 2 * z + near


@njit(cache=True, nogil=True)
def _pair(metal_id: Codes, mould_id: Codes, i: int, j: int, k: int) -> tuple[int, int]:
    """The numbers of the metal and of the mould in a finest cell."""
    if i < 0 or j < 0 or k < 0 or i >= metal_id.shape[0] or j >= metal_id.shape[1] or k >= metal_id.shape[2]:
        return NOWHERE, NOWHERE
    return metal_id[i, j, k], mould_id[i, j, k]


@njit(cache=True, nogil=True)
def _either(pair: tuple[int, int], part: int) -> int:
    """The number of a part of a finest cell, or of all of it where it has no such part."""
    return pair[part] if pair[part] >= 0 else pair[1 - part]


@njit(cache=True, nogil=True)
def _first(codes: Codes, box: Ints, lattice: Ints, size: int, x: int, y: int, z: int) -> tuple[int, int, bool]:
    """What the first level from ``size`` on that holds anything at a finest cell holds, which, and if none does.

    A leaf is preferred to what is refined.
    """
    if x < 0 or y < 0 or z < 0 or x >= lattice[0] or y >= lattice[1] or z >= lattice[2]:
        return NOWHERE, size, True
    refined = False
    for level in range(size, box.shape[0]):
        code = _at(codes, box, level, x >> level, y >> level, z >> level)
        if code == REFINED and level == size:
            return REFINED, size, False
        if code >= 0:
            return code, level, False
        refined = refined or code == REFINED
    return NOWHERE, size, not refined


@njit(cache=True, nogil=True)
def _at(codes: Codes, box: Ints, level: int, i: int, j: int, k: int) -> int:
    """What a coarser level holds at its cell (i, j, k)."""
    a, b, c = i - box[level, 0], j - box[level, 1], k - box[level, 2]
    if a < 0 or b < 0 or c < 0 or a >= box[level, 3] or b >= box[level, 4] or c >= box[level, 5]:
        return NOWHERE
    return int(codes[box[level, 6] + (a * box[level, 4] + b) * box[level, 5] + c])


@njit(cache=True, nogil=True)
def _beside_skin(cosine: float, near: float, far: float, near_whole: bool, far_whole: bool, bulge: float) -> float:
    """Area over distance of a link between finest leaves of one medium beside the surface, for a face of 1 by 1.

    Beside the surface the temperature depends on the depth s under it above all, T(s). Then the flux through a face is
    that of the slope dT/ds times the cosine between the face's and the surface's normal, and the slope is the
    difference between the two cells over the difference of their depths: area times cosine over that difference, not
    area over the distance of the middles. Cells of equal depth exchange heat along the surface as usual.

    At the face it is steeper than between two depths, since what flows spreads as it goes from the surface. With the
    sum b of the curvatures (``bulge``, in cells) the slope goes as 1 / (1 + b s): to first order the factor is 1 + b
    times what the face lies nearer than the middle of the two depths.
    """
    apart = far - near
    end = near + 0.5 if near_whole else 2 * near
    start = max(far - 0.5, 0.0) if far_whole else 0.0
    flare = min(max(1.0 + bulge * 0.5 * (near + far - end - start), 0.5), 2.0)
    along = cosine / max(apart, EVEN) * flare
    flat = max(0.0, 1.0 - apart / EVEN) * (1.0 - cosine * cosine)
    return along + flat
