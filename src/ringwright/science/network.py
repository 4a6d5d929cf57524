"""A body as cells and who touches whom: what flow and feeding need, whatever grid the cells come from.

Lengths in mm. Cells are numbered from 0; row ``i`` of the links is ``other[start[i]:start[i + 1]]``, every link there
both ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringwright.terms.body import Floats, Ints

Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Network:
    """Cells with their middle, their volume, the surface that they have to the outside, and their neighbours."""

    centre_mm: Floats
    volume_mm3: Floats
    skin_mm2: Floats
    start: Ints
    other: Ints

    @property
    def count(self) -> int:
        """Number of cells."""
        return len(self.volume_mm3)

    @property
    def rows(self) -> Ints:
        """The row of every link."""
        return np.repeat(np.arange(self.count), np.diff(self.start))

    def matrix(self, weights: Floats | None = None) -> Any:
        """The links as a sparse matrix, of ones or of weights."""
        from scipy.sparse import csr_array

        data = np.ones(len(self.other)) if weights is None else weights
        return csr_array((data, self.other, self.start), shape=(self.count, self.count))

    def pieces(self) -> Ints:
        """A number for every cell, the same for all that hang together."""
        from scipy.sparse.csgraph import connected_components

        found: Ints = connected_components(self.matrix(), directed=False)[1].astype(np.int64)
        return found

    def only(self, keep: Bools) -> tuple[Network, Ints]:
        """The network of some of the cells, and their numbers in the whole."""
        number = np.full(self.count, -1)
        kept = np.flatnonzero(keep)
        number[kept] = np.arange(len(kept))
        rows = self.rows
        stays = keep[rows] & keep[self.other]
        return (
            linked(
                self.centre_mm[kept],
                self.volume_mm3[kept],
                self.skin_mm2[kept],
                number[rows[stays]],
                number[self.other[stays]],
            ),
            kept,
        )

    def surface_per_volume(self, rounds: int = 4) -> Floats:
        """Surface over volume about each cell (1/mm): both summed over neighbours, some rounds."""
        links = self.matrix()
        skin, volume = self.skin_mm2.copy(), self.volume_mm3.copy()
        for _ in range(rounds):
            skin, volume = skin + links @ skin, volume + links @ volume
            scale = volume.max()
            skin, volume = skin / scale, volume / scale
        found: Floats = skin / volume
        return found


def linked(centre_mm: Floats, volume_mm3: Floats, skin_mm2: Floats, rows: Ints, other: Ints) -> Network:
    """A network from the two ends of every link (both ways, in any order)."""
    order = np.lexsort((other, rows))
    start = np.zeros(len(volume_mm3) + 1, np.int64)
    np.cumsum(np.bincount(rows, minlength=len(volume_mm3)), out=start[1:])
    return Network(
        centre_mm=np.ascontiguousarray(centre_mm, np.float64),
        volume_mm3=np.ascontiguousarray(volume_mm3, np.float64),
        skin_mm2=np.ascontiguousarray(skin_mm2, np.float64),
        start=start,
        other=np.ascontiguousarray(other[order], np.int64),
    )


def of_shares(
    share: NDArray[np.float32], h_mm: float, corner_mm: tuple[float, float, float], area_mm2: float
) -> Network:
    """The network of a regular grid, from the share of each cell that is inside (cells of less than 1 % are left out).

    The surface ``area_mm2`` of the body is given to the cells by the slope of the shares.
    """
    inside = share > 0.01
    number = np.full(share.shape, -1)
    number[inside] = np.arange(int(inside.sum()))
    rows, other = [], []
    for axis in range(3):
        a = np.moveaxis(number, axis, 0)
        here, there = a[:-1].ravel(), a[1:].ravel()
        both = (here >= 0) & (there >= 0)
        rows += [here[both], there[both]]
        other += [there[both], here[both]]
    slope = np.sqrt(sum(g**2 for g in np.gradient(np.pad(share.astype(np.float64), 1))))[1:-1, 1:-1, 1:-1]
    skin = slope[inside] * (area_mm2 / slope[inside].sum())
    centres = np.argwhere(inside) * h_mm + h_mm / 2 + np.asarray(corner_mm)
    return linked(
        centres,
        share[inside].astype(np.float64) * h_mm**3,
        skin,
        np.concatenate(rows),
        np.concatenate(other),
    )
