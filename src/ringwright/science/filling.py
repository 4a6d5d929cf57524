"""How a liquid that freezes fills a cavity: when it gets where, and what heat it has left there.

A model of paths on a network of cells, not a solution of the flow. Assumed:

* Every place is reached on its quickest path from the source. On it the liquid runs as fast as the pressure that is
  left for it allows: p = rho u^2 (1 + K) / 2 + u r^2 sum(8 mu ds / r'^4), the head of velocity with its losses K, and
  laminar friction on the way (speeds along the path as 1/r^2, continuity in round channels). p is the driving pressure
  and the head down to the place, less surface tension 2 gamma |cos| / r where the channel is narrow. r is the radius
  of the largest ball in the cavity that holds the place.
* All fronts move together: the whole flow is held back by one factor where the sprue, the supply, or the gas that
  must leave through the porous wall (Darcy, isothermal, quasi-steady in the wall) cannot give or take as much.
* The front carries its own heat on: it loses h (P/A) (T - T0) per volume and time, with h the contact and the wall
  in series, the wall as a half-space that a front of some diameters' length passes: h_w = 2 b / sqrt(pi t). It stops
  when the share of solid at which flow stops is reached (Flemings, Solidification Processing, 1974).
* The wall does not fill with heat before the front comes, and liquid behind the front does not warm it.

SI units but for lengths of the network, which are mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.science.network import Network
from ringwright.terms.body import Floats, Ints

Bools = NDArray[np.bool_]
GRAVITY_M_S2 = 9.80665
ATMOSPHERE_PA = 101325.0
_STEPS = 400


@dataclass(frozen=True, kw_only=True)
class Liquid:
    """What flows: density kg/m3, viscosity Pa s, surface tension N/m, heat capacity J/(kg K), latent heat J/kg.

    With its contact angle on the wall, and the share of solid at which it stops to flow.
    """

    density: float
    viscosity: float
    tension: float
    angle_deg: float
    heat_capacity: float
    latent: float
    liquidus_C: float
    solidus_C: float
    stops_at: float

    def heat_J_m3(self, at_C: float) -> float:
        """Heat above that at which the liquid stops."""
        return self.density * (self.heat_capacity * max(at_C - self.liquidus_C, 0.0) + self.stops_at * self.latent)

    def capillary_Pa(self, radius_mm: float) -> float:
        """Pressure that a round channel of that radius needs to be entered: 2 gamma |cos(angle)| / r."""
        return 2e3 * self.tension * abs(math.cos(math.radians(self.angle_deg))) / radius_mm

    def edge_mm(self, pressure_Pa: float) -> float:
        """The radius down to which a pressure fills."""
        return 2e3 * self.tension * abs(math.cos(math.radians(self.angle_deg))) / max(pressure_Pa, 1e-9)


@dataclass(frozen=True, kw_only=True)
class Wall:
    """The porous wall: effusivity J/(m2 K s^0.5), contact W/(m2 K), temperature, permeability m2.

    Gas goes through it with the shape factor ``shape_m`` from the cavity to where the pressure is ``behind_Pa``.
    ``tip`` is the length of the front in diameters.
    """

    effusivity: float
    contact: float
    temperature_C: float
    permeability: float
    shape_m: float
    behind_Pa: float
    tip: float


@dataclass(frozen=True, kw_only=True)
class Supply:
    """What is given: the rate, the sprue's area and its losses in heads of velocity, the liquid's temperature."""

    rate_m3_s: float
    sprue_m2: float
    losses: float
    liquid_C: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Filled:
    """When each cell is reached (inf where never), and the share of its heat that the front has left there.

    The heat is that which the metal has when it is poured, above that at which it stops: below 0 it stops before the
    place. ``speed_m_s`` is that of the front; ``gas_Pa`` the pressure of the gas above that behind the wall and
    ``flow_m3_s`` the flow, in steps of equal volume.
    """

    time_s: Floats
    heat_left: Floats
    speed_m_s: Floats
    parent: Ints
    gas_Pa: Floats
    flow_m3_s: Floats
    fill_s: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Paths:
    """The quickest paths into a cavity, before anything holds the flow back as a whole.

    ``order`` are the cells as they are reached, ``arrival_s`` when, ``parent`` from where (-1 at the source),
    ``pressure_Pa`` what drives the front there against the pressure behind the wall.
    """

    order: Ints
    arrival_s: Floats
    parent: Ints
    speed_m_s: Floats
    pressure_Pa: Floats
    radius_m: Floats
    ratio_1_m: Floats
    volume_m3: Floats


def paths(
    network: Network,
    radius_mm: Floats,
    head_Pa: Floats,
    source: Bools,
    liquid: Liquid,
    *,
    drive_Pa: float,
    losses: float,
) -> Paths:
    """The quickest paths from the cells of ``source``.

    ``drive_Pa`` is the pressure on the source less that behind the wall, ``head_Pa`` what depth or spin adds at each
    cell, ``losses`` those on the way, in heads of velocity.
    """
    pressure = drive_Pa + head_Pa - liquid.capillary_Pa(1.0) / radius_mm
    n = network.count
    speed, arrival, parent = np.zeros(n), np.full(n, np.inf), np.full(n, -1)
    order, room = np.empty(n, np.int64), len(network.other) + n + 1
    radius_m = np.ascontiguousarray(radius_mm, np.float64) * 1e-3
    many = _paths(
        network.centre_mm * 1e-3,
        radius_m,
        network.start,
        network.other,
        source,
        pressure,
        liquid.density * (1 + losses) / 2,
        8 * liquid.viscosity,
        speed,
        arrival,
        parent,
        order,
        np.zeros(n),
        np.zeros(n, np.bool_),
        np.empty(room),
        np.empty(room, np.int64),
    )
    return Paths(
        order=order[:many].copy(),
        arrival_s=arrival,
        parent=parent,
        speed_m_s=speed,
        pressure_Pa=pressure,
        radius_m=radius_m,
        ratio_1_m=np.clip(network.surface_per_volume(), 1.0 / radius_mm, 2.0 / radius_mm) * 1e3,
        volume_m3=network.volume_mm3 * 1e-9,
    )


def filled(way: Paths, liquid: Liquid, wall: Wall, supply: Supply) -> Filled:
    """When each cell is full and what heat is left there, with the sprue, the supply and the gas holding back.

    The cells of the source are full from the beginning: the liquid is given into them.
    """
    begins = int((way.arrival_s[way.order] == 0.0).sum())
    order = way.order[begins:]
    volume = way.volume_m3[order]
    at, pace, steps = np.zeros(len(order)), np.ones(len(order)), _STEPS if len(order) else 0
    gas, flow = np.zeros(steps), np.zeros(steps)
    _together(
        way.arrival_s[order],
        volume,
        float(volume.sum()),
        way.pressure_Pa[order],
        wall.permeability * wall.shape_m / (2 * air_viscosity(wall.temperature_C)),
        wall.behind_Pa,
        supply.rate_m3_s,
        supply.sprue_m2,
        liquid.density * (1 + supply.losses) / 2,
        at,
        pace,
        gas,
        flow,
    )
    time, speed = np.full(len(way.arrival_s), np.inf), np.zeros(len(way.arrival_s))
    time[way.order[:begins]] = 0.0
    time[order] = at
    speed[order] = way.speed_m_s[order] * pace
    full, left = liquid.heat_J_m3(supply.liquid_C), np.full(len(time), -np.inf)
    _heat(
        way.order,
        way.parent,
        time,
        speed,
        way.radius_m,
        way.ratio_1_m,
        full,
        liquid.density * liquid.heat_capacity,
        liquid.density * liquid.latent / max(liquid.liquidus_C - liquid.solidus_C, 1e-6),
        liquid.density * liquid.stops_at * liquid.latent,
        liquid.liquidus_C,
        wall.temperature_C,
        wall.contact,
        wall.effusivity,
        wall.tip,
        left,
    )
    return Filled(
        time_s=time,
        heat_left=left / full,
        speed_m_s=speed,
        parent=way.parent,
        gas_Pa=gas,
        flow_m3_s=flow,
        fill_s=float(at[-1]) if len(at) else math.inf,
    )


@njit(cache=True, nogil=True)
def _push(heap_t: Floats, heap_i: Ints, size: int, t: float, i: int) -> None:
    k = size
    while k > 0:
        up = (k - 1) >> 1
        if heap_t[up] <= t:
            break
        heap_t[k], heap_i[k] = heap_t[up], heap_i[up]
        k = up
    heap_t[k], heap_i[k] = t, i


@njit(cache=True, nogil=True)
def _pop(heap_t: Floats, heap_i: Ints, size: int) -> None:
    """Take the first off a heap of ``size``."""
    size -= 1
    t, i = heap_t[size], heap_i[size]
    k = 0
    while True:
        down = 2 * k + 1
        if down >= size:
            break
        if down + 1 < size and heap_t[down + 1] < heap_t[down]:
            down += 1
        if heap_t[down] >= t:
            break
        heap_t[k], heap_i[k] = heap_t[down], heap_i[down]
        k = down
    heap_t[k], heap_i[k] = t, i


@njit(cache=True, nogil=True)
def _step(centre: Floats, a: int, b: int) -> float:
    x, y, z = centre[a, 0] - centre[b, 0], centre[a, 1] - centre[b, 1], centre[a, 2] - centre[b, 2]
    return float(np.sqrt(x * x + y * y + z * z))


@njit(cache=True, nogil=True)
def _paths(
    centre: Floats, radius: Floats, start: Ints, other: Ints, source: Bools, pressure: Floats, inertia: float,
    friction: float, speed: Floats, arrival: Floats, parent: Ints, order: Ints, drag: Floats, done: Bools,
    heap_t: Floats, heap_i: Ints,
) -> int:  # fmt: skip
    """Quickest paths (Dijkstra); from a cell's parent straight on where the step stays within the ball at its end.

    ``speed`` becomes the speed that each cell's pressure allows. Gives how many cells are reached, in ``order``. All
    memory comes from the caller: the compiler takes longer over arrays that a kernel makes than over the rest of it.
    """
    size, many = int(np.int64(0)), 0
    for i in range(radius.size):
        if source[i]:
            arrival[i] = 0.0
            if pressure[i] > 0:
                speed[i] = np.sqrt(pressure[i] / inertia)
            _push(heap_t, heap_i, size, 0.0, i)
            size += 1
    while size > 0:
        i = heap_i[0]
        _pop(heap_t, heap_i, size)
        size -= 1
        if done[i]:
            continue
        done[i] = True
        order[many] = i
        many += 1
        for e in range(start[i], start[i + 1]):
            j = other[e]
            if done[j] or pressure[j] <= 0:
                continue
            p = i
            if parent[i] >= 0 and _step(centre, parent[i], j) <= min(radius[j], radius[parent[i]]):
                p = parent[i]
            ds = _step(centre, p, j)
            r = min(radius[j], radius[p])
            d = drag[p] + friction * ds / (r * r * r * r)
            half = d * radius[j] * radius[j] / 2
            u = (np.sqrt(half * half + inertia * pressure[j]) - half) / inertia
            mean = u if speed[p] == 0 else (u + speed[p]) / 2
            t = arrival[p] + ds / mean
            if t < arrival[j]:
                arrival[j], parent[j], drag[j], speed[j] = t, p, d, u
                _push(heap_t, heap_i, size, t, j)
                size += 1
    return many


@njit(cache=True, nogil=True)
def _together(
    arrival: Floats, volume: Floats, total: float, pressure: Floats, leak: float, behind: float, rate: float,
    sprue_m2: float, sprue_inertia: float, time: Floats, pace: Floats, gas_Pa: Floats, flow: Floats,
) -> None:  # fmt: skip
    """The time at which each cell (in the order of arrival) is full, its pace, and gas pressure and flow on the way.

    In steps of equal volume. The gas keeps its temperature: d(p V)/dt = -leak (p^2 - behind^2); p at the end of a
    step by bisection.
    """
    n, steps = arrival.size, gas_Pa.size
    gas = ATMOSPHERE_PA
    content = gas * total
    filled, t, at = 0.0, 0.0, 0
    for k in range(steps):
        want = total * (k + 1) / steps
        first, before, early = at, filled, arrival[at - 1] if at > 0 else 0.0
        p_sum, v_sum = 0.0, 0.0
        while at < n and (filled < want - 1e-9 * total or k == steps - 1):
            filled += volume[at]
            p_sum += volume[at] * pressure[at]
            v_sum += volume[at]
            at += 1
        if v_sum == 0.0:
            gas_Pa[k], flow[k] = gas - behind, flow[max(k - 1, 0)]
            continue
        drive = p_sum / v_sum
        span = max(arrival[at - 1] - early, 1e-9)
        wished = v_sum / span
        left = max(total - filled, 1e-4 * total)
        low, high = behind, max(behind + drive, gas) * (1 - 1e-12)
        dt = span
        for _ in range(60):
            p = (low + high) / 2
            net = max(drive - (p - behind), 0.0)
            q = min(wished * np.sqrt(net / drive), sprue_m2 * np.sqrt(net / sprue_inertia), rate)
            dt = v_sum / max(q, 1e-14)
            if p * left - content + dt * leak * (p * p - behind * behind) > 0:
                high = p
            else:
                low = p
        gas = (low + high) / 2
        content = gas * left
        gas_Pa[k], flow[k] = gas - behind, v_sum / dt
        share = 0.0
        for m in range(first, at):
            share += volume[m]
            time[m] = t + dt * share / v_sum
            pace[m] = min(span / dt, 1.0)
        t += dt
        filled = before + v_sum


@njit(cache=True, nogil=True)
def _heat(
    order: Ints, parent: Ints, time: Floats, speed: Floats, radius: Floats, ratio: Floats, full: float, c: float,
    per_K: float, latent: float, liquidus: float, wall: float, contact: float, effusivity: float, tip: float,
    heat: Floats,
) -> None:  # fmt: skip
    """The heat that the front has left, along every path (J/m3)."""
    for n in range(order.size):
        i = order[n]
        p = parent[i]
        if p < 0:
            heat[i] = full
            continue
        dt = time[i] - time[p]
        over = heat[p] - latent
        t = liquidus + (over / c if over >= 0 else max(over, -latent) / per_K)
        exposed = tip * 2 * radius[i] / max(speed[i], 1e-9)
        h = 1 / (1 / contact + np.sqrt(np.pi * exposed) / (2 * effusivity))
        heat[i] = heat[p] - ratio[i] * h * max(t - wall, 0.0) * dt


def fluidity_m(
    *,
    density: float,
    radius_m: float,
    speed_m_s: float,
    stops_at: float,
    latent: float,
    heat_capacity: float,
    superheat_K: float,
    h_W_m2K: float,
    over_mould_K: float,
) -> float:
    """How far a metal runs in a round channel when the contact limits: rho a V (k H + c dT) / (2 h (Tm - T0)).

    M. C. Flemings, Solidification Processing, 1974.
    """
    heat = stops_at * latent + heat_capacity * superheat_K
    return density * radius_m * speed_m_s * heat / (2 * h_W_m2K * over_mould_K)


def darcy_m3_s(*, permeability: float, area_m2: float, drop_Pa: float, viscosity: float, length_m: float) -> float:
    """Flow of a gas through a porous layer, at its own state: Q = K A dP / (mu L)."""
    return permeability * area_m2 * drop_Pa / (viscosity * length_m)


def limit_speed_m_s(pressure_Pa: float, density: float) -> float:
    """The speed that a pressure gives without loss: sqrt(2 p / rho)."""
    return math.sqrt(2 * pressure_Pa / density)


def spin_Pa(density: float, rpm: float, inner_m: float, outer_m: float) -> float:
    """The pressure between two radii of a liquid that is spun: rho w^2 (r2^2 - r1^2) / 2."""
    return density * (rpm * 2 * math.pi / 60) ** 2 * (outer_m**2 - inner_m**2) / 2


def air_viscosity(at_C: float) -> float:
    """Viscosity of air, Pa s (W. Sutherland 1893: 1.458e-6 T^1.5 / (T + 110.4))."""
    kelvin = at_C + 273.15
    return float(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


def shape_factor_m(surface_m2: float) -> float:
    """Shape factor of a body far from all else: 2 sqrt(pi A), exact for a ball, within some percent for plump bodies.

    M. M. Yovanovich's observation that the shape factor over the root of the surface is nearly the same for all.
    """
    return 2 * math.sqrt(math.pi * surface_m2)
