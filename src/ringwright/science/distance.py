"""Distances: between cells of a grid, exactly; and from cells or any points to the surface of a mesh, with sign.

:func:`between_cells` is the exact Euclidean distance transform, one axis after the other, the second and third by the
lower envelope of parabolas (Felzenszwalb & Huttenlocher, Theory of Computing 8, 2012). :func:`signed` is the distance
of every cell centre to the mesh itself, not to its cells: exact next to the surface, nearly so elsewhere.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.slabs import in_slabs
from ringwright.science.surface import away2, nearest_on
from ringwright.science.voxels import Bools, Corner, Grid, in_cells
from ringwright.terms.body import Floats, Mesh

Singles = NDArray[np.float32]
Indices = NDArray[np.int32]
FAR = np.float32(1e12)
_ROUNDED = 1.00001
_UPRIGHT = 1e-3


def between_cells(inside: Bools, h_mm: float) -> Singles:
    """The distance in mm from the centre of each cell that is inside to the nearest centre that is not; 0 outside.

    What lies beyond the grid counts as outside only where the grid has cells there; give it a margin. A grid that is
    inside everywhere has no such distance: infinity.
    """
    cells = np.ascontiguousarray(inside)
    nx, ny, _ = cells.shape
    out = np.empty(cells.shape, np.float32)
    in_slabs(_along_z_and_y, nx, cells.view(np.uint8), out)
    in_slabs(_along_x, ny, out, np.float32(h_mm))
    return out


@njit(cache=True, nogil=True)
def _along_z_and_y(start: int, stop: int, cells: NDArray[np.uint8], out: Singles) -> None:
    _, ny, nz = cells.shape
    lines = np.empty((nz, ny), np.float32)
    work = np.empty((3, ny + 1), np.float32)
    where = np.empty(ny, np.int32)
    some = np.empty(nz, np.bool_)
    for i in range(start, stop):
        for j in range(ny):
            run = np.float32(1e6)
            for k in range(nz):
                run = np.float32(0) if cells[i, j, k] == 0 else run + np.float32(1)
                out[i, j, k] = run
                some[k] = (j > 0 and some[k]) or cells[i, j, k] != 0
            run = np.float32(1e6)
            for k in range(nz - 1, -1, -1):
                run = np.float32(0) if cells[i, j, k] == 0 else run + np.float32(1)
                d = min(run, out[i, j, k])
                out[i, j, k] = d * d if d < np.float32(1e6) else FAR
        for j in range(ny):
            for k in range(nz):
                if some[k]:
                    lines[k, j] = out[i, j, k]
        for k in range(nz):
            if some[k]:
                _envelope(lines[k], where, work)
        for j in range(ny):
            for k in range(nz):
                if some[k]:
                    out[i, j, k] = lines[k, j]


@njit(cache=True, nogil=True)
def _along_x(start: int, stop: int, out: Singles, h: np.float32) -> None:
    nx, _, nz = out.shape
    lines = np.empty((nz, nx), np.float32)
    work = np.empty((3, nx + 1), np.float32)
    where = np.empty(nx, np.int32)
    some = np.empty(nz, np.bool_)
    for j in range(start, stop):
        for i in range(nx):
            for k in range(nz):
                some[k] = (i > 0 and some[k]) or out[i, j, k] > 0
        for i in range(nx):
            for k in range(nz):
                if some[k]:
                    lines[k, i] = out[i, j, k]
        for k in range(nz):
            if some[k]:
                _envelope(lines[k], where, work)
                for i in range(nx):
                    d = lines[k, i]
                    lines[k, i] = h * np.sqrt(d) if d < FAR else np.float32(np.inf)
        for i in range(nx):
            for k in range(nz):
                if some[k]:
                    out[i, j, k] = lines[k, i]


@njit(cache=True, nogil=True)
def _envelope(f: Singles, where: Indices, work: Singles) -> None:
    """In place: f[p] becomes the least of f[q] + (p - q)^2 over q. The distances are whole numbers, exact to 2^24."""
    n = f.size
    cut, base = work[0], work[1]
    top = -1
    for q in range(n):
        fq = f[q]
        if fq >= FAR:
            continue
        s = np.float32(-1e9)
        while top >= 0:
            p = where[top]
            s = (fq - base[top]) / np.float32(2 * (q - p)) + np.float32(0.5) * np.float32(q + p)
            if s > cut[top]:
                break
            top -= 1
        if top < 0:
            s = np.float32(-1e9)
        top += 1
        where[top] = q
        base[top] = fq
        cut[top] = s
    if top < 0:
        return
    t = 0
    for p in range(n):
        while t < top and cut[t + 1] < p:
            t += 1
        d = np.float32(p - where[t])
        f[p] = base[t] + d * d


def signed(mesh: Mesh, grid: Grid, reach_mm: float = np.inf) -> Singles:
    """The distance in mm of every cell centre to the surface of the mesh: below 0 in the solid, above 0 outside.

    ``grid`` is :func:`~ringwright.science.voxels.fill` of the same mesh and gives the sign. Within a cell of the
    surface it is exact. Farther off a cell tries the triangles that are nearest to its 26 neighbours, twice; what
    that misses is a hundredth of a cell as a rule, a seventh at worst (tested against the tree). Outside the solid
    and beyond ``reach_mm`` the distance between cell centres stands in, half a cell less.
    """
    best, _, _ = nearest_cells(mesh, grid, reach_mm)
    in_slabs(_sign_slab, grid.shape[0], grid.inside.view(np.uint8), np.float32(grid.h_mm), best)
    if np.isfinite(reach_mm):
        beyond = best >= np.float32(1e5)
        best[beyond] = np.maximum(between_cells(~grid.inside, grid.h_mm)[beyond] - grid.h_mm / 2, reach_mm)
    return best


def nearest_cells(mesh: Mesh, grid: Grid, reach_mm: float) -> tuple[Singles, Indices, Floats]:
    """For each cell the squared distance to the mesh in cells and the triangle that is so near; the triangles in cells.

    Where nothing was looked for, outside the solid and beyond ``reach_mm`` (0: nowhere outside), the distance is
    ``FAR`` and the triangle -1.
    """
    corners = in_cells(mesh, grid.origin_mm, grid.h_mm)
    best = np.full(grid.shape, FAR, np.float32)
    which = np.full(grid.shape, -1, np.int32)
    in_slabs(_paint_slab, grid.shape[0], corners, grid.inside.view(np.uint8), reach_mm > 0, 1.0, best, which)
    _spread(
        corners,
        grid.inside.view(np.uint8),
        min(reach_mm / grid.h_mm, 1e6),
        best,
        which,
        np.empty(best.size, np.int32),
        np.full(best.shape, -1, np.int32),
        np.empty((best.size, 3), np.float32),
    )
    return best, which, corners


def near_skin(mesh: Mesh, grid: Grid, reach_cells: float) -> Singles:
    """The signed distance in mm of the cell centres that are within ``reach_cells`` of the mesh, exactly.

    Elsewhere it is that reach, with its sign. ``grid`` is the mesh's, as in :func:`signed`.
    """
    best = np.full(grid.shape, np.float32(reach_cells**2), np.float32)
    which = np.full((1, 1, 1), -1, np.int32)
    inside = grid.inside.view(np.uint8)
    corners = in_cells(mesh, grid.origin_mm, grid.h_mm)
    in_slabs(_paint_slab, grid.shape[0], corners, inside, True, reach_cells, best, which)
    in_slabs(_sign_slab, grid.shape[0], inside, np.float32(grid.h_mm), best)
    return best


@njit(cache=True, nogil=True)
def _paint_slab(
    start: int,
    stop: int,
    corners: Floats,
    inside: NDArray[np.uint8],
    both: bool,
    reach: float,
    best: Singles,
    which: Indices,
) -> None:
    """Every triangle tells the cells within reach of its box how far it is from them, and which it is if asked."""
    told = which.size == best.size
    _, ny, nz = best.shape
    for m in range(corners.shape[0]):
        i0 = max(start, int(np.floor(min(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0]) - 0.5 - reach)))
        i1 = min(stop - 1, int(np.ceil(max(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0]) - 0.5 + reach)))
        if i1 < i0:
            continue
        j0 = max(0, int(np.floor(min(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) - 0.5 - reach)))
        j1 = min(ny - 1, int(np.ceil(max(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) - 0.5 + reach)))
        normal, middle, wide = _lie(corners, m)
        for i in range(i0, i1 + 1):
            x = i + 0.5 - middle[0]
            for j in range(j0, j1 + 1):
                y = j + 0.5 - middle[1]
                level = x * normal[0] + y * normal[1]
                low, high = _stretch(x, y, level, normal[2], wide, reach)
                k0 = max(0, int(np.floor(middle[2] + low - 0.5)))
                k1 = min(nz - 1, int(np.ceil(middle[2] + high - 0.5)))
                for k in range(k0, k1 + 1):
                    if not both and inside[i, j, k] == 0:
                        continue
                    z = k + 0.5 - middle[2]
                    off = level + z * normal[2]
                    least = best[i, j, k]
                    if off * off > reach * reach or off * off >= least:
                        continue
                    near = np.sqrt(least) + wide
                    if x * x + y * y + z * z >= near * near:
                        continue
                    d = np.float32(away2(corners, m, i + 0.5, j + 0.5, k + 0.5))
                    if d <= reach * reach and d < least:
                        best[i, j, k] = d
                        if told:
                            which[i, j, k] = m


@njit(cache=True, nogil=True)
def _lie(corners: Floats, m: int) -> tuple[Corner, Corner, float]:
    """A triangle's normal (nothing where it has no area), its middle, and the radius of a ball about it."""
    ax, ay, az = corners[m, 0, 0], corners[m, 0, 1], corners[m, 0, 2]
    ux, uy, uz = corners[m, 1, 0] - ax, corners[m, 1, 1] - ay, corners[m, 1, 2] - az
    vx, vy, vz = corners[m, 2, 0] - ax, corners[m, 2, 1] - ay, corners[m, 2, 2] - az
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    long = np.sqrt(nx * nx + ny * ny + nz * nz)
    turn = 1.0 / long if long > 0 else 0.0
    x, y, z = ax + (ux + vx) / 3, ay + (uy + vy) / 3, az + (uz + vz) / 3
    wide = 0.0
    for n in range(3):
        dx, dy, dz = corners[m, n, 0] - x, corners[m, n, 1] - y, corners[m, n, 2] - z
        wide = max(wide, dx * dx + dy * dy + dz * dz)
    return (nx * turn, ny * turn, nz * turn), (x, y, z), np.sqrt(wide) * _ROUNDED


