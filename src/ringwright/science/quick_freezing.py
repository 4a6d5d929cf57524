"""Freezing on one regular grid, quick and coarse: the mould in explicit steps, the metal in stabilised ones.

For searches, where many runs of a few per cent are wanted. The metal conducts a hundred times better than the mould,
so the mould's heat goes by explicit Euler steps at its own limit, and within each of them the metal's enthalpy by a
Runge-Kutta-Legendre scheme of first order (C. D. Meyer, D. S. Balsara, T. D. Aslam, J. Comput. Phys. 257 (2014) 594),
which stays stable over many of the metal's own limits. Heat that crosses the surface is reckoned once a step, implicit
in the mould's cell, and given to one side as it is taken from the other. Only mould that heat has reached is stepped.

A cell at the surface holds both metal and mould by its share, each with its own temperature; slivers of metal belong to
their fullest neighbour. The surface in a cell is the length of the slope of the shares. Mould properties do not depend
on temperature; the metal's enthalpy does, its conductivity does not. The grid's outermost cells are closed. First order
in space and time. Units: mm, s, K, J.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.conduction import Substance
from ringwright.science.distance import between_cells
from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault

Singles = NDArray[np.float32]
Bools = NDArray[np.bool_]
_SLIVER = 0.3
_LEAST_MOULD = 0.05
_LEAST_METAL = 0.01
_SAFE = 0.9
_BEARS = 2.5
_FIRST_SHARE = 0.02
_GROWTH = 1.15
_BINS_PER_K = 4.0
_BAND_MM = 1.0
_DEEP = 6.0
"""Heat is followed to six times sqrt(k t / c): at its end there are 2e-5 of a step's rise."""


@dataclass(frozen=True, kw_only=True)
class Mould:
    """A mould of constant properties: W/(m K), J/(m3 K), W/(m2 K) at its face, and its first temperature."""

    k_W_mK: float
    c_J_m3K: float
    contact_W_m2K: float
    first_K: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Times:
    """For every cell of the grid (NaN where there is no metal): when it passes the three levels, rate and gradient.

    ``end_s`` is the last time reckoned; a level that was not passed by then is inf. ``heat_lost`` is the heat that got
    lost, as a share of what the metal gave off.
    """

    passed_s: tuple[Floats, Floats, Floats]
    rate_K_s: Floats
    gradient_K_mm: Floats
    end_s: float
    steps: int
    heat_lost: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Lattice:
    """Metal as hosts with their links, mould as shares of a grid, and the surface between them: geometry alone.

    ``reach_mm`` is area over distance of the links; pieces of surface join ``skin_metal`` and ``skin_soil`` (of the
    flat grid) with an area and a depth of the mould's cell. ``away_mm`` is the distance of every cell from the metal.
    """

    h_mm: float
    full: Floats
    soil: Floats
    host: Ints
    index: Ints
    volume_mm3: Floats
    start: Ints
    other: Ints
    reach_mm: Floats
    skin_metal: Ints
    skin_soil: Ints
    skin_mm2: Floats
    skin_deep_mm: Floats
    plain: Bools
    away_mm: Singles


def lattice(share: Singles, room: Bools, h_mm: float) -> Lattice:
    """The lattice of the shares of metal, with mould in the other part of the cells of ``room``."""
    full = np.where(share > _LEAST_METAL, share, 0).astype(np.float64)
    soil = np.zeros(share.shape)
    inner = (slice(1, -1),) * 3
    soil[inner] = np.where(room & (1 - share > _LEAST_MOULD), 1 - share, 0)[inner]
    number, host, cells = _hosts(full)
    start, other, reach = _rows(*_links(number, host, full, h_mm), len(cells))
    metal, where, size, deep = _skin(full, soil, number, host, h_mm)
    away = between_cells(full == 0, h_mm).ravel()
    return Lattice(
        h_mm=h_mm,
        full=full,
        soil=soil,
        host=host,
        index=np.argwhere(full > 0)[cells],
        volume_mm3=np.bincount(host, weights=full[full > 0], minlength=len(cells)).astype(np.float64) * h_mm**3,
        start=start,
        other=other,
        reach_mm=reach,
        skin_metal=metal,
        skin_soil=where,
        skin_mm2=size,
        skin_deep_mm=deep,
        plain=_all_mould(soil).ravel(),
        away_mm=np.where(soil.ravel() > 0, away, np.float32(np.inf)),
    )


