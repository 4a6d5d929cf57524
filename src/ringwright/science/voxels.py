"""A closed triangle mesh as cells of one size: which are inside, and what share of each is.

Every column of cells along z is a line; where it crosses the surface the winding number changes by one. The crossing
is decided edge by edge: a line at (x, y) hits a triangle when one of its edges passes above (x, y) in the plane and
its other edges do not, and an edge's answer is computed from its own two ends only, always taken from left to right.
Both triangles at an edge therefore get the same answer bit for bit, so the crossings of a closed mesh cancel in every
column, whatever the rounding, and a line through an edge or a vertex needs no special case.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.slabs import CORES, in_slabs
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import bad

Bools = NDArray[np.bool_]
Corner = tuple[float, float, float]
Shape = tuple[int, int, int]


@dataclass(frozen=True, eq=False)
class Grid:
    """Cells of edge ``h_mm``; ``inside[i, j, k]`` tells whether the centre of a cell lies in the solid.

    The centre of cell (i, j, k) is at ``origin_mm + (i + 1/2, j + 1/2, k + 1/2) h_mm``.
    """

    origin_mm: tuple[float, float, float]
    h_mm: float
    inside: Bools

    @property
    def shape(self) -> tuple[int, int, int]:
        """Number of cells in x, y and z."""
        nx, ny, nz = self.inside.shape
        return nx, ny, nz

    @property
    def volume_mm3(self) -> float:
        """Volume of the cells that are inside."""
        return float(np.count_nonzero(self.inside)) * self.h_mm**3

    def axes_mm(self) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
        """The x, y and z coordinates of the cell centres."""
        (x0, y0, z0), (nx, ny, nz), h = self.origin_mm, self.shape, self.h_mm
        return x0 + (np.arange(nx) + 0.5) * h, y0 + (np.arange(ny) + 0.5) * h, z0 + (np.arange(nz) + 0.5) * h

    def cell_of(self, points_mm: Floats) -> Ints:
        """The index (n, 3) of the cell that holds each point; may lie outside the grid."""
        cells: Ints = np.floor((np.asarray(points_mm) - np.asarray(self.origin_mm)) / self.h_mm).astype(np.int64)
        return cells

    def centres_of(self, cells: Ints) -> Floats:
        """The centres (n, 3) of the cells of those indices, in mm."""
        centres: Floats = np.asarray(self.origin_mm) + (np.asarray(cells) + 0.5) * self.h_mm
        return centres


def box(mesh: Mesh, h_mm: float, margin_cells: int) -> tuple[Corner, Shape]:
    """The corner and the number of cells of a grid about the mesh, ``margin_cells`` wider on each side.

    The grid is centred on the mesh, so that a symmetric mesh gives symmetric cells.
    """
    if not h_mm > 0:
        raise bad("cell size", f"{h_mm} mm is no size of a cell", "give a size above 0 mm")
    if len(mesh.faces) == 0:
        raise bad("mesh", "the mesh has no triangles", "give a closed solid")
    columns = mesh.vertices_mm.T
    low, high = np.array([c.min() for c in columns]), np.array([c.max() for c in columns])
    if not (np.isfinite(low).all() and np.isfinite(high).all()):
        raise bad("mesh", "a vertex has a coordinate that is no number", "write the model again from its program")
    cells = np.maximum(1, np.ceil((high - low) / h_mm - 1e-9).astype(int)) + 2 * margin_cells
    corner = (low + high) / 2 - cells * h_mm / 2
    return (float(corner[0]), float(corner[1]), float(corner[2])), (int(cells[0]), int(cells[1]), int(cells[2]))


def fill(mesh: Mesh, h_mm: float, margin_cells: int = 2) -> Grid:
    """The cells whose centres lie inside a closed mesh. Bodies that overlap count once.

    Raises ``BadInput`` if a column of cells goes in and does not come out (the mesh is not closed).
    """
    return fill_in(mesh, h_mm, *box(mesh, h_mm, margin_cells))


def fill_in(mesh: Mesh, h_mm: float, origin_mm: Corner, shape: Shape) -> Grid:
    """As :func:`fill`, on a grid given by its corner and its number of cells; the mesh may reach out of it."""
    inside = np.zeros(shape, np.int8)
    corners = in_cells(mesh, origin_mm, h_mm)
    ends = np.zeros(shape[:2], np.int32)
    open_columns = sum(in_slabs(_fill_slab, shape[0], corners, inside, ends, bounds=_even_cuts(corners, shape[0])))
    if open_columns:
        raise _not_closed(open_columns, shape[0] * shape[1])
    return Grid(origin_mm, h_mm, inside.view(np.bool_))


def fractions(mesh: Mesh, h_mm: float, margin_cells: int = 2, lines: int = 4) -> tuple[Grid, NDArray[np.float32]]:
    """The grid of :func:`fill` and the share of every cell that is inside the mesh (0 to 1).

    ``lines`` by ``lines`` lines along z through every column; along each the length inside is exact. Where bodies
    overlap the share is cut off at 1.
    """
    grid = fill(mesh, h_mm, margin_cells)
    return grid, fractions_in(mesh, h_mm, grid.origin_mm, grid.shape, lines)


def fractions_in(mesh: Mesh, h_mm: float, origin_mm: Corner, shape: Shape, lines: int = 4) -> NDArray[np.float32]:
    """The shares of :func:`fractions` on a grid given by its corner and its number of cells."""
    corners = in_cells(mesh, origin_mm, h_mm)
    share, part = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    in_slabs(_share_slab, shape[0], corners, share, part, lines, bounds=_even_cuts(corners, shape[0]))
    return share


def _not_closed(columns: int, of: int) -> Exception:
    return bad(
        "mesh", f"the surface is not closed: {columns} of {of} lines through it go in and do not come out", "mend it"
    )


def in_cells(mesh: Mesh, origin: Corner, h_mm: float) -> Floats:
    """The corners (m, 3, 3) of the triangles, in cells from the grid's corner."""
    return np.take((mesh.vertices_mm - np.asarray(origin)) / h_mm, mesh.faces, axis=0)


