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
    moved = 0
    along = 0.0
    for i in range(first, last):
        T, H, _, c, _, bins, bin0, per = metal if i < metals else mould
        here = t[i]
        s = stretch_of(here, T, bins, bin0, per)
        moved += at[i] != s
        at[i] = s
        heat[i] = volume[i] * (H[s] + c[s] * (here - T[s]))
        w = wall[i]
        mass[i] = volume[i] * c[s] / dt + w
        e = np.uint64(SIX * i)
        f, h = e + np.uint64(1), e + np.uint64(2)
        j, k, m = e + np.uint64(3), e + np.uint64(4), e + np.uint64(5)
        flow = (
            (g[e] * (t[other[e]] - here) + g[f] * (t[other[f]] - here))
            + (g[h] * (t[other[h]] - here) + g[j] * (t[other[j]] - here))
            + (g[k] * (t[other[k]] - here) + g[m] * (t[other[m]] - here))
        )
        short = (before[i] - heat[i]) / dt + w * (around - here) + flow
        r[i] = short
        along += short * x[i]
    a, b = stretch(longer, first, last)
    for part in range(a, b):
        i = longer[part]
        more = 0.0
        place = SIX * volume.size + MORE * part
        for spot in range(place, place + MORE):
            more += g[spot] * (t[other[spot]] - t[i])
        r[i] += more
        along += more * x[i]
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
    first: int, last: int, metals: int, metal: Kept, mould: Kept, row: Codes, other: Places, across: Ints,
    area: Singles, own: Singles, beyond: Singles, bend: Singles, contact: float, t: Floats, now: float,
    before: float, g: Singles,
) -> None:  # fmt: skip
    """Links across the surface: metal, contact and mould in series, from time ``before`` to ``now``.

    In the mould the temperature falls away from the surface as erfc(s / (2 sqrt(k t / c))) at first, all within the
    first cell: the mean over a cell of half depth d that has taken up heat lies at another effective depth than d.
    """
    for n in range(first, last):
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


@njit(cache=True, nogil=True, error_model="numpy")
def steepen(
    first: int, last: int, places: Ints, row: Codes, depths: Singles, other: Places, mould: Kept, t: Floats,
    now: float, before: float, ierfc: Floats, g: Singles,
) -> None:  # fmt: skip
    """Links in the mould beside the surface from ``before`` to ``now``, while the temperature bends within a cell.

    It falls as erfc(s / 2w), w = sqrt(k t / c), where the surface has held its temperature since the start. What that
    makes flow through the face over the step, against what the means of the two cells at its end say, is the factor.
    """
    for n in range(first, last):
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


@njit(cache=True, nogil=True)
def crossings(
    first: int, last: int, marks: Floats, heats: Floats, volume: Floats, old: Floats, new: Floats, old_heat: Floats,
    new_heat: Floats, t0: float, t1: float, at: Floats,
) -> None:  # fmt: skip
    """When each cell last fell below each mark between the two ends of a step.

    Between them the heat falls evenly with the root of time (as it does against a wide mould); the temperature does
    not, at the ends of the freezing range. ``heats`` are the marks' enthalpies.
    """
    a, b = np.sqrt(t0), np.sqrt(t1)
    for i in range(first, last):
        for m in range(marks.size):
            if old[i] > marks[m] >= new[i]:
                share = (old_heat[i] - heats[m] * volume[i]) / (old_heat[i] - new_heat[i])
                root = a + (b - a) * min(1.0, max(0.0, share))
                at[m, i] = root * root
            elif new[i] > marks[m]:
                at[m, i] = np.inf


@njit(cache=True, nogil=True, error_model="numpy")
def slopes(some: Ints, metals: int, other: Places, longer: Codes, centre: Singles, t: Floats, gradient: Floats) -> None:
    """The gradient of temperature at some metal cells, by least squares along each axis over their metal neighbours."""
    n = t.size
    for i in some:
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
        gradient[i] = np.sqrt(total)
