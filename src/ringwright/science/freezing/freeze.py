"""Freezing in the cells of an octree: the march in time, and what comes of it.

Backward Euler, all of metal and mould at once, in steps that grow with time; in each step Newton's method in the
temperature (the enthalpy is piecewise linear), each of its systems by conjugate gradients with a multigrid cycle.
Conductivities are those at the temperatures that the last step foretells. What a step leaves unsolved of the balance of
heat is handed to the next, so that no heat is lost. First order in time. Units: mm, s, K, W, J.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringwright.science.conduction import STEFAN_BOLTZMANN_W_M2K4, Face, Substance
from ringwright.science.freezing import march
from ringwright.science.freezing.cells import Cells
from ringwright.science.freezing.crew import Crew
from ringwright.science.freezing.grids import System
from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault

_NEWTON_MOST = 200
_PLAIN, _HALTED = 6, 40
"""So many of Newton's steps are plain; up to so many halt at kinks."""
_OVERSHOOT = 0.5
"""A Newton step that ends where it is steeper uphill than this share of the first slope down is shortened."""
_SHORTEN_MOST = 24
_SOLVE_MOST = 80
_CLOSING = 0.4
"""The last step is so much shorter than it would be."""
_FIRMER = 0.5
"""Each system is solved to this share of what ends Newton's method."""


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What is cast: the metal, its melt's temperature, the mould and its first temperature, what is between and about.

    ``mould_cells_K`` is the first temperature of each cell of the mould, where it is not ``mould_K`` everywhere.
    ``outside`` is how the room's side, top and bottom give off heat to surroundings of ``around_K``; by default not at
    all.
    """

    metal: Substance
    mould: Substance
    melt_K: float
    mould_K: float
    contact_W_m2K: float = np.inf
    outside: tuple[Face, Face, Face] = (Face(), Face(), Face())
    around_K: float = 293.15
    mould_cells_K: Floats | None = None


@dataclass(frozen=True, kw_only=True)
class Care:
    """How finely time is cut (a step's length over the time passed), and to how much a step's equations are solved.

    ``enough_K`` is the root mean square over the metal's heat capacity. The first steps are of ``first_s``, by default
    that share of what heat takes to go through a finest cell of mould, h^2 c / k.
    """

    growth: float = 0.12
    first_s: float | None = None
    enough_K: float = 5e-2
    most_s: float = 3600.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Frozen:
    """For every metal cell: when it passed the three levels, its cooling rate and gradient there; and the work done.

    A level that was not passed by ``end_s`` is inf; rate and gradient are NaN there. ``heat_lost`` is what is missing
    in the balance of heat, as a share of what the metal gave off. ``traffic_B`` is counted (see ``bytes_moved``).
    """

    passed_s: Floats
    rate_K_s: Floats
    gradient_K_mm: Floats
    temperature_K: Floats
    end_s: float
    heat_lost: float
    steps: int
    newtons: int
    iterations: int
    traffic_B: float


def freeze(
    cells: Cells,
    setting: Setting,
    levels_K: tuple[float, float, float],
    *,
    care: Care | None = None,
    until: NDArray[np.bool_] | None = None,
    until_s: float = np.inf,
) -> Frozen:
    """Freeze the metal of the cells until those of ``until`` (all by default) are below the last of ``levels_K``.

    Or until ``until_s``. Rate and gradient are those between the second and the third level. Raises
    :class:`ComputingFault` where metal is linked to nothing and so never freezes, where it takes longer than the care's
    ``most_s``, or a step's equations are not solved.
    """
    links = cells.links
    linked = np.bincount(links.rows.row_of, weights=links.reach_mm, minlength=cells.count)
    linked += np.bincount(links.across_row, weights=links.across_mm2, minlength=cells.count)
    if (alone := np.flatnonzero(linked[: cells.metal] <= 0)).size:
        at = ", ".join(f"{x:.1f}" for x in cells.centre_mm[alone[0]])
        raise ComputingFault(f"freezing: {alone.size} cells of metal touch nothing, one at ({at}) mm")
    with Crew() as crew:
        return _March(cells, setting, levels_K, care or Care(), crew).go(until, until_s)


class _March:
    """The state of one run."""

    def __init__(
        self, cells: Cells, setting: Setting, levels_K: tuple[float, float, float], care: Care, crew: Crew
    ) -> None:
        self.cells, self.setting, self.care, self.crew = cells, setting, care, crew
        n, metals = cells.count, cells.metal
        self.system = System(cells, crew)
        self.fine = self.system.levels[0]
        self.metal, self.mould = march.table(setting.metal), march.table(setting.mould)
        self.t = np.full(n, setting.mould_K)
        if setting.mould_cells_K is not None:
            self.t[metals:] = setting.mould_cells_K
        self.t[:metals] = setting.melt_K
        self.kinks = setting.metal.T_K[setting.metal.kink]
        self.went: Floats | None = None
        self.heat, self.before, self.theta = np.zeros(n), np.zeros(n), np.zeros(n)
        self.own, self.x, self.wall = (np.zeros(n, np.float32) for _ in range(3))
        self.at = np.full(n, -1, np.int32)
        self.marks = np.array(levels_K)
        self.mark_heats = np.interp(self.marks, self.metal[0], self.metal[1])
        self.passed = np.full((3, metals), np.inf)
        self.gradient = np.full(metals, np.nan)
        self.rates = np.zeros((2, metals))
        self.metal_cuts = _equal(metals, crew.hands)
        links = cells.links
        self.across, self.across_back = self._pairs(links.across, links.across_row)
        self.steep, self.steep_back = self._pairs(links.steep, links.steep_row)
        self.across_cuts = _equal(len(self.across), crew.hands)
        self.steep_cuts = _equal(len(self.steep), crew.hands)
        self.ierfc = march.integral_erfc()
        self.root = -1.0
        self.time, self.steps, self.newtons, self.balances, self.given_off = 0.0, 0, 0, 0, 0.0
        low = float(np.interp(setting.mould_K, self.mould[0][1:], self.mould[3]))
        k = float(np.interp(setting.mould_K, self.mould[0][1:], self.mould[4]))
        self.first_s = care.first_s or care.growth * float(cells.edge_mm.min()) ** 2 * low / k
        self.capacity = float(cells.volume_mm3[:metals].sum() * self.metal[3].min())
        self._balance(1e30)
        self.before[:] = self.heat
        self.start = float(self.heat.sum()), float(self.heat[:metals].sum())

    def _pairs(self, places: Ints, row: NDArray[np.int32]) -> tuple[Ints, Ints]:
        """Which of some links stand for both ways, and the place of each one's way back."""
        rows = self.cells.links.rows
        back = np.empty(len(places), np.int64)
        self.crew(march.backs, _equal(len(places), self.crew.hands), places, row, rows.other, rows.longer, back)
        return np.flatnonzero(row < rows.other[places]), back

    def go(self, until: NDArray[np.bool_] | None, until_s: float) -> Frozen:
        """March to the end."""
        waits = np.ones(self.cells.metal, bool) if until is None else until
        while self.time < until_s * (1 - 1e-12) and not np.isfinite(self.passed[2][waits]).all():
            if self.time > self.care.most_s:
                raise ComputingFault(f"freezing: not solid after {self.care.most_s:.0f} s")
            self._step(min(max(self.first_s, self.care.growth * self.time), until_s - self.time))
        if self.time < until_s * (1 - 1e-12):
            # How fast the last cells cool when they are solid tells better when they were.
            self._step(min(_CLOSING * self.care.growth * self.time, until_s - self.time))
        solid = np.isfinite(self.passed).all(axis=0)
        rate = np.full(self.cells.metal, np.nan)
        between = self.passed[2][solid] - self.passed[1][solid]
        rate[solid] = (self.marks[1] - self.marks[2]) / np.maximum(between, 1e-9)
        metal_now = float(self.heat[: self.cells.metal].sum())
        missing = float(self.heat.sum()) + self.given_off - self.start[0]
        return Frozen(
            passed_s=self.passed,
            rate_K_s=rate,
            gradient_K_mm=self.gradient,
            temperature_K=self.t,
            end_s=self.time,
            heat_lost=abs(missing) / max(self.start[1] - metal_now, 1e-30),
            steps=self.steps,
            newtons=self.newtons,
            iterations=self.system.iterations,
            traffic_B=self._traffic(),
        )

    def _step(self, dt: float) -> None:
        """One step of backward Euler."""
        cells, crew = self.cells, self.crew
        old, old_heat = self.t.copy(), self.heat.copy()
        last, now, then = self.root, np.sqrt(self.time), np.sqrt(self.time + dt)
        if self.went is not None:
            # Against a wide mould temperatures go with the root of time.
            self.t += (then - now) / (now - last) * self.went
        self._conduct(dt)
        self._solve(dt)
        self.given_off += dt * float((self.wall * (self.t - self.setting.around_K)).sum())
        # What is unsolved is handed to the next step.
        self.before[:] = self.heat + dt * self.fine.r.astype(np.float64)
        fresh = ~np.isfinite(self.passed[1])
        crew(
            march.crossings, self.metal_cuts, self.marks, self.mark_heats, cells.volume_mm3, old, self.t, old_heat,
            self.heat, (float(last), float(now), float(then)), self.rates, self.passed,
        )  # fmt: skip
        fresh &= np.isfinite(self.passed[1])
        if fresh.any():
            some = np.flatnonzero(fresh)
            share = (np.sqrt(self.passed[1][some]) - now) / (then - now)
            self.gradient[some] = 0
            for part, t in ((1 - share, old), (share, self.t)):
                march.slopes(
                    some, part, cells.metal, cells.links.rows.other, cells.links.rows.longer, cells.centre_mm, t,
                    self.gradient,
                )  # fmt: skip
        self.went, self.root = self.t - old, now
        self.time += dt
        self.steps += 1

    def _conduct(self, dt: float) -> None:
        """The conductances over a step, at the temperatures that are foretold."""
        cells, links, crew, g = self.cells, self.cells.links, self.crew, self.fine.conductance
        rows, cuts = links.rows, self.fine.cuts
        crew(march.potentials, cuts, cells.metal, self.metal, self.mould, self.t, self.theta, self.own)
        crew(march.conductances, cuts, rows.other, rows.longer, links.reach_mm, self.t, self.theta, self.own, g)
        crew(
            march.contacts, self.across_cuts, self.across, cells.metal, self.metal, self.mould, links.across_row,
            rows.other, links.across, self.across_back, links.across_mm2, links.own_depth_mm, links.other_depth_mm,
            links.bend_mm, 1e6 / self.setting.contact_W_m2K, self.t, self.time + dt, self.time, g,
        )  # fmt: skip
        crew(
            march.steepen, self.steep_cuts, self.steep, links.steep, self.steep_back, links.steep_row, links.steep_mm,
            rows.other, self.mould, self.t, self.time + dt, self.time, self.ierfc, g,
        )  # fmt: skip
        self.system.conduct()
        self.wall[:] = 0
        for side, face in enumerate(self.setting.outside):
            if face.h_W_m2K > 0 or face.emissivity > 0:
                self._wall(cells.wall_side == side, face)

    def _wall(self, some: NDArray[np.bool_], face: Face) -> None:
        """What one side of the room gives off, in W/K: the half cell and the face in series."""
        at, around = self.cells.wall_cell[some], self.setting.around_K
        surface = self.t[at]
        radiation = STEFAN_BOLTZMANN_W_M2K4 * face.emissivity * (surface**2 + around**2) * (surface + around)
        series = 1 / (1e-6 * (face.h_W_m2K + radiation)) + self.cells.wall_mm[some] / self.own[at]
        self.wall += np.bincount(at, weights=self.cells.wall_mm2[some] / series, minlength=self.cells.count)

    def _balance(self, dt: float) -> tuple[int, float]:
        """Residual, heat capacity and heat at the present temperatures.

        Gives how many cells changed their stretch, and the slope along the way x that was gone.
        """
        fine, cells = self.fine, self.cells
        self.balances += 1
        found = self.crew(
            march.balance, fine.cuts, cells.metal, self.metal, self.mould, *fine.links, self.t, self.before,
            cells.volume_mm3, dt, self.wall, self.setting.around_K, self.x, self.at, fine.mass, fine.r, self.heat,
        )  # fmt: skip
        return sum(moved for moved, _ in found), sum(slope for _, slope in found)

    def _solve(self, dt: float) -> None:
        """Newton's method: plain at first, then halted at the enthalpy's kinks, then shortened where it overshoots.

        An alloy with a range needs the first only.
        """
        enough = self.care.enough_K**2 * self.capacity / dt
        cuts, crew = self.fine.cuts, self.crew
        self.x[:] = 0
        self._balance(dt)
        for turn in range(_NEWTON_MOST):
            self.system.weigh()
            self.x[:] = 0
            left, slope, turns = self.system.solve(self.x, _FIRMER * enough, _SOLVE_MOST)
            if not np.isfinite(left):
                break
            if turns == 0:
                return
            self.newtons += 1
            if _PLAIN <= turn < _HALTED:
                crew(march.halted, cuts, self.cells.metal, self.kinks, self.x, self.t)
            else:
                crew(march.go, cuts, 1.0, self.x, self.t)
            moved, ahead = self._balance(dt)
            if turn >= _HALTED and ahead < -_OVERSHOOT * slope:
                self._shorten(dt, slope, ahead)
            elif moved == 0 and left <= enough:
                return
        raise ComputingFault(f"freezing: a step of {dt:.2g} s at {self.time:.2g} s was not solved")

    def _shorten(self, dt: float, slope: float, ahead: float) -> None:
        """Back along x to where the slope is about nothing.

        The equations of a step are those of the least of a convex function, since enthalpy rises with temperature:
        so every x leads down, and from there on Newton's method goes on.
        """
        low, high, at = 0.0, 1.0, 1.0
        below, above = slope, ahead
        for turn in range(_SHORTEN_MOST):
            share = below / (below - above) if turn % 2 == 0 else 0.5
            to = low + (high - low) * min(0.9, max(0.1, share))
            self.crew(march.go, self.fine.cuts, to - at, self.x, self.t)
            at = to
            _, now = self._balance(dt)
            if abs(now) <= _OVERSHOOT * slope:
                return
            if now > 0:
                low, below = at, now
            else:
                high, above = at, now

    def _traffic(self) -> float:
        """Bytes read and written, counted: the solver's iterations, and for each assembly the arrays that it walks."""
        n, places = self.cells.count, len(self.fine.rows.other)
        balance = 8.0 * places + (8 * 4 + 4 * 4 + 8) * n
        weigh = (4 + 4 + 4 + 8) * 1.4 * n
        conduct = 2 * (8 + 8 + 4 + 8 + 4) * n + 12.0 * places + 1.4 * 12.0 * places
        return (
            self.system.iterations * self.system.bytes_of_iteration()
            + self.balances * balance
            + self.newtons * (weigh + 20 * n)
            + self.steps * (conduct + 60 * n)
        )


def _equal(n: int, hands: int) -> tuple[int, ...]:
    return tuple(int(c) for c in np.unique(np.linspace(0, n, hands + 1).astype(int))) if n else (0, 0)
