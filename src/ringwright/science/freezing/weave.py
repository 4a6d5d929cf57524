"""From leaves to cells and links: the kernels behind :mod:`ringwright.science.freezing.cells`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.freezing.links import EVEN, NOWHERE, REFINED, Found, Leaves, links_of
from ringwright.science.freezing.rows import Rows, rows_of
from ringwright.science.freezing.shares import face_share
from ringwright.science.slabs import in_slabs
from ringwright.terms.body import Floats, Ints

if TYPE_CHECKING:
    from ringwright.science.freezing.cells import Cells, Links, Room, _Level

Singles = NDArray[np.float32]
Codes = NDArray[np.int32]
REACH = 2.8
"""In finest edges: so far from the surface the distance of corners is known."""
DEEPEST = 2.0
"""In finest edges: so deep under the surface the depth of a whole cell's middle is known."""


def crossed(skin_mm: Singles) -> NDArray[np.bool_]:
    """Which cells have corners on both sides of the surface."""
    out = np.zeros(tuple(n - 1 for n in skin_mm.shape), np.bool_)
    in_slabs(_crossed_slab, out.shape[0], skin_mm, out)
    return out


@njit(cache=True, nogil=True)
def _crossed_slab(start: int, stop: int, d: Singles, out: NDArray[np.bool_]) -> None:
    _, ny, nz = out.shape
    for i in range(start, stop):
        for j in range(ny):
            for k in range(nz):
                n = 0
                for a in range(2):
                    for b in range(2):
                        n += (d[i + a, j + b, k] < 0) + (d[i + a, j + b, k + 1] < 0)
                out[i, j, k] = 0 < n < 8


def woven(
    levels: list[_Level],
    share: Singles,
    skin_mm: Singles,
    h: float,
    low_mm: Floats,
    lattice: Ints,
    room: Room,
) -> Cells:
    """The cells of the leaves, in order, with their links and walls."""
    from ringwright.science.freezing.cells import METAL, MOULD, Cells

    place, level_of, medium, where = _leaves(levels, share, h, low_mm, room)
    key = _along_the_curve(place)
    order = np.lexsort((key, medium))
    place, level_of, medium, key, where = place[order], level_of[order], medium[order], key[order], where[order]
    edge = (h * 2.0**level_of).astype(np.float32)

    metal_id = np.full(share.shape, NOWHERE, np.int32)
    mould_id = np.full(share.shape, NOWHERE, np.int32)
    number = np.arange(len(key), dtype=np.int32)
    finest = level_of == 0
    for ids, m in ((metal_id, METAL), (mould_id, MOULD)):
        mine = finest & (medium == m)
        ids.ravel()[where[mine]] = number[mine]
    parts, offset = [], [0]
    for n, level in enumerate(levels):
        if n == 0:
            codes = np.full(1, NOWHERE, np.int32)
        else:
            codes = np.where(level.refined, np.int32(REFINED), np.int32(NOWHERE)).ravel()
            mine = level_of == n
            codes[where[mine]] = number[mine]
        parts.append(codes)
        offset.append(offset[-1] + len(codes))
    codes = np.concatenate(parts)
    box = np.array(
        [[*level.low, *level.exists.shape, o] for level, o in zip(levels, offset, strict=False)], dtype=np.int64
    )

    volume = edge.astype(np.float64) ** 3
    depth_mm = np.full(len(key), np.nan, np.float32)
    normal = np.zeros((len(key), 3), np.float32)
    centre = ((place + 0.5 * (2.0**level_of)[:, None]) * h + low_mm).astype(np.float32)
    surface_mm2 = np.zeros(len(key), np.float32)
    bend = np.zeros(len(key), np.float32)
    in_slabs(
        _parts_slab, len(key), place, level_of, medium, box[0], share, skin_mm, h,
        volume, depth_mm, normal, centre, surface_mm2, bend,
    )  # fmt: skip
    leaves = Leaves(
        place, level_of, medium, metal_id, mould_id, codes, box, skin_mm, lattice, h, depth_mm, normal, surface_mm2,
        bend, volume,
    )  # fmt: skip
    start, found, walls = links_of(leaves)
    cell, side = np.nonzero(walls)
    side = np.where(side < 4, 0, np.where(side == 5, 1, 2))
    area = edge[cell].astype(np.float64) ** 2
    if (round_mm2 := area[side == 0].sum()) > 0:
        area[side == 0] *= 2 * np.pi * room.radius_mm * (room.top_mm - room.bottom_mm) / round_mm2
    return Cells(
        metal=int((medium == METAL).sum()),
        key=key,
        edge_mm=edge,
        centre_mm=centre,
        volume_mm3=volume,
        links=_in_rows(start, found, leaves),
        wall_cell=cell,
        wall_mm2=area,
        wall_mm=edge[cell].astype(np.float64) / 2,
        wall_side=side,
    )


