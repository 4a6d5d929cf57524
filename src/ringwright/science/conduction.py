"""Transient conduction of heat in a finite cylinder, with properties that depend on temperature.

Method: finite volumes in r and z, cells of equal width, one node in the middle of each cell and one on
each piece of surface (which may carry a thin skin with a heat capacity of its own). The unknown is the
Kirchhoff potential ``theta(T) = int k dT``: the flux between two cells is then exact for any k(T), the
matrix of conduction is constant and symmetric, and heats of reaction are steep stretches of the enthalpy.
In time: the two-stage, second-order, L-stable diagonally implicit Runge-Kutta method (R. Alexander, SIAM J.
Numer. Anal. 14 (1977) 1006), on the enthalpy, so that heat is conserved; each stage by Newton's method with
a banded Cholesky factorisation. A Newton step never leaps over a kink of the enthalpy curve.

Units: m, s, K, W, J. A cylinder stands on its bottom; z runs from the bottom to the top.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ringwright.terms.mistake import ComputingFault

Floats = NDArray[np.float64]

STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8
_GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
_NEWTON_MOST = 60
_NEWTON_K = 1e-6
_KINK = 2.0


@dataclass(frozen=True, kw_only=True)
class Reaction:
    """Heat taken up between two temperatures (boiling, dehydration, a change of crystal), in J/m3."""

    from_K: float
    to_K: float
    J_m3: float


@dataclass(frozen=True, eq=False)
class Substance:
    """A solid by tables over temperature: conductivity, and enthalpy per volume with all reactions in it.

    Between two temperatures of the table the conductivity and the heat capacity are constant; below the first and
    above the last they stay as they are there. Made by :func:`substance`.
    """

    T_K: Floats
    theta_W_m: Floats
    H_J_m3: Floats
    kink: NDArray[np.bool_]

    @cached_property
    def slopes(self) -> tuple[Floats, Floats]:
        """dH/dtheta and dT/dtheta of each stretch."""
        step = np.diff(self.theta_W_m)
        return np.diff(self.H_J_m3) / step, np.diff(self.T_K) / step

    @cached_property
    def fences(self) -> tuple[Floats, Floats]:
        """For each stretch, just below the next kink beneath it and just above the next kink over it."""
        tiny = 1e-10 * self.theta_W_m[-1]
        kinks = np.flatnonzero(self.kink)
        at = self.theta_W_m[kinks]
        stretches = np.arange(len(self.T_K) - 1)
        under = np.concatenate([[-np.inf], at - tiny])[np.searchsorted(kinks, stretches, side="right")]
        over = np.concatenate([at + tiny, [np.inf]])[np.searchsorted(kinks, stretches + 1, side="left")]
        return under, over

    def stretch(self, theta: Floats) -> NDArray[np.int64]:
        """The number of the stretch in which each potential lies."""
        return np.searchsorted(self.theta_W_m[1:-1], theta, side="right")

    def temperature_K(self, theta: Floats) -> Floats:
        """T(theta)."""
        i = self.stretch(theta)
        return self.T_K[i] + self.slopes[1][i] * (theta - self.theta_W_m[i])

    def enthalpy_J_m3(self, theta: Floats) -> Floats:
        """H(theta)."""
        i = self.stretch(theta)
        return self.H_J_m3[i] + self.slopes[0][i] * (theta - self.theta_W_m[i])

    def potentials_W_m(self, T_K: Floats) -> Floats:
        """theta(T), for many."""
        i = np.clip(np.searchsorted(self.T_K, T_K, side="right") - 1, 0, len(self.T_K) - 2)
        found: Floats = self.theta_W_m[i] + (T_K - self.T_K[i]) / self.slopes[1][i]
        return found

    def potential_W_m(self, T_K: float) -> float:
        """theta(T)."""
        return float(self.potentials_W_m(np.array([T_K]))[0])

    def heat_J_m3(self, from_K: float, to_K: float) -> float:
        """The heat that a unit of volume takes up between two temperatures."""
        theta = np.array([self.potential_W_m(from_K), self.potential_W_m(to_K)])
        low, high = self.enthalpy_J_m3(theta)
        return float(high - low)


def substance(
    T_K: Sequence[float],
    k_W_mK: Sequence[float],
    c_J_m3K: Sequence[float],
    reactions: Iterable[Reaction] = (),
    grid_K: float = 5.0,
) -> Substance:
    """A substance from conductivity and heat capacity per volume at given temperatures (linear between them).

    ``reactions`` are added as heat spread evenly between their two temperatures. ``grid_K`` is the width
    of the stretches on which conductivity and heat capacity are taken as constant (their means).
    Raises ``ValueError`` where the tables are not positive and rising.
    """
    reactions = tuple(reactions)
    T, k, c = (np.asarray(a, dtype=np.float64) for a in (T_K, k_W_mK, c_J_m3K))
    if len(T) < 1 or len({len(T), len(k), len(c)}) != 1 or np.any(np.diff(T) <= 0):
        raise ValueError("a substance needs as many conductivities and heat capacities as rising temperatures")
    if np.any(k <= 0) or np.any(c <= 0) or any(r.J_m3 < 0 or r.to_K <= r.from_K for r in reactions):
        raise ValueError("conductivity and heat capacity are positive, and a reaction takes up heat over a range")
    low = min([T[0] - grid_K, *(r.from_K - grid_K for r in reactions)])
    high = max([T[-1] + grid_K, *(r.to_K + grid_K for r in reactions)])
    points = {*np.arange(low, high + grid_K, grid_K).tolist(), *T.tolist()}
    edges = {r.from_K for r in reactions} | {r.to_K for r in reactions}
    knots = np.array(sorted(points | edges))
    knots = knots[np.concatenate([[True], np.diff(knots) > 1e-9])]
    middle, width = (knots[1:] + knots[:-1]) / 2, np.diff(knots)
    k_mean = np.interp(middle, T, k)
    c_mean = np.interp(middle, T, c)
    for r in reactions:
        inside = (middle > r.from_K) & (middle < r.to_K)
        c_mean = c_mean + inside * r.J_m3 / (r.to_K - r.from_K)
    theta = np.concatenate([[0.0], np.cumsum(k_mean * width)])
    H = np.concatenate([[0.0], np.cumsum(c_mean * width)])
    ratio = c_mean / k_mean
    jump = np.maximum(ratio[1:] / ratio[:-1], ratio[:-1] / ratio[1:]) > _KINK
    return Substance(knots, theta, H, np.concatenate([[False], jump, [False]]))


@dataclass(frozen=True, kw_only=True)
class Face:
    """How a surface takes up heat from its surroundings.

    ``h_W_m2K`` by convection, ``emissivity`` by radiation from surroundings at the same temperature, and the heat
    capacity of a thin skin on it (``skin_J_m2K``). All zero: an insulated face, or a plane of symmetry.
    """

    h_W_m2K: float = 0.0
    emissivity: float = 0.0
    skin_J_m2K: float = 0.0

    def flux_W_m2(self, surface_K: float, around_K: float) -> float:
        """The heat that flows in."""
        radiation = STEFAN_BOLTZMANN_W_M2K4 * self.emissivity * (around_K**4 - surface_K**4)
        return self.h_W_m2K * (around_K - surface_K) + radiation


@dataclass(frozen=True, kw_only=True)
class State:
    """A moment: potentials of all nodes, heat taken up since the start (J), and the time (s)."""

    theta: Floats
    heat_J: float = 0.0
    time_s: float = 0.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Cylinder:
    """A cylinder with its grid: ``cells_r`` by ``cells_z`` cells, and a node on each piece of surface."""

    radius_m: float
    height_m: float
    inside: Substance
    side: Face
    top: Face
    bottom: Face
    cells_r: int = 16
    cells_z: int = 24

    @property
    def shape(self) -> tuple[int, int]:
        """Nodes along z (bottom face, cells, top face) and along r (cells, side face)."""
        return self.cells_z + 2, self.cells_r + 1

    @cached_property
    def cells_m3(self) -> Floats:
        """Volume of each node's cell; zero on the surface."""
        edges = np.linspace(0, self.radius_m, self.cells_r + 1)
        ring = math.pi * np.diff(edges**2)
        found = np.zeros(self.shape)
        found[1:-1, :-1] = ring[None, :] * (self.height_m / self.cells_z)
        return found

    @cached_property
    def faces_m2(self) -> tuple[Floats, Floats, Floats]:
        """Area of side, top and bottom at each node."""
        edges = np.linspace(0, self.radius_m, self.cells_r + 1)
        ring = math.pi * np.diff(edges**2)
        side, top, bottom = (np.zeros(self.shape) for _ in range(3))
        side[1:-1, -1] = 2 * math.pi * self.radius_m * self.height_m / self.cells_z
        top[-1, :-1] = ring
        bottom[0, :-1] = ring
        return side, top, bottom

    @cached_property
    def surface(self) -> tuple[Floats, Floats, Floats]:
        """Convection (W/K), emissivity times area (m2) and skin (J/K) of each node."""
        parts = tuple(zip(self.faces_m2, (self.side, self.top, self.bottom), strict=True))
        zero = np.zeros(self.shape)
        convection = sum((area * face.h_W_m2K for area, face in parts), start=zero)
        radiation = sum((area * face.emissivity for area, face in parts), start=zero)
        skin = sum((area * face.skin_J_m2K for area, face in parts), start=zero)
        return convection, radiation, skin

    @cached_property
    def conduction(self) -> Floats:
        """The matrix of conduction in the potential, symmetric, as lower bands (LAPACK's ``pb`` form), in m."""
        nz, nr = self.shape
        dr, dz = self.radius_m / self.cells_r, self.height_m / self.cells_z
        edges = np.linspace(0, self.radius_m, self.cells_r + 1)
        ring = math.pi * np.diff(edges**2)
        along_r = np.zeros((nz, nr))
        along_r[1:-1, : nr - 2] = 2 * math.pi * edges[1:-1] * dz / dr
        along_r[1:-1, nr - 2] = 2 * math.pi * self.radius_m * dz / (dr / 2)
        along_z = np.zeros((nz, nr))
        along_z[1 : nz - 2, :-1] = ring / dz
        along_z[0, :-1] = along_z[nz - 2, :-1] = ring / (dz / 2)
        diagonal = along_r + along_z
        diagonal[:, 1:] += along_r[:, :-1]
        diagonal[1:, :] += along_z[:-1, :]
        # The four corner nodes belong to no cell: they stand alone and stay as they are.
        diagonal[diagonal == 0] = 1.0
        bands = np.zeros((nr + 1, nz * nr), order="F")
        bands[0] = diagonal.ravel()
        bands[1] = -along_r.ravel()
        bands[nr] = -along_z.ravel()
        return bands

    @cached_property
    def corners(self) -> NDArray[np.bool_]:
        """The nodes that belong to no cell."""
        lone = np.zeros(self.shape, dtype=bool)
        lone[[0, 0, -1, -1], [-1, -1, -1, -1]] = True
        return lone.ravel()

    def at(self, T_K: float) -> State:
        """The whole cylinder at one temperature."""
        size = self.shape[0] * self.shape[1]
        return State(theta=np.full(size, self.inside.potential_W_m(T_K)))

    def taken_over(self, state: State, inside: Substance) -> tuple[Cylinder, State]:
        """The same body at the same temperatures with another substance inside (after what cannot be undone)."""
        theta = inside.potentials_W_m(self.inside.temperature_K(state.theta))
        return replace(self, inside=inside), replace(state, theta=theta)

    def temperatures_K(self, state: State) -> Floats:
        """Temperatures of the cells, along z and r."""
        found = self.inside.temperature_K(state.theta).reshape(self.shape)
        return np.asarray(found[1:-1, :-1])

    def core_K(self, state: State) -> float:
        """The temperature in the middle, on the axis at half the height (by the parabola through the nearest cells)."""
        theta = state.theta.reshape(self.shape)[1:-1, :-1]
        axis = theta[:, 0] - (theta[:, 1] - theta[:, 0]) / 8 if self.cells_r > 1 else theta[:, 0]
        n = self.cells_z
        if n % 2:
            middle = axis[n // 2]
        elif n >= 4:
            near, next_ = (axis[n // 2 - 1] + axis[n // 2]) / 2, (axis[n // 2 - 2] + axis[n // 2 + 1]) / 2
            middle = near - (next_ - near) / 8
        else:
            middle = (axis[n // 2 - 1] + axis[n // 2]) / 2
        return float(self.inside.temperature_K(np.array([middle]))[0])

    def spread_K(self, state: State) -> tuple[float, float]:
        """The coldest and the hottest cell."""
        cells = self.temperatures_K(state)
        return float(cells.min()), float(cells.max())

    def content_J(self, state: State) -> float:
        """The heat inside, above that of the first temperature of the table, with the skins'."""
        return float(self._content(state.theta).sum())

    def mean_H_J_m3(self, state: State) -> float:
        """The mean enthalpy per volume of the cells."""
        cells = self.cells_m3.ravel()
        return float((cells * self.inside.enthalpy_J_m3(state.theta)).sum() / cells.sum())

    def _content(self, theta: Floats) -> Floats:
        """Heat of each node, J."""
        skin = self.surface[2].ravel()
        return self.cells_m3.ravel() * self.inside.enthalpy_J_m3(theta) + skin * self.inside.temperature_K(theta)

    def _conducted(self, theta: Floats) -> Floats:
        """Heat that flows by conduction into each node, W."""
        nr = self.shape[1]
        bands = self.conduction
        out = bands[0] * theta
        out[:-1] += bands[1][:-1] * theta[1:]
        out[1:] += bands[1][:-1] * theta[:-1]
        out[:-nr] += bands[nr][:-nr] * theta[nr:]
        out[nr:] += bands[nr][:-nr] * theta[:-nr]
        out[self.corners] = 0.0
        found: Floats = -out
        return found

    @cached_property
    def _skin(self) -> tuple[NDArray[np.int64], Floats, Floats]:
        """The surface nodes, their convection (W/K), and their radiation (W/K4)."""
        convection, emitting, _ = (a.ravel() for a in self.surface)
        nodes = np.flatnonzero(convection + emitting)
        return nodes, convection[nodes], STEFAN_BOLTZMANN_W_M2K4 * emitting[nodes]

    def _received(self, T_K: Floats, around_K: float) -> tuple[Floats, Floats]:
        """Heat from the surroundings into each node (W), and minus its slope over temperature (W/K)."""
        nodes, convection, sigma = self._skin
        T = T_K[nodes]
        cube = T * T * T
        gained, loses = np.zeros(len(T_K)), np.zeros(len(T_K))
        gained[nodes] = convection * (around_K - T) + sigma * (around_K**4 - cube * T)
        loses[nodes] = convection + 4 * sigma * cube
        return gained, loses

    def _stage(self, guess: Floats, known: Floats, span_s: float, around_K: float) -> tuple[Floats, float]:
        """Solve content(theta) = known + span (conducted + received); the potentials, and the last change in K."""
        from scipy.linalg.lapack import dpbsv

        inside, volume, skin = self.inside, self.cells_m3.ravel(), self.surface[2].ravel()
        under, over = inside.fences
        theta = guess
        for _ in range(_NEWTON_MOST):
            i = inside.stretch(theta)
            dH, dT = inside.slopes[0][i], inside.slopes[1][i]
            beyond = theta - inside.theta_W_m[i]
            T = inside.T_K[i] + dT * beyond
            gained, loses = self._received(T, around_K)
            content = volume * (inside.H_J_m3[i] + dH * beyond) + skin * T
            miss = known + span_s * (self._conducted(theta) + gained) - content
            matrix = span_s * self.conduction
            matrix[0] += volume * dH + (skin + span_s * loses) * dT
            miss[self.corners] = 0.0
            _, step, info = dpbsv(matrix, miss, lower=1, overwrite_ab=1)
            if info:
                raise ComputingFault(
                    f"conduction: the matrix of a step of {span_s:.3g} s could not be factored ({info})"
                )
            new = np.minimum(np.maximum(theta + step, under[i]), over[i])
            change = float(np.max(np.abs((new - theta) * dT)))
            theta = new
            if change < _NEWTON_K:
                return theta, change
        raise ComputingFault(
            f"conduction: Newton's method left {change:.2g} K after {_NEWTON_MOST} rounds in a step of {span_s:.3g} s"
        )

    def after(self, state: State, dt_s: float, around_K: tuple[float, float]) -> State:
        """The state ``dt_s`` later, while the surroundings go from the first to the second temperature.

        Raises :class:`ComputingFault` where Newton's method does not settle to a millionth of a kelvin.
        """
        early = around_K[0] + _GAMMA * (around_K[1] - around_K[0])
        held = self._content(state.theta)
        span = _GAMMA * dt_s
        first, _ = self._stage(state.theta, held, span, early)
        gained1, _ = self._received(self.inside.temperature_K(first), early)
        flow1 = self._conducted(first) + gained1
        known = held + (1 - _GAMMA) * dt_s * flow1
        second, _ = self._stage(first, known, span, around_K[1])
        gained2, _ = self._received(self.inside.temperature_K(second), around_K[1])
        heat = dt_s * ((1 - _GAMMA) * gained1.sum() + _GAMMA * gained2.sum())
        return replace(state, theta=second, heat_J=state.heat_J + float(heat), time_s=state.time_s + dt_s)


def eigenvalues(biot: float, many: int, *, cylinder: bool) -> Floats:
    """The first roots of ``x J1(x) = Bi J0(x)`` (long cylinder) or ``x tan x = Bi`` (wall).

    Carslaw & Jaeger, Conduction of Heat in Solids, 1959, 7.7 and 3.11.
    """
    from scipy.optimize import brentq
    from scipy.special import j0, j1, jn_zeros

    if cylinder:
        ends = np.concatenate([[0.0], jn_zeros(1, many)])

        def miss(x: float) -> float:
            return float(x * j1(x) - biot * j0(x))
    else:
        ends = np.arange(many + 1) * math.pi

        def miss(x: float) -> float:
            return float(x * math.sin(x) - biot * math.cos(x))

    return np.array([brentq(miss, a + 1e-12, b, xtol=1e-14, rtol=1e-14) for a, b in pairwise(ends)])


def series_shares(
    times_s: Floats, *, radius_m: float, height_m: float, diffusivity_m2_s: float, h_over_k_1_m: float, many: int = 60
) -> Floats:
    """The share that is left in the middle of a finite cylinder, some times after its surroundings stepped.

    Constant properties, the same transfer on all faces; an infinite height is the long cylinder. The product of the
    series for a long cylinder and for a wall (Carslaw & Jaeger, Conduction of Heat in Solids, 1959, 1.15, 3.11, 7.7;
    Incropera, Fundamentals of Heat and Mass Transfer, ch. 5).
    """
    from scipy.special import j0, j1

    fourier = diffusivity_m2_s * np.asarray(times_s, dtype=np.float64)[:, None]
    x = eigenvalues(h_over_k_1_m * radius_m, many, cylinder=True)
    left = (2 * j1(x) / (x * (j0(x) ** 2 + j1(x) ** 2)) * np.exp(-(x**2) * fourier / radius_m**2)).sum(axis=1)
    if not math.isinf(height_m):
        y = eigenvalues(h_over_k_1_m * height_m / 2, many, cylinder=False)
        wall = 4 * np.sin(y) / (2 * y + np.sin(2 * y)) * np.exp(-(y**2) * fourier / (height_m / 2) ** 2)
        left = left * wall.sum(axis=1)
    return np.asarray(left, dtype=np.float64)


def against_series(
    *,
    radius_m: float,
    height_m: float,
    k_W_mK: float,
    c_J_m3K: float,
    h_W_m2K: float,
    hours: float,
    dt_s: float,
    cells: tuple[int, int] = (16, 24),
    from_K: float = 293.15,
    around_K: float = 423.15,
) -> float:
    """The greatest difference of the core from the series solution over ``hours``, as a share of the step.

    This is the project's check of the solver with constant properties; the same grid and time step as in use.
    """
    flat = substance([from_K - 50, around_K + 50], [k_W_mK] * 2, [c_J_m3K] * 2)
    face = Face(h_W_m2K=h_W_m2K)
    body = Cylinder(
        radius_m=radius_m,
        height_m=height_m,
        inside=flat,
        side=face,
        top=face,
        bottom=face,
        cells_r=cells[0],
        cells_z=cells[1],
    )
    state, times, cores = body.at(from_K), list[float](), list[float]()
    while state.time_s < hours * 3600 - 1e-6:
        state = body.after(state, dt_s, (around_K, around_K))
        times.append(state.time_s)
        cores.append(body.core_K(state))
    left = series_shares(
        np.array(times),
        radius_m=radius_m,
        height_m=height_m,
        diffusivity_m2_s=k_W_mK / c_J_m3K,
        h_over_k_1_m=h_W_m2K / k_W_mK,
    )
    return float(np.max(np.abs((around_K - np.array(cores)) / (around_K - from_K) - left)))
