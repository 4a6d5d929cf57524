"""A sparse matrix whose rows have six entries as a rule: the links of cells in a lattice.

Each row has six places; a row with more has more places, three at a time, at the end. Places that are not needed lead
to the row itself with nothing in them. Walking along such rows takes a tenth of the time of rows of any length: no
length is read and no jump is guessed wrong.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.terms.body import Ints

Singles = NDArray[np.float32]
Codes = NDArray[np.int32]
Places = NDArray[np.uint32]
SIX, MORE = 6, 3


@dataclass(frozen=True, eq=False)
class Rows:
    """``other[6 i + e]`` is where link e of row i leads; ``other[6 n + 3 m + e]`` links of row ``longer[m]``."""

    other: Places
    longer: Codes

    @property
    def count(self) -> int:
        """Number of rows."""
        return (len(self.other) - MORE * len(self.longer)) // SIX

    @property
    def row_of(self) -> Ints:
        """The row of every place."""
        return np.concatenate([np.repeat(np.arange(self.count), SIX), np.repeat(self.longer, MORE)])


def rows_of(start: Codes, other: Codes) -> tuple[Rows, Ints]:
    """Rows from links one after the other (row i's from ``start[i]`` to ``start[i + 1]``), and the place of each."""
    n = len(start) - 1
    length = np.diff(start)
    over = np.maximum(length - SIX, 0)
    parts = -(-over // MORE)
    longer = np.repeat(np.arange(n, dtype=np.int32), parts)
    row = np.repeat(np.arange(n), length)
    at = np.arange(len(row)) - start[row]
    first = np.concatenate([[0], np.cumsum(parts)])
    place = np.where(at < SIX, SIX * row + at, SIX * n + MORE * first[row] + at - SIX)
    leads = np.concatenate([np.repeat(np.arange(n), SIX), np.repeat(longer, MORE)]).astype(np.uint32)
    leads[place] = other
    return Rows(leads, longer), place


@njit(cache=True, nogil=True, fastmath=True)
def six(i: int, other: Places, g: Singles, p: Singles) -> float:
    """Sum of g p over the six links of row i."""
    e = np.uint64(6 * i)
    f, h = e + np.uint64(1), e + np.uint64(2)
    a, b, c = e + np.uint64(3), e + np.uint64(4), e + np.uint64(5)
    total: float = (
        (g[e] * p[other[e]] + g[f] * p[other[f]])
        + (g[h] * p[other[h]] + g[a] * p[other[a]])
        + (g[b] * p[other[b]] + g[c] * p[other[c]])
    )
    return total


@njit(cache=True, nogil=True, fastmath=True)
def three(m: int, rows: int, other: Places, g: Singles, p: Singles) -> float:
    """Sum of g p over the three more links of part m."""
    e = np.uint64(6 * rows + 3 * m)
    f, h = e + np.uint64(1), e + np.uint64(2)
    total: float = g[e] * p[other[e]] + g[f] * p[other[f]] + g[h] * p[other[h]]
    return total


@njit(cache=True, nogil=True)
def stretch(longer: Codes, first: int, last: int) -> tuple[int, int]:
    """The parts that belong to rows from ``first`` up to ``last``."""
    return int(np.searchsorted(longer, first)), int(np.searchsorted(longer, last))