def freeze_quick(
    body: Lattice,
    *,
    metal: Substance,
    k_metal_W_mK: float,
    mould: Mould,
    melt_K: float,
    levels_K: tuple[float, float, float],
    until: Bools,
    most_s: float = 3600.0,
) -> Times:
    """Freeze the metal of a lattice in its mould, until all cells of ``until`` (on the grid) are solid.

    ``levels_K`` are the temperatures that are timed, the last one solid. Raises :class:`ComputingFault` where it takes
    longer than ``most_s``.
    """
    k, c, h = mould.k_W_mK * 1e-3, mould.c_J_m3K * 1e-9, body.h_mm
    bins, at = _bins(metal)
    flow = _Flow(
        g=body.reach_mm * k_metal_W_mK * 1e-3,
        skin=body.skin_mm2 / (1 / (mould.contact_W_m2K * 1e-6) + body.skin_deep_mm / k),
        k=k,
        c=c,
        least=float((np.diff(metal.H_J_m3) / np.diff(metal.T_K)).min()) * 1e-9,
        bins=bins,
        at=at,
    )
    heat = np.full(len(body.volume_mm3), float(np.interp(melt_K, metal.T_K, metal.H_J_m3)) * 1e-9)
    temp = np.full(body.full.shape, mould.first_K)
    first = float((heat * body.volume_mm3).sum())
    passed, gradient, time, steps = _march(body, flow, heat, temp, melt_K, levels_K, until, most_s)
    left = float((heat * body.volume_mm3).sum())
    stored = c * h**3 * float((body.soil * (temp - mould.first_K)).sum())
    solid: Bools = np.asarray(np.isfinite(passed).all(axis=0))
    rate = np.full(len(body.volume_mm3), np.nan)
    rate[solid] = (levels_K[1] - levels_K[2]) / np.maximum(passed[2][solid] - passed[1][solid], 1e-9)

    def spread(values: Floats) -> Floats:
        out = np.full(body.full.shape, np.nan)
        out[body.full > 0] = values[body.host]
        return out

    return Times(
        passed_s=(spread(passed[0]), spread(passed[1]), spread(passed[2])),
        rate_K_s=spread(rate),
        gradient_K_mm=spread(gradient),
        end_s=time,
        steps=steps,
        heat_lost=abs(first - left - stored) / max(first - left, 1e-30),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class _Flow:
    """What heat flows by: conductances in W/K, the mould's k and c and the metal's least c in mm, T over its heat."""

    g: Floats
    skin: Floats
    k: float
    c: float
    least: float
    bins: Floats
    at: tuple[float, float]


def _march(
    body: Lattice,
    flow: _Flow,
    heat: Floats,
    temp: Floats,
    melt_K: float,
    levels_K: tuple[float, float, float],
    until: Bools,
    most_s: float,
) -> tuple[Floats, Floats, float, int]:
    """Step until all waited for is solid; ``heat`` and ``temp`` become those at the end."""
    n, h = len(body.volume_mm3), body.h_mm
    hold, kh = flow.c * h**3, flow.k * h
    limit = _SAFE * flow.c * h**2 / (6 * _BEARS * flow.k)
    out = np.bincount(np.repeat(np.arange(n), np.diff(body.start)), weights=flow.g, minlength=n)
    own = _SAFE * float((body.volume_mm3 * flow.least / np.maximum(out, 1e-30)).min())
    passed, gradient = np.full((3, n), np.inf), np.full(n, np.nan)
    waits = np.zeros(n, bool)
    waits[body.host[until[body.full > 0]]] = True
    T, before = np.full(n, melt_K), np.empty(n)
    work = [np.empty(n) for _ in range(4)]
    now, then, soil = temp.ravel(), temp.ravel().copy(), body.soil.ravel()
    x, y = temp.shape[1] * temp.shape[2], temp.shape[2]
    plain, mixed, band = np.empty((0, 2), np.int64), np.empty(0, np.int64), -1
    time, dt, steps = 0.0, _FIRST_SHARE * limit, 0
    while not np.isfinite(passed[2][waits]).all():
        if time > most_s:
            raise ComputingFault(f"freezing: not solid after {most_s:.0f} s")
        reach = int((_DEEP * np.sqrt(flow.k / flow.c * time) + 2 * h) / _BAND_MM) + 1
        if reach > band:
            near, band = body.away_mm <= reach * _BAND_MM, reach
            plain, mixed = _runs(np.flatnonzero(body.plain & near)), np.flatnonzero(~body.plain & near)
            then[:] = now
        _plain_step(plain, x, y, now, then, kh * dt / hold)
        _mixed_step(mixed, x, y, now, then, soil, kh * dt, hold)
        now, then = then, now
        _across(body.skin_metal, body.skin_soil, flow.skin, now, soil, hold, dt, T, heat, body.volume_mm3)
        stages = max(1, int(np.ceil((np.sqrt(1 + 8 * dt / own) - 1) / 2)))
        _metal_step(heat, body.volume_mm3, body.start, body.other, flow.g, dt, stages, flow.bins, flow.at, *work)
        before[:] = T
        _temperature(heat, flow.bins, flow.at, T)
        for level in range(3):
            fresh = np.flatnonzero((levels_K[level] >= T) & ~np.isfinite(passed[level]))
            if len(fresh):
                fall = np.maximum(before[fresh] - T[fresh], 1e-12)
                passed[level, fresh] = time + dt * np.clip((before[fresh] - levels_K[level]) / fall, 0, 1)
                if level == 1:
                    slope = np.zeros(len(fresh))
                    _slope(fresh, body.index, T, body.start, body.other, h, slope)
                    gradient[fresh] = slope
        time += dt
        steps += 1
        dt = min(dt * _GROWTH, limit)
    temp[:] = now.reshape(temp.shape)
    return passed, gradient, time, steps


def _neighbours(shape: tuple[int, ...]) -> list[tuple[tuple[slice, ...], tuple[slice, ...]]]:
    """The two sides of all faces, axis by axis."""
    found = []
    for axis in range(3):
        low, high = [slice(None)] * 3, [slice(None)] * 3
        low[axis], high[axis] = slice(0, shape[axis] - 1), slice(1, shape[axis])
        found.append((tuple(low), tuple(high)))
    return found


def _hosts(full: Floats) -> tuple[Ints, Ints, Ints]:
    """Number of every cell with metal (-1 elsewhere), the host of each, and which cells are hosts."""
    number = np.full(full.shape, -1)
    number[full > 0] = np.arange(int((full > 0).sum()))
    best = np.where(full >= _SLIVER, number, -1)
    most = np.where(full >= _SLIVER, np.inf, full)
    for low, high in _neighbours(full.shape):
        for mine, theirs in ((low, high), (high, low)):
            better = (full[theirs] > most[mine]) & (full[mine] > 0)
            best[mine] = np.where(better, number[theirs], best[mine])
            most[mine] = np.where(better, full[theirs], most[mine])
    best = np.where((best < 0) & (full > 0), number, best)
    host = best[full > 0]
    for _ in range(8):
        host = host[host]
    # Slivers that point at each other: the first of them is the host.
    loop = host[host] != host
    host[loop] = np.minimum(host[loop], host[host[loop]])
    host = host[host]
    cells, inverse = np.unique(host, return_inverse=True)
    return number, inverse.astype(np.int64), cells


def _links(number: Ints, host: Ints, full: Floats, h: float) -> tuple[Ints, Ints, Floats]:
    """Both ends and area over distance of the links between hosts: the lesser share of two cells is their face."""
    rows, others, weights = [], [], []
    for low, high in _neighbours(number.shape):
        i, j = number[low], number[high]
        both = (i >= 0) & (j >= 0)
        a, b = host[i[both]], host[j[both]]
        g = h * np.minimum(full[low][both], full[high][both])
        apart = a != b
        rows += [a[apart], b[apart]]
        others += [b[apart], a[apart]]
        weights += [g[apart], g[apart]]
    return np.concatenate(rows), np.concatenate(others), np.concatenate(weights)


def _rows(a: Ints, b: Ints, g: Floats, n: int) -> tuple[Ints, Ints, Floats]:
    from scipy.sparse import csr_array

    matrix = csr_array((g, (a, b)), shape=(n, n))
    matrix.sum_duplicates()
    return matrix.indptr.astype(np.int64), matrix.indices.astype(np.int64), matrix.data


def _skin(full: Floats, soil: Floats, number: Ints, host: Ints, h: float) -> tuple[Ints, Ints, Floats, Floats]:
    """Each cell with a slope of its share has a piece of surface: its metal or its neighbour's, its mould or that."""
    slope = np.stack(list(np.gradient(np.pad(full, 1, mode="edge"))))[:, 1:-1, 1:-1, 1:-1]
    area = np.sqrt((slope**2).sum(axis=0)) * h**2
    at = np.argwhere((area > 1e-3 * h**2) & ((soil > 0) | (full > 0)))
    down = np.argmax(np.abs(slope[:, at[:, 0], at[:, 1], at[:, 2]]), axis=0)
    sign = -np.sign(slope[down, at[:, 0], at[:, 1], at[:, 2]]).astype(int)
    step = np.zeros_like(at)
    step[np.arange(len(at)), down] = sign
    top = np.array(full.shape) - 1

    def pick(values: Floats, away: Ints) -> Ints:
        here = values[tuple(at.T)] > 0
        there = np.clip(at + away, 0, top)
        return np.where(here[:, None], at, there)

    m, s = pick(full, -step), pick(soil, step)
    good = (full[tuple(m.T)] > 0) & (soil[tuple(s.T)] > 0)
    m, s, size = m[good], s[good], area[tuple(at[good].T)]
    where = np.ravel_multi_index(tuple(s.T), full.shape).astype(np.int64)
    return host[number[tuple(m.T)]], where, size, soil[tuple(s.T)] * h / 2


def _bins(metal: Substance) -> tuple[Floats, tuple[float, float]]:
    """Temperature over enthalpy in equal bins (J/mm3), with the first enthalpy and the bins per J/mm3."""
    H = metal.H_J_m3 * 1e-9
    n = int((metal.T_K[-1] - metal.T_K[0]) * _BINS_PER_K) * 4
    at = np.linspace(H[0], H[-1], n)
    return np.interp(at, H, metal.T_K), (float(H[0]), (n - 1) / float(H[-1] - H[0]))


@njit(cache=True, nogil=True)
def _of_heat(heat: float, bins: Floats, at: tuple[float, float]) -> float:
    x = (heat - at[0]) * at[1]
    i = min(max(int(x), 0), bins.size - 2)
    return float(bins[i] + (bins[i + 1] - bins[i]) * (x - i))


@njit(cache=True, nogil=True)
def _temperature(heat: Floats, bins: Floats, at: tuple[float, float], T: Floats) -> None:
    for i in range(heat.size):
        T[i] = _of_heat(heat[i], bins, at)


@njit(cache=True, nogil=True)
def _face(a: float, b: float) -> float:
    """Area over distance of a face between two cells of mould, for cells of edge 1.

    Right for a cell that is cut in parallel to the face (the nearer middle makes up for the lesser part), and for two
    that are cut alike; held to what an explicit step bears in the smaller.
    """
    return min(max(a, b), _BEARS * min(a, b))


def _all_mould(soil: Floats) -> Bools:
    """The cells that are all mould, as are their six neighbours."""
    whole: Bools = soil == 1
    found: Bools = whole.copy()
    for low, high in _neighbours(soil.shape):
        found[low] &= whole[high]
        found[high] &= whole[low]
    return found


def _runs(cells: Ints) -> Ints:
    """First and last-plus-one of the stretches of numbers that follow each other."""
    if not len(cells):
        return np.empty((0, 2), np.int64)
    ends = np.flatnonzero(np.diff(cells) != 1)
    first, last = np.append(0, ends + 1), np.append(ends, len(cells) - 1)
    return np.ascontiguousarray(np.stack([cells[first], cells[last] + 1], axis=1))


@njit(cache=True, nogil=True, fastmath=True)
def _plain_step(runs: Ints, x: int, y: int, temp: Floats, new: Floats, r: float) -> None:
    """One explicit step of conduction in cells that are all mould, as are their neighbours."""
    for n in range(runs.shape[0]):
        for i in range(runs[n, 0], runs[n, 1]):
            t = temp[i]
            around = temp[i - x] + temp[i + x] + temp[i - y] + temp[i + y] + temp[i - 1] + temp[i + 1]
            new[i] = t + r * (around - 6.0 * t)


@njit(cache=True, nogil=True)
def _mixed_step(cells: Ints, x: int, y: int, temp: Floats, new: Floats, soil: Floats, kh_dt: float, ch3: float) -> None:
    """One explicit step in the other cells of the mould (none at the grid's border)."""
    for n in range(cells.size):
        i = cells[n]
        m, t = soil[i], temp[i]
        flow = 0.0
        for j in (i - x, i + x, i - y, i + y, i - 1, i + 1):
            flow += _face(m, soil[j]) * (temp[j] - t)
        new[i] = t + kh_dt * flow / (ch3 * m)


@njit(cache=True, nogil=True)
def _across(
    metal: Ints, where: Ints, conduct: Floats, temp: Floats, soil: Floats, ch3: float, dt: float, T: Floats,
    heat: Floats, volume: Floats,
) -> float:  # fmt: skip
    """Heat through the surface, implicit in the mould's cell; what it gains the metal loses."""
    total = 0.0
    for n in range(metal.size):
        i, s = metal[n], where[n]
        hold = ch3 * soil[s]
        q = dt * conduct[n] * (T[i] - temp[s]) / (1 + dt * conduct[n] / hold)
        temp[s] += q / hold
        heat[i] -= q / volume[i]
        total += q
    return total


@njit(cache=True, nogil=True)
def _flow(y: Floats, volume: Floats, start: Ints, other: Ints, g: Floats, bins: Floats, at: tuple[float, float],
          T: Floats, out: Floats) -> None:  # fmt: skip
    for i in range(y.size):
        T[i] = _of_heat(y[i], bins, at)
    for i in range(y.size):
        f = 0.0
        for e in range(start[i], start[i + 1]):
            f += g[e] * (T[other[e]] - T[i])
        out[i] = f / volume[i]


@njit(cache=True, nogil=True)
def _metal_step(
    heat: Floats, volume: Floats, start: Ints, other: Ints, g: Floats, dt: float, stages: int, bins: Floats,
    at: tuple[float, float], T: Floats, f: Floats, one: Floats, two: Floats,
) -> None:  # fmt: skip
    """One super-step of the metal's enthalpy."""
    w = 2.0 / (stages * stages + stages)
    _flow(heat, volume, start, other, g, bins, at, T, f)
    for i in range(heat.size):
        two[i] = heat[i]
        one[i] = heat[i] + w * dt * f[i]
    for j in range(2, stages + 1):
        mu, nu = (2.0 * j - 1) / j, (1.0 - j) / j
        _flow(one, volume, start, other, g, bins, at, T, f)
        for i in range(heat.size):
            new = mu * one[i] + nu * two[i] + mu * w * dt * f[i]
            two[i] = one[i]
            one[i] = new
    for i in range(heat.size):
        heat[i] = one[i]


@njit(cache=True, nogil=True)
def _slope(now: Ints, index: Ints, T: Floats, start: Ints, other: Ints, h: float, out: Floats) -> None:
    """The gradient of temperature at some cells, from their neighbours along each axis."""
    for n in range(now.size):
        i = now[n]
        for axis in range(3):
            total, weight = 0.0, 0.0
            for e in range(start[i], start[i + 1]):
                away = (index[other[e], axis] - index[i, axis]) * h
                total += (T[other[e]] - T[i]) * away
                weight += away * away
            if weight > 0:
                out[n] += total * total / (weight * weight)
        out[n] = np.sqrt(out[n])
