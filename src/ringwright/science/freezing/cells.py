"""The cells in which heat is conserved: leaves of an octree, small at the skin, cut by it in two.

The finest leaves (edge h) lie along the surface of the metal on both sides, and the size doubles with the distance.
Only the finest are cut by the surface; a cut leaf is two cells, one of each medium, with their own volume and
temperature. Links carry heat between neighbours of the same medium through the share of the face that the medium has,
and between the media through the piece of surface in the leaf. Shares of faces come from the signed distance at their
corners (linear in between); the piece of surface is what closes the cell (the sum of outward areas is nothing); volumes
come from lines through the mesh itself, so that the mass of metal is the mesh's.

Lengths in mm. The lattice is counted in finest cells from the low corner of the domain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringwright.science.distance import between_cells, near_skin
from ringwright.science.freezing import weave
from ringwright.science.freezing.rows import Rows
from ringwright.science.voxels import fill_in, fractions_in
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import bad

Singles = NDArray[np.float32]
METAL, MOULD = 0, 1
SLIVER = 2e-3
"""A part of a leaf below this share is given to the other medium."""


@dataclass(frozen=True, kw_only=True)
class Room:
    """The cylinder that holds metal and mould, upright along z, about the z axis: radius, bottom and top in mm."""

    radius_mm: float
    bottom_mm: float
    top_mm: float


@dataclass(frozen=True, kw_only=True)
class Grading:
    """How the leaves grow: finest edge, largest edge, and how many of a size lie before the next, on each side."""

    h_mm: float
    largest_mm: float = 3.3
    metal_layers: float = 2.0
    mould_layers: float = 3.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Links:
    """Who exchanges heat with whom, row by row, both ways.

    ``reach_mm`` is area over distance for each place of the rows that is a link within a medium, 0 across the surface.
    The links across, both ways, are at the places ``across`` of the rows ``across_row``, with their area, the depth of
    the cell on the row's own side and on the other's, and the sum of the surface's curvatures there (1/mm, positive
    where the metal bulges). ``steep`` are the places of links in the mould beside the surface (``steep_row`` their
    rows), with the depths ``steep_mm`` that the two cells reach from and to, the nearer first, and that of their face.
    """

    rows: Rows
    reach_mm: Singles
    across: Ints
    across_row: NDArray[np.int32]
    across_mm2: Singles
    own_depth_mm: Singles
    other_depth_mm: Singles
    bend_mm: Singles
    steep: Ints
    steep_row: NDArray[np.int32]
    steep_mm: Singles


@dataclass(frozen=True, eq=False, kw_only=True)
class Cells:
    """All cells, the metal's first, each medium along the octree's curve.

    ``key`` is the place on that curve, ``edge_mm`` the leaf's edge. ``wall_cell``, ``wall_mm2`` and ``wall_mm`` tell
    which cells touch the room's walls, with what area and how far their middle is from it; ``wall_side`` 0 side, 1 top,
    2 bottom.
    """

    metal: int
    key: Ints
    edge_mm: Singles
    centre_mm: Singles
    volume_mm3: Floats
    links: Links
    wall_cell: Ints
    wall_mm2: Floats
    wall_mm: Floats
    wall_side: Ints

    @property
    def count(self) -> int:
        """Number of cells."""
        return len(self.key)

    @property
    def medium(self) -> NDArray[np.int8]:
        """0 for metal, 1 for mould."""
        found = np.full(self.count, MOULD, np.int8)
        found[: self.metal] = METAL
        return found


@dataclass(frozen=True, eq=False)
class _Level:
    """One size of leaf on a box of the lattice: what is there. ``low`` in units of this size."""

    low: Ints
    inside: NDArray[np.bool_]
    refined: NDArray[np.bool_]
    exists: NDArray[np.bool_]


def cells_of(metal: Mesh, room: Room, grading: Grading) -> Cells:
    """The cells of a closed mesh of metal in its mould. Raises ``BadInput`` where the metal is not within the room."""
    h = grading.h_mm
    depth = max(0, int(np.floor(np.log2(grading.largest_mm / h) + 1e-9)))
    root = h * 2**depth
    width = int(np.ceil(room.radius_mm / root - 1e-9))
    roots = (2 * width, 2 * width, int(np.ceil((room.top_mm - room.bottom_mm) / root - 1e-9)))
    low = np.array([-width * root, -width * root, room.top_mm - roots[2] * root])
    lattice = np.array(roots) * 2**depth

    margin = 2 * int(np.ceil(max(grading.metal_layers, grading.mould_layers))) + 3
    first = np.maximum(np.floor((metal.vertices_mm.min(axis=0) - low) / h).astype(int) - margin, 0) // 2 * 2
    last = np.minimum(np.ceil((metal.vertices_mm.max(axis=0) - low) / h).astype(int) + margin, lattice)
    last = np.minimum(-(-last // 2) * 2, lattice)
    if np.any(last <= first):
        raise bad("metal", "the metal lies outside the flask", "place it within")
    if depth == 0:
        first, last = np.zeros(3, int), lattice
    shape = (int(last[0] - first[0]), int(last[1] - first[1]), int(last[2] - first[2]))
    corner = low + first * h
    at = (float(corner[0]), float(corner[1]), float(corner[2]))

    share = fractions_in(metal, h, at, shape)
    share[share < SLIVER] = 0.0
    share[share > 1 - SLIVER] = 1.0
    knots = tuple(n + 1 for n in shape)
    off = (at[0] - h / 2, at[1] - h / 2, at[2] - h / 2)
    skin_mm = near_skin(metal, fill_in(metal, h, off, (knots[0], knots[1], knots[2])), weave.REACH)

    levels = _levels(share, skin_mm, first, lattice, depth, grading)
    return weave.woven(levels, share, skin_mm, h, low, lattice, room)


def _levels(share: Singles, skin_mm: Singles, first: Ints, lattice: Ints, depth: int, grading: Grading) -> list[_Level]:
    """Which leaves there are, size by size, the finest first."""
    inside = share >= 0.5
    skin = (share > 0) & (share < 1) | weave.crossed(skin_mm)
    low = first
    boxes = []
    for level in range(depth + 1):
        boxes.append((low, inside, _to_refine(skin, inside, grading) if level < depth else None))
        if level == depth:
            break
        low, inside, skin = _pooled(low, inside, skin, lattice // 2 ** (level + 1), level + 1 == depth, grading)
    levels: list[_Level] = []
    above: NDArray[np.bool_] | None = None
    for level in range(depth, -1, -1):
        low, inside, _ = boxes[level]
        exists = np.ones(inside.shape, bool) if above is None else above
        refined = np.zeros(inside.shape, bool)
        if level > 0:
            finer_low, finer, split = boxes[level - 1]
            assert split is not None
            at = finer_low // 2 - low
            a, b, c = (slice(int(o), int(o) + n // 2) for o, n in zip(at, finer.shape, strict=True))
            refined[a, b, c] = split
            above = np.repeat(np.repeat(np.repeat(refined[a, b, c], 2, 0), 2, 1), 2, 2)
        levels.insert(0, _Level(low, inside, refined & exists, exists))
    return levels


def _to_refine(skin: NDArray[np.bool_], inside: NDArray[np.bool_], grading: Grading) -> NDArray[np.bool_]:
    """Which eights of cells may not be one leaf: those with a cell too near the skin."""
    away = between_cells(~skin, 1.0)
    near = away < np.where(inside, np.float32(grading.metal_layers), np.float32(grading.mould_layers)) + np.float32(0.5)
    return np.asarray(_eights(near).any(axis=(1, 3, 5)))


def _eights(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    a, b, c = (n // 2 for n in cells.shape)
    return cells.reshape(a, 2, b, 2, c, 2)


def _pooled(
    low: Ints, inside: NDArray[np.bool_], skin: NDArray[np.bool_], lattice: Ints, whole: bool, grading: Grading
) -> tuple[Ints, NDArray[np.bool_], NDArray[np.bool_]]:
    """The next size up on a wider box: the cells with skin in them, and whether the others are metal."""
    small_inside, small_skin = _eights(inside).any(axis=(1, 3, 5)), _eights(skin).any(axis=(1, 3, 5))
    margin = 2 * int(np.ceil(max(grading.metal_layers, grading.mould_layers))) + 3
    at = low // 2
    first = np.zeros(3, int) if whole else np.maximum(at - margin, 0) // 2 * 2
    last = lattice if whole else np.minimum(-(-(at + np.array(small_skin.shape) + margin) // 2) * 2, lattice)
    shape = tuple(int(n) for n in last - first)
    wide_inside, wide_skin = np.zeros(shape, bool), np.zeros(shape, bool)
    a, b, c = (slice(int(o), int(o) + n) for o, n in zip(at - first, small_skin.shape, strict=True))
    wide_inside[a, b, c], wide_skin[a, b, c] = small_inside, small_skin
    return first, wide_inside, wide_skin
