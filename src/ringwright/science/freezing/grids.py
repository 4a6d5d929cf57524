"""The system of one time step, (M + K) x = r, and its coarser images.

M is diagonal (heat capacity over the step, and what the walls take), K conducts: its rows add up to nothing. A coarser
level joins all cells of a medium in one cube of the octree into one unknown; what it stores are the sums of M and of
the links between different cubes. Unknowns of a level lie along the octree's curve: a cube's cells follow each other.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.freezing.cells import Cells
from ringwright.science.freezing.crew import Crew
from ringwright.science.freezing.rows import MORE, SIX, Rows, rows_of, six, stretch, three

Singles = NDArray[np.float32]
Codes = NDArray[np.int32]
Places = NDArray[np.uint32]
Flags = NDArray[np.uint8]
FEWEST = 60
"""A level with no more unknowns than this is solved directly."""
ALONE = 12_000
"""A level with no more unknowns than this is not worth a second thread."""
DAMP = 0.9
"""Share of a Jacobi sweep that is taken."""
_KEEP = np.float32(1 - DAMP)
STEEPNESS = 0.6
"""Joined cells lie farther apart than cells: a coarse link is the sum to this power of the ratio of distances."""
_SHARES = np.array([1.0, 0.75**STEEPNESS, 0.5**STEEPNESS], np.float32)
"""By how many of a link's two ends are of their level's own size, and are joined to cubes of twice that."""


@dataclass(eq=False)
class Level:
    """One level: rows of links, M, and the way to the next coarser level.

    ``child`` gives each coarse unknown's first own unknown (they follow each other), ``above`` each unknown's coarse
    one, ``to`` each link's place among the coarse links (-1: within a cube), ``small`` whether it is of its level's own
    size (and no larger leaf). Working vectors live here too; ``out`` is the sum of each row's conductances, ``pace``
    the share of a residual that a sweep takes.
    """

    rows: Rows
    conductance: Singles = field(init=False)
    mass: Singles = field(init=False)
    out: Singles = field(init=False)
    pace: Singles = field(init=False)
    r: Singles = field(init=False)
    z: Singles = field(init=False)
    w: Singles = field(init=False)
    cuts: tuple[int, ...] = field(init=False)
    child: Codes | None = None
    above: Codes | None = None
    to: Codes | None = None
    small: Flags | None = None
    child_cuts: tuple[int, ...] = (0, 0)
    inverse: Singles | None = None

    def __post_init__(self) -> None:
        n = self.rows.count
        self.conductance = np.zeros(len(self.rows.other), np.float32)
        self.mass, self.out, self.pace, self.r, self.z, self.w = (np.zeros(n, np.float32) for _ in range(6))
        self.cuts = (0, n)

    @property
    def count(self) -> int:
        """Number of unknowns."""
        return len(self.mass)

    @property
    def links(self) -> tuple[Places, Codes, Singles]:
        """What a kernel reads to walk along the rows."""
        return self.rows.other, self.rows.longer, self.conductance


def levels_of(cells: Cells, hands: int) -> list[Level]:
    """All levels, the finest first; structure only."""
    key, medium, edge = cells.key, cells.medium.astype(np.int64), cells.edge_mm
    size = 1.001 * float(edge.min())
    levels = [Level(cells.links.rows)]
    while levels[-1].count > FEWEST:
        level = levels[-1]
        key = key >> 3
        fresh = np.concatenate([[True], (np.diff(key) != 0) | (np.diff(medium) != 0)])
        if fresh.all() and key.max() == 0:
            break
        level.child = np.append(np.flatnonzero(fresh), level.count).astype(np.int32)
        level.above = (np.cumsum(fresh) - 1).astype(np.int32)
        level.small = (edge < size).astype(np.uint8)
        size *= 2
        key, medium, edge = key[fresh], medium[fresh], np.maximum(edge[fresh], np.float32(size / 1.001))
        coarse, level.to = _coarser(level)
        level.child_cuts = _even(coarse.count, level.count, hands)
        level.cuts = tuple(int(level.child[c]) for c in level.child_cuts)
        levels.append(Level(coarse))
    return levels


def _even(coarse: int, fine: int, hands: int) -> tuple[int, ...]:
    """Equal slabs of the coarse unknowns; one slab for a small level."""
    if fine <= ALONE or hands < 2:
        return (0, coarse)
    return tuple(int(c) for c in np.linspace(0, coarse, hands + 1))


def _coarser(level: Level) -> tuple[Rows, Codes]:
    """The rows of the next level, and the place there of each of this level's links (-1 within a cube)."""
    assert level.child is not None
    assert level.above is not None
    cubes = len(level.child) - 1
    others, longer = level.rows.other, level.rows.longer
    count = np.zeros(cubes + 1, np.int32)
    to = np.full(len(others), -1, np.int32)
    _join(level.child, others, longer, level.above, count, np.empty(0, np.int32), to)
    start = np.cumsum(count, dtype=np.int32)
    joined = np.empty(start[-1], np.int32)
    _join(level.child, others, longer, level.above, start.copy(), joined, to)
    rows, place = rows_of(start, joined)
    some = to >= 0
    to[some] = place[to[some]]
    return rows, to


