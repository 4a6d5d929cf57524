"""What freezes cut off from liquid, and how much it then lacks.

Liquid gets from cell to cell as long as neither has come to the share of solid at which flow through it stops. Seen
backward in time the passable cells only grow: taken up in falling order of the time at which they stop, they join into
pools (union-find, O(n log n) for the sort). A pool that has met the source is fed. A pool that meets it only at the
time s was cut off from s on: what its cells still had to shrink then is not fed. A pool that later falls apart
loses at its last hot spot all that it lacks before the parting, and each part what it lacks after it: the part with
the later hot spot is the older one (the rule of persistent maxima), so every hot spot has one amount.

Assumed: a passable cell lets through all that is asked for (no pressure is lost on the way, no pore resists), and the
hole opens at the place that freezes last; under gravity it may lie higher in the pool. Hot spots that outlast the
necks about them by less than ``noise`` of their time are none (that is the error of the times themselves).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.network import Network
from ringwright.terms.body import Floats, Ints

Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Freezing:
    """When the liquid of each cell begins to freeze, stops passing, and is all solid (s), and its share at the stop."""

    begins_s: Floats
    stops_s: Floats
    solid_s: Floats
    liquid_at_stop: float

    def liquid_at(self, time_s: float) -> Floats:
        """The share of liquid in each cell at a time: straight lines between the three times."""
        return _liquid_at(time_s, self.begins_s, self.stops_s, self.solid_s, self.liquid_at_stop)


def _liquid_at(time_s: float | Floats, begins: Floats, stops: Floats, solid: Floats, left: float) -> Floats:
    before = np.clip((stops - time_s) / np.maximum(stops - begins, 1e-12), 0.0, 1.0)
    after = np.clip((solid - time_s) / np.maximum(solid - stops, 1e-12), 0.0, 1.0)
    share: Floats = np.where(time_s >= stops, left * after, left + (1 - left) * before)
    return share


@dataclass(frozen=True, eq=False, kw_only=True)
class Pools:
    """The hot spots that are cut off, in the order of the liquid that they lack.

    ``hot`` is the cell that freezes last, ``cut_s`` when the pool parted from what feeds it, ``solid_s`` when its last
    cell is solid, ``pool_mm3`` its metal, ``lacking_mm3`` the liquid that is then not fed, after what its own later
    parts lack (times the shrinkage it is the pore). ``cut_off_s`` has for every cell when it lost the source (inf where
    never), ``unfed`` its share of liquid then; ``loose_mm3`` is metal that never met the source.
    """

    hot: Ints
    cut_s: Floats
    solid_s: Floats
    pool_mm3: Floats
    lacking_mm3: Floats
    cut_off_s: Floats
    unfed: Floats
    loose_mm3: float


def cut_off(network: Network, freezing: Freezing, source: Bools, noise: float = 0.02) -> Pools:
    """The pools that freeze cut off from the cells of ``source`` (which never stop)."""
    stops = np.where(source, np.inf, freezing.stops_s)
    order = np.argsort(-stops, kind="stable")
    n = network.count
    hottest, found, cut_off_s = np.empty(n, np.int64), np.empty((n, 4)), np.full(n, np.inf)
    many, loose = _swept(
        order,
        stops,
        freezing.begins_s,
        freezing.solid_s,
        freezing.liquid_at_stop,
        network.volume_mm3,
        network.start,
        network.other,
        source,
        noise,
        np.full(n, -1),
        np.arange(n),
        np.full(n, -1),
        np.arange(n),
        np.zeros(n, np.bool_),
        np.zeros(n),
        cut_off_s,
        hottest,
        found,
    )
    hot, (cut, solid, pool, lacking) = hottest[:many], found[:many].T.copy()
    by = np.argsort(-lacking, kind="stable")
    late = np.isfinite(cut_off_s)
    unfed = np.zeros(network.count)
    unfed[late] = _liquid_at(
        cut_off_s[late], freezing.begins_s[late], stops[late], freezing.solid_s[late], freezing.liquid_at_stop
    )
    return Pools(
        hot=hot[by],
        cut_s=cut[by],
        solid_s=solid[by],
        pool_mm3=pool[by],
        lacking_mm3=lacking[by],
        cut_off_s=cut_off_s,
        unfed=unfed,
        loose_mm3=float(loose),
    )


@njit(cache=True, nogil=True)
def _liquid_one(s: float, begins: float, stops: float, solid: float, left: float) -> float:
    if s < stops:
        return left + (1 - left) * min(max((stops - s) / max(stops - begins, 1e-12), 0.0), 1.0)
    return left * min(max((solid - s) / max(solid - stops, 1e-12), 0.0), 1.0)


@njit(cache=True, nogil=True)
def _root(parent: Ints, i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit(cache=True, nogil=True)
def _counted(
    first: int, neck: int, s: float, follow: Ints, begins: Floats, stops: Floats, solid: Floats, left: float,
    volume: Floats, parted: bool, cut_off_s: Floats,
) -> tuple[float, float, float]:  # fmt: skip
    """Liquid, metal and last time of a pool at the time s; the neck itself stops then, fed to the end."""
    lacks, pool, last = 0.0, 0.0, 0.0
    m = first
    while m >= 0:
        if m != neck:
            lacks += volume[m] * _liquid_one(s, begins[m], stops[m], solid[m], left)
            pool += volume[m]
            last = max(last, solid[m])
            if parted:
                cut_off_s[m] = s
        m = follow[m]
    return lacks, pool, last


@njit(cache=True, nogil=True)
def _swept(
    order: Ints, stops: Floats, begins: Floats, solid: Floats, left: float, volume: Floats, start: Ints, other: Ints,
    source: Bools, noise: float, parent: Ints, tail: Ints, follow: Ints, hot: Ints, fed: Bools, told: Floats,
    cut_off_s: Floats, hottest: Ints, found: Floats,
) -> tuple[int, float]:  # fmt: skip
    """The sweep: union-find with a list of members, the older pool swallows the younger.

    Gives how many pools stand in ``hottest`` and ``found`` (parted, solid, metal, lacking), and the loose metal.
    """
    n = order.size
    many = 0
    for at in range(n):
        i = order[at]
        s = stops[i]
        parent[i] = i
        fed[i] = source[i]
        for e in range(start[i], start[i + 1]):
            if parent[other[e]] < 0:
                continue
            a, b = _root(parent, i), _root(parent, other[e])
            if a == b:
                continue
            older_a = fed[a] or (not fed[b] and stops[hot[a]] >= stops[hot[b]])
            old, young = (a, b) if older_a else (b, a)
            peak = stops[hot[young]]
            if not fed[young] and peak - s > noise * peak:
                lacks, pool, last = _counted(
                    young, i, s, follow, begins, stops, solid, left, volume, fed[old], cut_off_s
                )
                hottest[many] = hot[young]
                found[many, 0], found[many, 1] = s, last
                found[many, 2], found[many, 3] = pool, lacks - told[young]
                many += 1
                told[young] = lacks
            if not fed[old]:
                told[old] += told[young]
            fed[old] = fed[old] or fed[young]
            parent[young] = old
            follow[tail[old]] = young
            tail[old] = tail[young]
    loose = 0.0
    for i in range(n):
        if not fed[_root(parent, i)]:
            loose += volume[i]
            cut_off_s[i] = 0.0
    return many, loose


def niyama(gradient_K_mm: Floats, rate_K_s: Floats) -> Floats:
    """Niyama's figure G / sqrt(dT/dt), in K^0.5 s^0.5/mm (Niyama and others, AFS Int. Cast Metals J. 7 (1982) 52).

    Taken just above the solidus. Made for steel in sand; it ranks places of one casting, and its thresholds do not
    carry over to other metals, moulds or sizes.
    """
    found: Floats = gradient_K_mm / np.sqrt(np.maximum(rate_K_s, 1e-12))
    return found


NIYAMA_IN_OLD_UNITS = np.sqrt(60.0) / 10.0
"""K^0.5 min^0.5/cm in K^0.5 s^0.5/mm."""


def chvorinov_s(modulus_mm: float, constant_s_mm2: float, power: float = 2.0) -> float:
    """Time to freeze by Chvorinov's rule, t = B (V/A)^n."""
    return float(constant_s_mm2 * modulus_mm**power)
