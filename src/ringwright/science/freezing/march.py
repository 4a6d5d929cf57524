"""The march in time: backward Euler with growing steps, Newton's method in the temperature. The kernels."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.conduction import Substance
from ringwright.science.freezing.rows import MORE, SIX, stretch
from ringwright.terms.body import Floats, Ints

Singles = NDArray[np.float32]
Codes = NDArray[np.int32]
Places = NDArray[np.uint32]
Kept = tuple[Floats, Floats, Floats, Floats, Floats, Codes, float, float]
_WIDTH_K = 0.5
_BEYOND = 1e-9
_FINE = 512
_FLAT = 1e-3
"""Of the step at the surface: where two cells differ by less, nothing has come yet."""
_BENT = 3.0
"""The greatest factor on a link for the bend of the temperature."""
_UNEVEN = 30.0
"""A cell's rate of losing heat changes by no more than this factor from step to step, when it is asked when."""
_CLOSE_K = 0.5
"""Two cells nearer in temperature than this: the mean of their conductivities is as good as the integral's mean."""


def table(substance: Substance) -> Kept:
    """A substance for the kernels: T, enthalpy (J/mm3) and potential (W/mm), and the slopes of both, by stretches.

    With them, for each of many equal bins of temperature, the stretch where a search may begin.
    """
    T = np.ascontiguousarray(substance.T_K, np.float64)
    H, theta = substance.H_J_m3 * 1e-9, substance.theta_W_m * 1e-3
    bins = T[0] + _WIDTH_K * np.arange(int(np.ceil((T[-1] - T[0]) / _WIDTH_K)) + 1)
    first = np.clip(np.searchsorted(T, bins, side="right") - 1, 0, len(T) - 2).astype(np.int32)
    step = np.diff(T)
    return T, H, theta, np.diff(H) / step, np.diff(theta) / step, first, float(T[0]), 1 / _WIDTH_K


@njit(cache=True, nogil=True)
def stretch_of(t: float, T: Floats, first: Codes, bin0: float, bins_per_K: float) -> int:
    """The stretch of a table that holds t."""
    b = min(max(int((t - bin0) * bins_per_K), 0), first.size - 1)
    s = int(first[b])
    while s < T.size - 2 and T[s + 1] <= t:
        s += 1
    return s


@njit(cache=True, nogil=True, error_model="numpy")
def balance(
    first: int, last: int, metals: int, metal: Kept, mould: Kept, other: Places, longer: Codes, g: Singles,
    t: Floats, before: Floats, volume: Floats, dt: float, wall: Singles, around: float, x: Singles,
    at: Codes, mass: Singles, r: Singles, heat: Floats,
) -> tuple[int, float]:  # fmt: skip
    """What heat each cell is short of (W), its heat capacity over the step, and its heat.

    Gives how many cells have come to another stretch ``at`` of their table, and the shortage along a way x.
    """
    turn = min(max(metals, first), last)
    moved, along = _balanced(
        first, turn, metal, other, g, t, before, volume, 1.0 / dt, wall, around, x, at, mass, r, heat
    )
    more_moved, more_along = _balanced(
        turn, last, mould, other, g, t, before, volume, 1.0 / dt, wall, around, x, at, mass, r, heat
    )
    along += more_along
    a, b = stretch(longer, first, last)
    for part in range(a, b):
        i = longer[part]
        more = 0.0
        place = SIX * volume.size + MORE * part
        for spot in range(place, place + MORE):
            more += g[spot] * (t[other[spot]] - t[i])
        r[i] += more
        along += more * x[i]
    return moved + more_moved, along