@njit(cache=True, nogil=True)
def _join(child: Codes, other: Places, longer: Codes, above: Codes, row: Codes, joined: Codes, to: Codes) -> None:
    """The coarse links: each pair of cubes that any link joins, once. Counts them, or writes them from ``row`` on."""
    cubes = child.size - 1
    n = above.size
    write = joined.size > 0
    last = np.full(cubes, -1, np.int32)
    slot = np.empty(cubes, np.int32)
    m = 0
    for c in range(cubes):
        begin = row[c] if write else 0
        at = begin
        for i in range(child[c], child[c + 1]):
            e = SIX * i
            end = e + SIX
            while True:
                for f in range(e, end):
                    a = above[other[f]]
                    if a == c:
                        continue
                    if last[a] != c:
                        last[a] = c
                        slot[a] = at
                        if write:
                            joined[at] = a
                        at += 1
                    to[f] = slot[a]
                if m == longer.size or longer[m] != i:
                    break
                e = SIX * n + MORE * m
                end = e + MORE
                m += 1
        if not write:
            row[c + 1] = at - begin


class System:
    """(M + K) x = r on all levels, solved by conjugate gradients with one multigrid cycle for each iteration."""

    def __init__(self, cells: Cells, crew: Crew) -> None:
        self.levels = levels_of(cells, crew.hands)
        self.crew = crew
        n = self.levels[0].count
        self.p, self.q = np.zeros(n, np.float32), np.zeros(n, np.float32)
        self.iterations = 0

    def conduct(self) -> None:
        """Take over new conductances of the finest level into the coarser ones."""
        for fine, coarse in zip(self.levels, self.levels[1:], strict=False):
            self.crew(
                _sum_links, fine.child_cuts, fine.child, *fine.links, fine.to, fine.small, _SHARES,
                coarse.rows.longer, coarse.count, coarse.conductance,
            )  # fmt: skip
        for level in self.levels:
            self.crew(_sum_rows, level.cuts, level.rows.longer, level.conductance, level.out)

    def weigh(self) -> None:
        """Take over a new M of the finest level: how fast sweeps go everywhere, and the coarsest level's inverse."""
        for fine, coarse in zip(self.levels, self.levels[1:], strict=False):
            self.crew(_sum_mass, fine.child_cuts, fine.child, fine.mass, coarse.mass)
        for level in self.levels:
            self.crew(_paces, level.cuts, level.mass, level.out, np.float32(DAMP), level.pace)
        last = self.levels[-1]
        matrix = np.zeros((last.count, last.count))
        np.add.at(matrix, (last.rows.row_of, last.rows.other), -last.conductance.astype(np.float64))
        matrix[np.diag_indices(last.count)] += last.out.astype(np.float64) + last.mass
        last.inverse = np.linalg.inv(matrix).astype(np.float32)

    def solve(self, x: Singles, enough: float, most: int) -> tuple[float, float, int]:
        """Improve x = 0 until z . r, with z the cycle's answer to the residual r, is below ``enough``.

        The residual stands in the finest level's ``r`` before and after. Gives the last z . r, what x gained along the
        first residual, and how many iterations it took.
        """
        fine, crew = self.levels[0], self.crew
        crew(_first, fine.cuts, fine.r, fine.pace, fine.z)
        rz = self._cycle(0)
        beta = gain = 0.0
        for turn in range(most):
            if not rz > enough:  # or no number
                return rz, gain, turn
            crew(_advance, fine.cuts, np.float32(beta), fine.z, self.p)
            pq = sum(crew(_apply, fine.cuts, *fine.links, fine.mass, fine.out, self.p, self.q))
            alpha = rz / pq
            crew(_step, fine.cuts, np.float32(alpha), self.p, self.q, fine.pace, x, fine.r, fine.z)
            gain += alpha * rz
            fresh = self._cycle(0)
            self.iterations += 1
            beta, rz = fresh / rz, fresh
        return rz, gain, most

    def _cycle(self, n: int) -> float:
        """z, a coarse answer to r, on level n, where it is a sweep's answer before; gives z . r."""
        level, crew = self.levels[n], self.crew
        if level.inverse is not None:
            np.dot(level.inverse, level.r, out=level.z)
            return 0.0
        coarse = self.levels[n + 1]
        crew(
            _restrict, level.child_cuts, level.child, level.above, *level.links, _KEEP, level.r, level.z,
            coarse.pace, coarse.r, coarse.z,
        )  # fmt: skip
        self._cycle(n + 1)
        crew(_spread, level.cuts, level.above, coarse.z, level.z)
        rz = sum(crew(_smooth, level.cuts, *level.links, _KEEP, level.pace, level.r, level.z, level.w))
        level.z, level.w = level.w, level.z
        return float(rz)

    def bytes_of_iteration(self) -> float:
        """What one iteration must read and write at least, each vector of each sweep once: counted, not measured.

        A matrix is 8 bytes for each place (where it leads, and its value) and 8 for each row (M and the sum); vectors
        are 4 bytes each: advance reads 2 and writes 1, apply 1 and 1, step 5 and 3, and on each level restrict 2 (and
        one number of the way up), spread 2 and 1, smooth 3 and 1; the coarse side 3 for each coarse unknown.
        """
        finest = self.levels[0]
        total = 8.0 * len(finest.rows.other) + (8 + 4 * (3 + 2 + 8)) * finest.count
        for level, coarse in zip(self.levels, self.levels[1:], strict=False):
            total += 2 * (8.0 * len(level.rows.other) + 8 * level.count) + 4 * (2 + 1 + 3 + 1 + 4) * level.count
            total += 4 * 4 * coarse.count
        return total


