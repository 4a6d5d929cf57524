"""The metal as it is looked at: voxels, points within it, its skin, and what is read at the skin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ringwright.science.bricks import Voxels
from ringwright.science.skin import Patches
from ringwright.terms.body import Floats, Mesh
from ringwright.terms.piece import Piece

# Voxels along the edge of a cell, of one mesh after the other: all see the same voxels.
MESHES = (10, 8, 6, 5)
# How large the points are that the stress is taken at, and how full of metal: as small as the linear fit needs.
_POINT_MM = 0.22
_LEAST = 0.1
# Stress is fitted linearly over this distance before its maximum is taken (ringwright.science.stress): half of a
# claw's thickness, so that bending counts in full, and the peak in a corner drawn without a radius does not.
_LINEAR_MM = 0.5


@dataclass(frozen=True, eq=False)
class Metal:
    """All of it that no mesh changes.

    ``inner_mm`` (p, 3) points in the metal; ``skin`` where loads push; ``places`` where the stress is read, by
    ``fit`` (places, p) of the stress at the inner points. ``floor_mm``: where a head is cut off and held.
    """

    voxels: Voxels
    inner_mm: Floats
    skin: Patches
    places: Patches
    fit: Any
    floor_mm: float | None = None


def whole(piece: Piece, cells: int) -> Metal:
    """The whole ring, in voxels so small that its metal would fill about so many cells of the second mesh."""
    from ringwright.science import solids
    from ringwright.science.skin import coarser, patches
    from ringwright.science.voxels import fractions

    h = (solids.volume(piece.metal) / cells) ** (1 / 3) / MESHES[1]
    grid, share = fractions(piece.metal, h, margin_cells=1)
    skin = patches(piece.metal, 0.2)
    return _seen(Voxels(np.asarray(grid.origin_mm), h, share), skin, coarser(skin, 0.25))


def head(piece: Piece, floor_mm: float, cells: int) -> Metal:
    """What stands above a height."""
    from ringwright.science.skin import coarser, patches
    from ringwright.science.voxels import fractions_in

    metal = piece.metal.vertices_mm
    faces = piece.metal.faces[(metal[piece.metal.faces, 1] > floor_mm).any(axis=1)]
    corners = metal[faces].reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    low[1] = floor_mm

    def seen(h: float) -> Voxels:
        shape = np.ceil((high - low) / h).astype(int) + 2
        corner = (low + high) / 2.0 - shape * h / 2.0
        corner[1] = floor_mm
        where, many = tuple(float(v) for v in corner), tuple(int(n) for n in shape)
        return Voxels(
            corner, h, fractions_in(piece.metal, h, (where[0], where[1], where[2]), (many[0], many[1], many[2]))
        )

    rough = 0.2
    volume = max(float(seen(rough).share.sum()) * rough**3, rough**3)
    skin = patches(Mesh(metal, faces), 0.15)
    skin = skin.where(skin.points_mm[:, 1] > floor_mm)
    read = coarser(skin, 0.25)
    read = read.where(read.points_mm[:, 1] > floor_mm + _LINEAR_MM)
    made = _seen(seen((volume / cells) ** (1 / 3) / MESHES[1]), skin, read)
    return Metal(made.voxels, made.inner_mm, skin, read, made.fit, floor_mm)


def _seen(voxels: Voxels, skin: Patches, places: Patches) -> Metal:
    from ringwright.science.stress import fitting

    inner, volumes = _inner(voxels, max(2, round(_POINT_MM / voxels.h_mm)))
    return Metal(voxels, inner, skin, places, fitting(inner, volumes, places.points_mm, _LINEAR_MM))


def _inner(voxels: Voxels, block: int) -> tuple[Floats, Floats]:
    """The middle of the metal in each block of so many voxels an edge, and its volume."""
    shape = voxels.share.shape
    count = [-(-n // block) for n in shape]
    share = np.zeros([block * n for n in count], np.float32)
    share[: shape[0], : shape[1], : shape[2]] = voxels.share
    cut = share.reshape(count[0], block, count[1], block, count[2], block).transpose(0, 2, 4, 1, 3, 5)
    sums = cut.sum(axis=(3, 4, 5))
    at = np.argwhere(sums > _LEAST * block**3)
    mine = cut[tuple(at.T)].reshape(len(at), -1)
    size = mine.sum(axis=1)
    offset = mine @ (np.array(list(np.ndindex(block, block, block))) + 0.5) / size[:, None]
    return voxels.origin_mm + voxels.h_mm * (block * at + offset), size * voxels.h_mm**3
