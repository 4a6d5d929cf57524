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
    none = np.empty(0, np.float32)
    walls = np.zeros((n, 6), np.uint8)
    in_slabs(
        _links_slab, n, leaves, False, count, np.empty(0, np.int32),
        Found(np.empty(0, np.int32), none, none, none), walls,
    )  # fmt: skip
    start = np.zeros(n + 1, np.int32)
    np.cumsum(count, out=start[1:])
    found = Found(np.empty(start[-1], np.int32), *(np.zeros(start[-1], np.float32) for _ in range(3)))
    in_slabs(_links_slab, n, leaves, True, count, start, found, walls)
    return start, found, walls


@njit(cache=True, nogil=True)
def _links_slab(
    start: int, stop: int, leaves: Leaves, write: bool, count: Codes, row: Codes, found: Found,
    walls: NDArray[np.uint8],
) -> None:  # fmt: skip
    """Every row's links. Counts them, or writes them from ``row`` on."""
    for n in range(start, stop):
        begin = row[n] if write else 0
        at = begin
        for side in range(6):
            before = at
            at = _through(n, side, leaves, write, at, found)
            if at == before and _at_wall(n, side, leaves):
                walls[n, side] = 1
        if leaves.level[n] == 0:
            at = _across(n, leaves, write, at, found)
        if not write:
            count[n] = at


@njit(cache=True, nogil=True)
def _beyond(n: int, side: int, leaves: Leaves) -> tuple[int, int, int]:
    """A finest cell of the lattice just beyond a side of leaf n."""
    x, y, z = leaves.place[n, 0], leaves.place[n, 1], leaves.place[n, 2]
    step = (1 << leaves.level[n]) if side & 1 else -1
    axis = side >> 1
    return x + step * (axis == 0), y + step * (axis == 1), z + step * (axis == 2)


@njit(cache=True, nogil=True)
def _within(x: int, y: int, z: int, size: Ints) -> bool:
    return x >= 0 and y >= 0 and z >= 0 and x < size[0] and y < size[1] and z < size[2]


@njit(cache=True, nogil=True)
def _at_wall(n: int, side: int, leaves: Leaves) -> bool:
    """Whether there is nothing at all beyond a side without a link (and not only the other medium)."""
    x, y, z = _beyond(n, side, leaves)
    if not _within(x, y, z, leaves.lattice):
        return True
    if leaves.level[n] == 0:
        metal, mould = _finest(x, y, z, leaves)
        if metal >= 0 or mould >= 0:
            return False
    for level in range(leaves.level[n], leaves.box.shape[0]):
        if level > 0 and _at(leaves, level, x >> level, y >> level, z >> level) != NOWHERE:
            return False
    return True


@njit(cache=True, nogil=True)
def _finest(x: int, y: int, z: int, leaves: Leaves) -> tuple[int, int]:
    """The numbers of the metal and of the mould in a finest cell."""
    box = leaves.box
    i, j, k = x - box[0, 0], y - box[0, 1], z - box[0, 2]
    if not _within(i, j, k, box[0, 3:6]):
        return NOWHERE, NOWHERE
    return leaves.metal_id[i, j, k], leaves.mould_id[i, j, k]


@njit(cache=True, nogil=True)
def _at(leaves: Leaves, level: int, i: int, j: int, k: int) -> int:
    """What a coarser level holds at its cell (i, j, k)."""
    box = leaves.box[level]
    a, b, c = i - box[0], j - box[1], k - box[2]
    if not _within(a, b, c, box[3:6]):
        return NOWHERE
    return int(leaves.codes[box[6] + (a * box[4] + b) * box[5] + c])


@njit(cache=True, nogil=True)
def _through(n: int, side: int, leaves: Leaves, write: bool, at: int, found: Found) -> int:
    """Links through one side; gives where the next link goes."""
    x, y, z = _beyond(n, side, leaves)
    if not _within(x, y, z, leaves.lattice):
        return at
    level, h = leaves.level[n], leaves.h
    if level == 0:
        metal, mould = _finest(x, y, z, leaves)
        if metal >= 0 or mould >= 0:
            return _beside(n, side, (metal, mould), leaves, write, at, found)
    elif _at(leaves, level, x >> level, y >> level, z >> level) == REFINED:
        return _finer(n, side, (x >> level, y >> level, z >> level), leaves, write, at, found)
    own = h * (1 << level)
    for other in range(max(level, 1), leaves.box.shape[0]):
        code = _at(leaves, other, x >> other, y >> other, z >> other)
        if code >= 0:
            if write:
                found.other[at] = code
                found.reach[at] = own * own / (0.5 * (own + h * (1 << other)))
            return at + 1
    return at