def _in_rows(start: Codes, found: Found, leaves: Leaves) -> Links:
    """The links in rows of six, those across the surface told apart."""
    from ringwright.science.freezing.cells import Links

    rows, placed = rows_of(start, found.other)
    across = np.flatnonzero(found.own)
    row = (np.searchsorted(start, across, side="right") - 1).astype(np.int32)
    reach_mm = np.zeros(len(rows.other), np.float32)
    within = found.own == 0
    reach_mm[placed[within]] = found.reach[within]
    steep, steep_row, steep_mm = _steep(rows, reach_mm, leaves)
    return Links(
        rows=rows,
        reach_mm=reach_mm,
        across=placed[across],
        across_row=row,
        across_mm2=found.reach[across],
        own_depth_mm=found.own[across],
        other_depth_mm=found.beyond[across],
        bend_mm=0.5 * (leaves.bend[row] + leaves.bend[rows.other[placed[across]]]),
        steep=steep,
        steep_row=steep_row,
        steep_mm=steep_mm,
    )


def _steep(rows: Rows, reach_mm: Singles, leaves: Leaves) -> tuple[Ints, NDArray[np.int32], Singles]:
    """Links in the mould beside the surface: their places, their rows, and from which depths to which they go."""
    h = leaves.h
    row, other = rows.row_of, rows.other.astype(np.int64)
    known = (leaves.level == 0) & (leaves.medium == 1) & (leaves.depth < DEEPEST * h)
    place = np.flatnonzero((reach_mm > 0) & (row != other) & known[row] & known[other])
    depth = leaves.depth.astype(np.float64)
    cut = leaves.volume < 0.999 * h**3
    start = np.where(cut, 0.0, np.maximum(depth - h / 2, 0.0))
    end = np.where(cut, 2 * depth, depth + h / 2)
    one, two = row[place], other[place]
    near, far = np.where(depth[one] <= depth[two], one, two), np.where(depth[one] <= depth[two], two, one)
    some = depth[far] - depth[near] > EVEN * h
    place, near, far = place[some], near[some], far[some]
    face = (end[near] + start[far]) / 2
    depths = np.stack([start[near], end[near], start[far], end[far], face], axis=1).astype(np.float32)
    return place, row[place].astype(np.int32), depths


def _leaves(
    levels: list[_Level], share: Singles, h: float, low_mm: Floats, room: Room
) -> tuple[Ints, Ints, NDArray[np.int8], Ints]:
    """Each cell's place in the lattice, level, medium, and where it stands in its level's box."""
    found = []
    for n, level in enumerate(levels):
        flat = np.flatnonzero(level.exists & ~level.refined)
        index = np.stack(np.unravel_index(flat, level.exists.shape), axis=1) + level.low
        middle = low_mm + (index + 0.5) * (h * 2**n)
        here = (np.hypot(middle[:, 0], middle[:, 1]) < room.radius_mm) & (middle[:, 2] > room.bottom_mm)
        flat, index = flat[here], index[here]
        if n == 0:
            metal = share.ravel()[flat]
            for medium, some in ((0, metal > 0), (1, metal < 1)):
                found.append((index[some], np.zeros(some.sum(), np.int64), np.full(some.sum(), medium), flat[some]))
        else:
            found.append((index * 2**n, np.full(len(flat), n), np.where(level.inside.ravel()[flat], 0, 1), flat))
    place, level_of, medium_of, where = (np.concatenate(a) for a in zip(*found, strict=True))
    return place.astype(np.int64), level_of.astype(np.int64), medium_of.astype(np.int8), where.astype(np.int64)


def _along_the_curve(place: Ints) -> Ints:
    """The bits of the three coordinates interleaved: cells of one cube of any size follow each other."""
    key = np.zeros(len(place), np.int64)
    in_slabs(_curve_slab, len(place), place, key)
    return key


@njit(cache=True, nogil=True)
def _curve_slab(start: int, stop: int, place: Ints, key: Ints) -> None:
    for n in range(start, stop):
        code = np.int64(0)
        for bit in range(20):
            for axis in range(3):
                code |= ((place[n, axis] >> bit) & 1) << (3 * bit + axis)
        key[n] = code