@njit(cache=True, nogil=True, error_model="numpy", fastmath=True)
def _balanced(
    first: int, last: int, body: Kept, other: Places, g: Singles, t: Floats, before: Floats, volume: Floats,
    steps_per_s: float, wall: Singles, around: float, x: Singles, at: Codes, mass: Singles, r: Singles, heat: Floats,
) -> tuple[int, float]:  # fmt: skip
    """The balance of cells of one medium, through the first six links of each."""
    T, H, _, c, _, bins, bin0, per = body
    moved = 0
    along = 0.0
    for i in range(first, last):
        here = t[i]
        s = stretch_of(here, T, bins, bin0, per)
        moved += at[i] != s
        at[i] = s
        heat[i] = volume[i] * (H[s] + c[s] * (here - T[s]))
        w = wall[i]
        mass[i] = volume[i] * c[s] * steps_per_s + w
        e = np.uint64(SIX * i)
        f, h = e + np.uint64(1), e + np.uint64(2)
        j, k, m = e + np.uint64(3), e + np.uint64(4), e + np.uint64(5)
        flow = (
            (g[e] * (t[other[e]] - here) + g[f] * (t[other[f]] - here))
            + (g[h] * (t[other[h]] - here) + g[j] * (t[other[j]] - here))
            + (g[k] * (t[other[k]] - here) + g[m] * (t[other[m]] - here))
        )
        short = (before[i] - heat[i]) * steps_per_s + w * (around - here) + flow
        r[i] = short
        along += short * x[i]
    return moved, along


@njit(cache=True, nogil=True)
def go(first: int, last: int, share: float, x: Singles, t: Floats) -> None:
    """T goes a share of the way x."""
    for i in range(first, last):
        t[i] += share * x[i]


@njit(cache=True, nogil=True)
def halted(first: int, last: int, metals: int, kinks: Floats, x: Singles, t: Floats) -> None:
    """T goes the way x, but a metal cell halts just beyond the next kink of its enthalpy."""
    for i in range(first, last):
        new = t[i] + x[i]
        if i < metals:
            for kink in kinks:
                under, over = kink * (1 - _BEYOND), kink * (1 + _BEYOND)
                if t[i] > kink and new < under:
                    new = max(new, under)
                elif t[i] < kink and new > over:
                    new = min(new, over)
        t[i] = new


@njit(cache=True, nogil=True)
def potentials(
    first: int, last: int, metals: int, metal: Kept, mould: Kept, t: Floats, theta: Floats, own: Singles
) -> None:
    """The Kirchhoff potential of each cell, and its conductivity in W/(mm K)."""
    for i in range(first, last):
        T, _, P, _, k, bins, bin0, per = metal if i < metals else mould
        s = stretch_of(t[i], T, bins, bin0, per)
        theta[i] = P[s] + k[s] * (t[i] - T[s])
        own[i] = k[s]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=True)
def conductances(
    first: int, last: int, other: Places, longer: Codes, reach: Singles, t: Floats, theta: Floats, own: Singles,
    g: Singles,
) -> None:  # fmt: skip
    """Links within a medium: reach times the mean conductivity between the two temperatures."""
    for i in range(first, last):
        e = np.uint64(SIX * i)
        for f in range(SIX):
            g[e + np.uint64(f)] = reach[e + np.uint64(f)] * _mean(i, other[e + np.uint64(f)], t, theta, own)
    a, b = stretch(longer, first, last)
    for m in range(a, b):
        e = np.uint64(SIX * own.size + MORE * m)
        for f in range(MORE):
            g[e + np.uint64(f)] = reach[e + np.uint64(f)] * _mean(longer[m], other[e + np.uint64(f)], t, theta, own)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=True)
def _mean(i: int, j: np.uint32, t: Floats, theta: Floats, own: Singles) -> np.float32:
    """The mean conductivity between two cells, by Kirchhoff's integral where their temperatures are apart."""
    apart = np.float32(t[j] - t[i])
    near = abs(apart) < np.float32(_CLOSE_K)
    mean = np.float32(theta[j] - theta[i]) / (np.float32(1) if near else apart)
    return np.float32(0.5) * (own[i] + own[j]) if near else mean


@njit(cache=True, nogil=True)
def conductivity(t: float, table: Kept) -> tuple[float, float]:
    """k(t) in W/(mm K), and k over the heat capacity, in mm2/s."""
    T, _, _, c, k, bins, bin0, per = table
    s = stretch_of(t, T, bins, bin0, per)
    return k[s], k[s] / c[s]