@njit(cache=True, nogil=True)
def _sum_links(
    first: int, last: int, child: Codes, other: Places, longer: Codes, fine: Singles, to: Codes, small: Flags,
    share: Singles, above_longer: Codes, cubes: int, coarse: Singles,
) -> None:  # fmt: skip
    """The coarse links: sums of the fine ones, less by ``share`` for each end that grows with its cube."""
    coarse[SIX * first : SIX * last] = 0
    a, b = stretch(above_longer, first, last)
    coarse[SIX * cubes + MORE * a : SIX * cubes + MORE * b] = 0
    n = child[cubes]
    begin, end = child[first], child[last]
    for i in range(begin, end):
        for f in range(SIX * i, SIX * i + SIX):
            if to[f] >= 0:
                coarse[to[f]] += fine[f] * share[small[i] + small[other[f]]]
    a, b = stretch(longer, begin, end)
    for m in range(a, b):
        place = SIX * n + MORE * m
        for f in range(place, place + MORE):
            if to[f] >= 0:
                coarse[to[f]] += fine[f] * share[small[longer[m]] + small[other[f]]]


@njit(cache=True, nogil=True)
def _sum_rows(first: int, last: int, longer: Codes, g: Singles, out: Singles) -> None:
    for i in range(first, last):
        e = SIX * i
        out[i] = ((g[e] + g[e + 1]) + (g[e + 2] + g[e + 3])) + (g[e + 4] + g[e + 5])
    a, b = stretch(longer, first, last)
    for m in range(a, b):
        e = SIX * out.size + MORE * m
        out[longer[m]] += g[e] + g[e + 1] + g[e + 2]