@njit(cache=True, nogil=True)
def _parts_slab(
    start: int, stop: int, place: Ints, level_of: Ints, medium: NDArray[np.int8], box: Ints, share: Singles,
    d: Singles, h: float, volume: Floats, depth: Singles, normal: Singles, centre: Singles, surface: Singles,
    bend: Singles,
) -> None:  # fmt: skip
    """For the finest cells: volume, mean depth under the surface, the surface's normal and piece, and the centre."""
    low = np.empty((2, 2, 2))
    for n in range(start, stop):
        if level_of[n] != 0:
            continue
        i, j, k = place[n, 0] - box[0], place[n, 1] - box[1], place[n, 2] - box[2]
        for a in range(2):
            for b in range(2):
                for c in range(2):
                    low[a, b, c] = d[i + a, j + b, k + c]
        nx = ny = nz = 0.0
        for a in range(2):
            for b in range(2):
                nx += low[1, a, b] - low[0, a, b]
                ny += low[a, 1, b] - low[a, 0, b]
                nz += low[a, b, 1] - low[a, b, 0]
        long = np.sqrt(nx * nx + ny * ny + nz * nz)
        if long > 0:
            normal[n, 0], normal[n, 1], normal[n, 2] = nx / long, ny / long, nz / long
        m = share[i, j, k]
        sense = -1.0 if medium[n] == 0 else 1.0
        bend[n] = _bend(d, i, j, k, h)
        own = m if medium[n] == 0 else 1.0 - m
        volume[n] = h * h * h * own
        if own == 1.0:
            depth[n] = abs(low.mean())
            continue
        depth[n] = _middle_of_part(low, sense, h, own, n, centre)
        x = face_share(d, i, j, k, 0) - face_share(d, i + 1, j, k, 0)
        y = face_share(d, i, j, k, 1) - face_share(d, i, j + 1, k, 1)
        z = face_share(d, i, j, k, 2) - face_share(d, i, j, k + 1, 2)
        surface[n] = h * h * np.sqrt(x * x + y * y + z * z)


@njit(cache=True, nogil=True)
def _bend(d: Singles, i: int, j: int, k: int, h: float) -> float:
    """The sum of the surface's curvatures beside a cell: the Laplacian of the distance where its corners know it.

    No more than one in a cell's edge.
    """
    total, some = 0.0, 0
    nx, ny, nz = d.shape
    most = 0.999 * REACH * h
    for a in range(i, i + 2):
        for b in range(j, j + 2):
            for c in range(k, k + 2):
                if min(a, b, c) < 1 or a + 1 >= nx or b + 1 >= ny or c + 1 >= nz:
                    continue
                p, q, r = d[a + 1, b, c], d[a - 1, b, c], d[a, b + 1, c]
                s, t, u = d[a, b - 1, c], d[a, b, c + 1], d[a, b, c - 1]
                if max(abs(p), abs(q), abs(r), abs(s), abs(t), abs(u)) < most:
                    total += p + q + r + s + t + u - 6 * d[a, b, c]
                    some += 1
    if some == 0:
        return 0.0
    return min(max(total / (some * h * h), -1.0 / h), 1.0 / h)


@njit(cache=True, nogil=True)
def _middle_of_part(low: Floats, sense: float, h: float, own: float, n: int, centre: Singles) -> float:
    """The mean depth of a cut cell's part, by even points, more of them in a small part; moves ``centre`` there."""
    for each in (4, 8, 16):
        points = 0
        total = x = y = z = 0.0
        for a in range(each):
            u = (a + 0.5) / each
            for b in range(each):
                v = (b + 0.5) / each
                near = (1 - u) * ((1 - v) * low[0, 0, 0] + v * low[0, 1, 0]) + u * (
                    (1 - v) * low[1, 0, 0] + v * low[1, 1, 0]
                )
                far = (1 - u) * ((1 - v) * low[0, 0, 1] + v * low[0, 1, 1]) + u * (
                    (1 - v) * low[1, 0, 1] + v * low[1, 1, 1]
                )
                for c in range(each):
                    w = (c + 0.5) / each
                    s = sense * (near + w * (far - near))
                    if s > 0:
                        points += 1
                        total += s
                        x += u - 0.5
                        y += v - 0.5
                        z += w - 0.5
        if points >= 8:
            break
    if points == 0:
        return 0.5 * h * own
    centre[n, 0] += h * x / points
    centre[n, 1] += h * y / points
    centre[n, 2] += h * z / points
    return total / points