def _even_cuts(corners: Floats, nx: int) -> tuple[int, ...]:
    """Slabs in x that hold about the same number of triangles."""
    if CORES < 2 or nx < 2 * CORES:
        return ()
    middle = np.bincount(np.clip(corners[:, 0, 0].astype(np.int64), 0, nx - 1), minlength=nx)
    share = np.cumsum(middle + len(corners) / nx)
    cuts = np.searchsorted(share, share[-1] * np.arange(1, CORES) / CORES)
    return tuple(int(c) for c in np.unique(np.clip(cuts, 1, nx - 1)))


@njit(cache=True, nogil=True)
def _above(ax: float, ay: float, bx: float, by: float, x: float, y: float) -> int:
    """+1 or -1 if the edge a to b passes above (x, y) from left to right or back, else 0."""
    if (ax <= x) == (bx <= x):
        return 0
    if ax <= x:
        return 1 if ay + (x - ax) * ((by - ay) / (bx - ax)) > y else 0
    return -1 if by + (x - bx) * ((ay - by) / (ax - bx)) > y else 0


@njit(cache=True, nogil=True)
def _height(c: Floats, m: int, x: float, y: float) -> float:
    """Where the plane of triangle m of c stands above (x, y), within the triangle's own heights."""
    ux, uy, uz = c[m, 1, 0] - c[m, 0, 0], c[m, 1, 1] - c[m, 0, 1], c[m, 1, 2] - c[m, 0, 2]
    vx, vy, vz = c[m, 2, 0] - c[m, 0, 0], c[m, 2, 1] - c[m, 0, 1], c[m, 2, 2] - c[m, 0, 2]
    nz = ux * vy - uy * vx
    low = min(c[m, 0, 2], c[m, 1, 2], c[m, 2, 2])
    high = max(c[m, 0, 2], c[m, 1, 2], c[m, 2, 2])
    if nz == 0.0:
        return float(0.5 * (low + high))
    nx = uy * vz - uz * vy
    ny = uz * vx - ux * vz
    z = c[m, 0, 2] - (nx * (x - c[m, 0, 0]) + ny * (y - c[m, 0, 1])) / nz
    return float(min(max(z, low), high))