@njit(cache=True, nogil=True)
def _stretch(x: float, y: float, level: float, nz: float, wide: float, reach: float) -> tuple[float, float]:
    """From where to where a column may come within reach of a triangle, from its middle; backwards where nowhere.

    The ball about the triangle, wider by the reach, and the slab of its plane each cut a stretch of the column.
    """
    half = (reach + wide) * (reach + wide) - x * x - y * y
    if half <= 0.0:
        return 1e6, -1e6
    low, high = -np.sqrt(half), np.sqrt(half)
    if abs(nz) > _UPRIGHT:
        one, two = (-reach - level) / nz, (reach - level) / nz
        return max(low, min(one, two) - 1e-6), min(high, max(one, two) + 1e-6)
    if abs(level) > reach + _UPRIGHT * high:
        return 1e6, -1e6
    return low, high


@njit(cache=True, nogil=True)
def _spread(
    corners: Floats, inside: NDArray[np.uint8], reach: float, best: Singles, which: Indices, queue: Indices,
    slot: Indices, foot: Singles,
) -> None:  # fmt: skip
    """Layer by layer away from the surface, then back over all that was reached.

    A neighbour's nearest point stands for its triangle while choosing; the distance to the chosen triangle is exact.
    """
    nx, ny, nz = best.shape
    end = int(np.int64(0))
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                if which[i, j, k] >= 0:
                    queue[end] = (i * ny + j) * nz + k
                    slot[i, j, k] = end
                    end += 1
    seeds = end
    reach2 = np.float32(reach * reach)
    step = 0
    # Out until no more are reached, then back. One loop for both ways, as each call is compiled where it stands.
    while step < 2 * end - seeds:
        back = step >= end
        at = 2 * end - 1 - step if back else step
        step += 1
        n = queue[at]
        i, j, k = n // (ny * nz), (n // nz) % ny, n % nz
        pick = int(which[i, j, k]) if at < seeds else _choice(best, which, slot, foot, i, j, k)
        if pick >= 0:
            x, y, z = i + 0.5, j + 0.5, k + 0.5
            px, py, pz = nearest_on(corners, pick, x, y, z)
            foot[at, 0], foot[at, 1], foot[at, 2] = px, py, pz
            best[i, j, k] = (px - x) * (px - x) + (py - y) * (py - y) + (pz - z) * (pz - z)
            which[i, j, k] = pick
        if back or (inside[i, j, k] == 0 and best[i, j, k] > reach2):
            continue
        for side in range(6):
            p = i + (1 if side == 0 else -1 if side == 1 else 0)
            q = j + (1 if side == 2 else -1 if side == 3 else 0)
            r = k + (1 if side == 4 else -1 if side == 5 else 0)
            if p < 0 or q < 0 or r < 0 or p >= nx or q >= ny or r >= nz or slot[p, q, r] != -1:
                continue
            if reach == 0.0 and inside[p, q, r] == 0:
                continue
            slot[p, q, r] = end
            queue[end] = (p * ny + q) * nz + r
            end += 1