@njit(cache=True, nogil=True)
def _sum_mass(first: int, last: int, child: Codes, fine: Singles, coarse: Singles) -> None:
    for c in range(first, last):
        m = np.float32(0)
        for i in range(child[c], child[c + 1]):
            m += fine[i]
        coarse[c] = m


@njit(cache=True, nogil=True, error_model="numpy")
def _paces(first: int, last: int, mass: Singles, out: Singles, damp: np.float32, pace: Singles) -> None:
    for i in range(first, last):
        pace[i] = damp / (mass[i] + out[i])


@njit(cache=True, nogil=True, fastmath=True)
def _apply(
    first: int, last: int, other: Places, longer: Codes, g: Singles, mass: Singles, out: Singles, p: Singles, q: Singles
) -> float:
    """q = (M + K) p; gives p . q."""
    total = 0.0
    for i in range(first, last):
        s = (mass[i] + out[i]) * p[i] - six(i, other, g, p)
        q[i] = s
        total += s * p[i]
    a, b = stretch(longer, first, last)
    for m in range(a, b):
        i = longer[m]
        s = three(m, mass.size, other, g, p)
        q[i] -= s
        total -= s * p[i]
    return total


@njit(cache=True, nogil=True, fastmath=True)
def _advance(first: int, last: int, beta: np.float32, z: Singles, p: Singles) -> None:
    for i in range(first, last):
        p[i] = z[i] + beta * p[i]


@njit(cache=True, nogil=True, fastmath=True)
def _step(
    first: int, last: int, alpha: np.float32, p: Singles, q: Singles, pace: Singles, x: Singles, r: Singles, z: Singles
) -> None:
    for i in range(first, last):
        x[i] += alpha * p[i]
        r[i] -= alpha * q[i]
        z[i] = pace[i] * r[i]


@njit(cache=True, nogil=True, fastmath=True)
def _first(first: int, last: int, r: Singles, pace: Singles, z: Singles) -> None:
    for i in range(first, last):
        z[i] = pace[i] * r[i]


@njit(cache=True, nogil=True, fastmath=True)
def _restrict(
    first: int, last: int, child: Codes, above: Codes, other: Places, longer: Codes, g: Singles, keep: np.float32,
    r: Singles, z: Singles, coarse_pace: Singles, coarse_r: Singles, coarse_z: Singles,
) -> None:  # fmt: skip
    """The residual r - (M + K) z of a sweep z = pace r, summed over cubes, and a first sweep's answer to it there.

    Such a sweep takes all but the share ``keep`` of what stands on the diagonal.
    """
    for c in range(first, last):
        total = np.float32(0)
        for i in range(child[c], child[c + 1]):
            total += keep * r[i] + six(i, other, g, z)
        coarse_r[c] = total
    a, b = stretch(longer, child[first], child[last])
    for m in range(a, b):
        coarse_r[above[longer[m]]] += three(m, r.size, other, g, z)
    for c in range(first, last):
        coarse_z[c] = coarse_pace[c] * coarse_r[c]


@njit(cache=True, nogil=True, fastmath=True)
def _spread(first: int, last: int, above: Codes, coarse: Singles, z: Singles) -> None:
    for i in range(first, last):
        z[i] += coarse[above[i]]


@njit(cache=True, nogil=True, fastmath=True)
def _smooth(
    first: int, last: int, other: Places, longer: Codes, g: Singles, keep: np.float32, pace: Singles, r: Singles,
    z: Singles, w: Singles,
) -> float:  # fmt: skip
    """One damped Jacobi sweep from z to w; gives r . w."""
    total = 0.0
    for i in range(first, last):
        s = keep * z[i] + pace[i] * (r[i] + six(i, other, g, z))
        w[i] = s
        total += r[i] * s
    a, b = stretch(longer, first, last)
    for m in range(a, b):
        i = longer[m]
        s = pace[i] * three(m, r.size, other, g, z)
        w[i] += s
        total += r[i] * s
    return total