@njit(cache=True, nogil=True, error_model="numpy")
def contacts(
    first: int, last: int, pairs: Ints, metals: int, metal: Kept, mould: Kept, row: Codes, other: Places, across: Ints,
    back: Ints, area: Singles, own: Singles, beyond: Singles, bend: Singles, contact: float, t: Floats, now: float,
    before: float, g: Singles,
) -> None:  # fmt: skip
    """Links across the surface: metal, contact and mould in series, from time ``before`` to ``now``.

    Some of the places ``across`` (``pairs``) stand for both ways of a link; ``back`` are the places of the way back.

    In the mould the temperature falls away from the surface as erfc(s / (2 sqrt(k t / c))) at first, all within the
    first cell: the mean over a cell of half depth d that has taken up heat lies at another effective depth than d.
    """
    for pair in range(first, last):
        n = pairs[pair]
        i, j = row[n], other[across[n]]
        a, b = (i, j) if i < metals else (j, i)
        deep, shallow = (own[n], beyond[n]) if i < metals else (beyond[n], own[n])
        ka, _ = conductivity(t[a], metal)
        kb, spread = conductivity(0.5 * (t[a] + t[b]), mould)
        wide = np.sqrt(spread * now)
        mean = 0.5 * (wide + np.sqrt(spread * before))
        away = shallow
        z = shallow / wide
        if z > 1e-3:
            share = math.erf(z) - (1.0 - np.exp(-z * z)) / (z * np.sqrt(np.pi))
            shallow = share * np.sqrt(np.pi) * mean
        # What flows spreads in the mould about metal that bulges, and draws together in the metal.
        spreads = min(max(1 + 0.5 * bend[n] * away, 0.5), 2.0)
        draws = min(max(1 - 0.5 * bend[n] * deep, 0.5), 2.0)
        g[across[n]] = area[n] / (deep / (ka * draws) + contact + shallow / (kb * spreads))
        g[back[n]] = g[across[n]]


@njit(cache=True, nogil=True, error_model="numpy")
def steepen(
    first: int, last: int, pairs: Ints, places: Ints, back: Ints, row: Codes, depths: Singles, other: Places,
    mould: Kept, t: Floats, now: float, before: float, ierfc: Floats, g: Singles,
) -> None:  # fmt: skip
    """Links in the mould beside the surface from ``before`` to ``now``, while the temperature bends within a cell.

    It falls as erfc(s / 2w), w = sqrt(k t / c), where the surface has held its temperature since the start. What that
    makes flow through the face over the step, against what the means of the two cells at its end say, is the factor.
    """
    for pair in range(first, last):
        n = pairs[pair]
        place = places[n]
        _, spread = conductivity(0.5 * (t[row[n]] + t[other[place]]), mould)
        w, w0 = np.sqrt(spread * now), np.sqrt(spread * before)
        a, b, c, d, face = depths[n, 0], depths[n, 1], depths[n, 2], depths[n, 3], depths[n, 4]
        u = 0.5 / w
        near = (_at(ierfc, a * u) - _at(ierfc, b * u)) / (b - a)
        far = (_at(ierfc, c * u) - _at(ierfc, d * u)) / (d - c)
        gap = 0.5 * (c + d - a - b)
        said = 2 * w * (near - far) / gap
        through = 2 * w * _at(ierfc, face * u)
        if before > 0:
            through -= 2 * w0 * _at(ierfc, face * 0.5 / w0)
        true = through / (w * w - w0 * w0)
        if said * gap > _FLAT:
            g[place] *= min(max(true / said, 1 / _BENT), _BENT)
            g[back[n]] = g[place]


@njit(cache=True, nogil=True)
def backs(first: int, last: int, places: Ints, row: Codes, other: Places, longer: Codes, back: Ints) -> None:
    """The place of each link's way back."""
    n = (other.size - MORE * longer.size) // SIX
    for at in range(first, last):
        i, j = row[at], np.int64(other[places[at]])
        begin, end = SIX * j, SIX * j + SIX
        m = np.searchsorted(longer, j)
        back[at] = -1
        while True:
            for f in range(begin, end):
                if other[f] == i:
                    back[at] = f
            if back[at] >= 0 or m == longer.size or longer[m] != j:
                break
            begin = SIX * n + MORE * m
            end = begin + MORE
            m += 1