@njit(cache=True, nogil=True)
def _choice(best: Singles, which: Indices, slot: Indices, foot: Singles, i: int, j: int, k: int) -> int:
    """The nearest of the triangles that a cell's neighbours hold; -1 where none is nearer than its own."""
    nx, ny, nz = best.shape
    x, y, z = np.float32(i + 0.5), np.float32(j + 0.5), np.float32(k + 0.5)
    least = best[i, j, k]
    pick = int(np.int64(-1))
    for p in range(max(0, i - 1), min(nx, i + 2)):
        for q in range(max(0, j - 1), min(ny, j + 2)):
            for r in range(max(0, k - 1), min(nz, k + 2)):
                s = slot[p, q, r]
                m = which[p, q, r]
                if s < 0 or m < 0:
                    continue
                dx, dy, dz = foot[s, 0] - x, foot[s, 1] - y, foot[s, 2] - z
                d = dx * dx + dy * dy + dz * dz
                if d < least:
                    least = d
                    pick = int(m)
    return pick


@njit(cache=True, nogil=True)
def _sign_slab(start: int, stop: int, inside: NDArray[np.uint8], h: np.float32, best: Singles) -> None:
    _, ny, nz = best.shape
    for i in range(start, stop):
        for j in range(ny):
            for k in range(nz):
                d = h * np.sqrt(best[i, j, k])
                best[i, j, k] = -d if inside[i, j, k] else d