@njit(cache=True, nogil=True)
def _beside(n: int, side: int, theirs: tuple[int, int], leaves: Leaves, write: bool, at: int, found: Found) -> int:
    """Links between two finest cells: metal with metal through its share of the face, mould through the rest.

    Where a cell is all one medium it takes part in both.
    """
    axis, box, d = side >> 1, leaves.box, leaves.d
    i, j, k = (leaves.place[n, 0] - box[0, 0], leaves.place[n, 1] - box[0, 1], leaves.place[n, 2] - box[0, 2])
    mine = leaves.metal_id[i, j, k], leaves.mould_id[i, j, k]
    up = side & 1
    share = face_share(d, i + up * (axis == 0), j + up * (axis == 1), k + up * (axis == 2), axis)
    cut = (mine[0] >= 0 and mine[1] >= 0) or (theirs[0] >= 0 and theirs[1] >= 0)
    if not cut:
        share = 1.0
    for part in range(2):
        one = mine[part] if mine[part] >= 0 else mine[1 - part]
        other = theirs[part] if theirs[part] >= 0 else theirs[1 - part]
        f = share if part == 0 else 1.0 - share
        if one != n or f < _LEAST_SHARE:
            continue
        if write:
            found.other[at] = other
            _weigh(n, other, at, f * leaves.h * leaves.h, axis, cut, leaves, found)
        at += 1
    return at


@njit(cache=True, nogil=True)
def _across(n: int, leaves: Leaves, write: bool, at: int, found: Found) -> int:
    """The link across the surface within a cut cell: where the corners do not see the surface, a little of it."""
    metal, mould = _finest(leaves.place[n, 0], leaves.place[n, 1], leaves.place[n, 2], leaves)
    partner = mould if leaves.medium[n] == 0 else metal
    if partner < 0 or partner == n:
        return at
    if write:
        h = leaves.h
        found.other[at] = partner
        found.reach[at] = max(leaves.surface[n], leaves.surface[partner], _LEAST_SURFACE * h * h)
        found.own[at] = max(leaves.depth[n], _LEAST_DEPTH * h)
        found.beyond[at] = max(leaves.depth[partner], _LEAST_DEPTH * h)
    return at + 1


@njit(cache=True, nogil=True)
def _finer(n: int, side: int, at_cell: tuple[int, int, int], leaves: Leaves, write: bool, at: int, found: Found) -> int:
    """Links to the four next finer leaves at a face; they are not cut and not finer still (layers see to that)."""
    axis, near = side >> 1, 0 if side & 1 else 1
    fine = leaves.level[n] - 1
    s = leaves.h * (1 << fine)
    for u in range(2):
        for v in range(2):
            a, b, c = 2 * at_cell[0], 2 * at_cell[1], 2 * at_cell[2]
            if axis == 0:
                a, b, c = a + near, b + u, c + v
            elif axis == 1:
                a, b, c = a + u, b + near, c + v
            else:
                a, b, c = a + u, b + v, c + near
            if fine > 0:
                code = _at(leaves, fine, a, b, c)
            else:
                metal, mould = _finest(a, b, c, leaves)
                code = metal if leaves.medium[n] == 0 else mould
            if code == REFINED:
                raise ValueError("leaves grow too fast")
            if code < 0:
                continue
            if write:
                found.other[at] = code
                found.reach[at] = s * s / (1.5 * s)
            at += 1
    return at


@njit(cache=True, nogil=True)
def _weigh(n: int, theirs: int, at: int, area: float, axis: int, cut: bool, leaves: Leaves, found: Found) -> None:
    """Area over distance of a link between finest leaves.

    Beside the surface the temperature depends on the depth s under it above all, T(s). Then the flux through a face is
    that of the slope dT/ds times the cosine between the face's and the surface's normal, and the slope is the
    difference between the two cells over the difference of their depths: area times cosine over that difference, not
    area over the distance of the middles. Cells of equal depth exchange heat along the surface as usual.
    """
    h = leaves.h
    cosine = 0.5 * abs(leaves.normal[n, axis] + leaves.normal[theirs, axis])
    if leaves.medium[n] == leaves.medium[theirs]:
        if not cut:
            found.reach[at] = area / h
            return
        apart = abs(leaves.depth[n] - leaves.depth[theirs]) / h
        along = cosine / max(apart, EVEN) * _flare(n, theirs, leaves)
        flat = max(0.0, 1.0 - apart / EVEN) * (1.0 - cosine * cosine)
        found.reach[at] = area / h * (along + flat)
        return
    found.reach[at] = area * cosine
    found.own[at] = max(leaves.depth[n], _LEAST_DEPTH * h)
    found.beyond[at] = max(leaves.depth[theirs], _LEAST_DEPTH * h)


@njit(cache=True, nogil=True)
def _flare(n: int, theirs: int, leaves: Leaves) -> float:
    """How much steeper it is at the face than between two depths, since what flows spreads as it goes from the surface.

    With the sum b of the curvatures the slope goes as 1 / (1 + b s): to first order the factor is 1 + b times what the
    face lies nearer than the middle of the two depths.
    """
    h = leaves.h
    near, far = (n, theirs) if leaves.depth[n] <= leaves.depth[theirs] else (theirs, n)
    whole = 0.999 * h * h * h
    end = leaves.depth[near] + h / 2 if leaves.volume[near] > whole else 2 * leaves.depth[near]
    start = max(leaves.depth[far] - h / 2, 0.0) if leaves.volume[far] > whole else 0.0
    off = 0.5 * (leaves.depth[near] + leaves.depth[far] - end - start)
    bend = 0.5 * (leaves.bend[near] + leaves.bend[far])
    return float(min(max(1.0 + (bend if leaves.medium[n] == 1 else -bend) * off, 0.5), 2.0))