@njit(cache=True, nogil=True)
def _at(table: Floats, x: float) -> float:
    """A table from 0 in steps of 1/_FINE at x; 0 beyond."""
    at = x * _FINE
    i = int(at)
    if i >= table.size - 1:
        return 0.0
    return float(table[i] + (at - i) * (table[i + 1] - table[i]))


def integral_erfc() -> Floats:
    """The integral of erfc from x on, from 0 in steps of 1/_FINE."""
    from scipy.special import erfc

    x = np.arange(5 * _FINE + 1) / _FINE
    found: Floats = np.exp(-x * x) / math.sqrt(math.pi) - x * erfc(x)
    return found


@njit(cache=True, nogil=True, error_model="numpy")
def crossings(
    first: int, last: int, marks: Floats, heats: Floats, volume: Floats, old: Floats, new: Floats, old_heat: Floats,
    new_heat: Floats, roots: tuple[float, float, float], rates: Floats, at: Floats,
) -> None:  # fmt: skip
    """When each cell last fell below each mark, for the step just made, and better for the one before it.

    ``roots`` are those of the times at the start of the step before (below 0 if there was none), of this step and at
    its end: against a wide mould heat goes with the root of time. ``heats`` are the marks' enthalpies; ``rates`` each
    cell's losses of heat over its root in the two steps before, and are brought up to date.

    Where a step ends a cell's freezing the cell loses much before the mark and little after it, or the front passes
    through many cells one after the other: so before the mark heat falls as it did in the step before, and after it as
    in the next one, both stretched to fill the step. What the next step says is known when it has been made.
    """
    start, a, b = roots
    for i in range(first, last):
        now = (old_heat[i] - new_heat[i]) / (b - a)
        if start < 0:
            rates[1, i] = now
        for m in range(marks.size):
            level = heats[m] * volume[i]
            if new[i] > marks[m]:
                at[m, i] = np.inf
            elif old[i] > marks[m]:
                at[m, i] = _passed(old_heat[i] - level, level - new_heat[i], rates[1, i], now, now, a, b)
            elif start * start < at[m, i] <= a * a and start >= 0:
                before = old_heat[i] + rates[1, i] * (a - start)
                at[m, i] = _passed(before - level, level - old_heat[i], rates[0, i], rates[1, i], now, start, a)
        rates[0, i] = rates[1, i]
        rates[1, i] = now


@njit(cache=True, nogil=True, error_model="numpy")
def _passed(over: float, under: float, before: float, rate: float, after: float, a: float, b: float) -> float:
    """The time in a step when a mark was passed that lay ``over`` and ``under`` its ends in heat; a, b are roots."""
    one = max(over, 0.0) / min(max(before, rate / _UNEVEN), rate * _UNEVEN)
    two = max(under, 0.0) / min(max(after, rate / _UNEVEN), rate * _UNEVEN)
    root = a + (b - a) * (one / (one + two) if one + two > 0 else 1.0)
    return root * root


@njit(cache=True, nogil=True, error_model="numpy")
def slopes(
    some: Ints, shares: Floats, metals: int, other: Places, longer: Codes, centre: Singles, t: Floats, gradient: Floats
) -> None:
    """Adds a share of the gradient of temperature at some metal cells.

    By least squares along each axis over their metal neighbours.
    """
    n = t.size
    for one in range(some.size):
        i = some[one]
        rise, weight = np.zeros(3), np.zeros(3)
        begin, end = SIX * i, SIX * i + SIX
        m = np.searchsorted(longer, i)
        while True:
            for f in range(begin, end):
                j = np.int64(other[f])
                if j >= metals or j == i:
                    continue
                for axis in range(3):
                    away = np.float64(centre[j, axis] - centre[i, axis])
                    rise[axis] += (t[j] - t[i]) * away
                    weight[axis] += away * away
            if m == longer.size or longer[m] != i:
                break
            begin, end = SIX * n + MORE * m, SIX * n + MORE * m + MORE
            m += 1
        total = 0.0
        for axis in range(3):
            if weight[axis] > 0:
                total += (rise[axis] / weight[axis]) ** 2
        gradient[i] += shares[one] * np.sqrt(total)