@njit(cache=True, nogil=True)
def _fill_slab(start: int, stop: int, corners: Floats, out: NDArray[np.int8], ends: NDArray[np.int32]) -> int:
    """Winding changes of the columns start <= i < stop, then their sums along z; counts columns that stay open."""
    ny, nz = out.shape[1], out.shape[2]
    for m in range(corners.shape[0]):
        x0 = min(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0])
        x1 = max(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0])
        i0 = max(start, int(np.ceil(x0 - 0.5)))
        i1 = min(stop - 1, int(np.floor(x1 - 0.5)))
        if i1 < i0:
            continue
        j0 = max(0, int(np.ceil(min(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) - 0.5)))
        j1 = min(ny - 1, int(np.floor(max(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) - 0.5)))
        for i in range(i0, i1 + 1):
            x = i + 0.5
            for j in range(j0, j1 + 1):
                y = j + 0.5
                turn = (
                    _above(corners[m, 0, 0], corners[m, 0, 1], corners[m, 1, 0], corners[m, 1, 1], x, y)
                    + _above(corners[m, 1, 0], corners[m, 1, 1], corners[m, 2, 0], corners[m, 2, 1], x, y)
                    + _above(corners[m, 2, 0], corners[m, 2, 1], corners[m, 0, 0], corners[m, 0, 1], x, y)
                )
                if turn == 0:
                    continue
                ends[i, j] += turn
                k = max(0, int(np.ceil(_height(corners, m, x, y) - 0.5)))
                if k < nz:
                    out[i, j, k] += turn
    wrong = 0
    for i in range(start, stop):
        for j in range(ny):
            if ends[i, j] != 0:
                wrong += 1
            turns = 0
            for k in range(nz):
                turns += out[i, j, k]
                out[i, j, k] = 1 if turns != 0 else 0
    return wrong


@njit(cache=True, nogil=True)
def _share_slab(
    start: int, stop: int, corners: Floats, out: NDArray[np.float32], part: NDArray[np.float32], lines: int
) -> int:
    """Adds up what each of ``lines`` squared lines of a column contributes to its cells."""
    ny, nz = out.shape[1], out.shape[2]
    weight = 1.0 / (lines * lines)
    for m in range(corners.shape[0]):
        u0 = max(start * lines, int(np.ceil(min(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0]) * lines - 0.5)))
        u1 = min(
            stop * lines - 1, int(np.floor(max(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0]) * lines - 0.5))
        )
        if u1 < u0:
            continue
        v0 = max(0, int(np.ceil(min(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) * lines - 0.5)))
        v1 = min(ny * lines - 1, int(np.floor(max(corners[m, 0, 1], corners[m, 1, 1], corners[m, 2, 1]) * lines - 0.5)))
        for u in range(u0, u1 + 1):
            x = (u + 0.5) / lines
            for v in range(v0, v1 + 1):
                y = (v + 0.5) / lines
                turn = (
                    _above(corners[m, 0, 0], corners[m, 0, 1], corners[m, 1, 0], corners[m, 1, 1], x, y)
                    + _above(corners[m, 1, 0], corners[m, 1, 1], corners[m, 2, 0], corners[m, 2, 1], x, y)
                    + _above(corners[m, 2, 0], corners[m, 2, 1], corners[m, 0, 0], corners[m, 0, 1], x, y)
                )
                if turn == 0:
                    continue
                z = min(max(_height(corners, m, x, y), 0.0), float(nz))
                k = min(nz - 1, int(z))
                part[u // lines, v // lines, k] += turn * weight * (k + 1 - z)
                if k + 1 < nz:
                    out[u // lines, v // lines, k + 1] += turn * weight
    total = 0.0
    for i in range(start, stop):
        for j in range(ny):
            run = 0.0
            for k in range(nz):
                run += out[i, j, k]
                out[i, j, k] = run + part[i, j, k]
                total += out[i, j, k]
    sense = np.float32(1 if total >= 0 else -1)
    for i in range(start, stop):
        for j in range(ny):
            for k in range(nz):
                out[i, j, k] = min(np.float32(1), max(np.float32(0), sense * out[i, j, k]))
    return 0
