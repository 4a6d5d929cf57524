"""The window: which flask and which melt fill the ring and freeze it well, and which of them to choose."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from ringwright.science.feeding import Pools
from ringwright.science.filling import Filled
from ringwright.steps.pour._cavity import Cavity
from ringwright.steps.pour._pass import Flow, lowest_tenth, pore_mm3, reserve_percent
from ringwright.steps.pour._rules import PourRows
from ringwright.steps.pour._thermal import Thermal, between
from ringwright.terms.alloy import Alloy
from ringwright.terms.pour import FlaskTemperatureFact, MeltTemperatureFact, Setting
from ringwright.terms.tree import InvestmentFact
from ringwright.terms.workshop import CastingPlant

MISRUN, NEAR, SOUND, COARSE, UNUSUAL = "misrun", "near misrun", "sound", "coarse and porous side", "outside practice"
_STEP_C = 5.0
_COLDER_C, _HOTTER_C, _MELT_C = 150.0, 75.0, 40.0
_BELOW_SOLIDUS_C = 20.0


@dataclass(frozen=True, kw_only=True)
class Frozen:
    """What a run of freezing comes to for the map."""

    mould_C: float
    melt_C: float
    frozen_s: float
    pore_mm3: float
    niyama: float


def frozen(cavity: Cavity, thermal: Thermal, pools: Pools, alloy: Alloy) -> Frozen:
    """The figures of a run that the map needs."""
    own = cavity.in_piece
    return Frozen(
        mould_C=thermal.mould_C,
        melt_C=thermal.melt_C,
        frozen_s=float(thermal.solid_s[own].max()),
        pore_mm3=pore_mm3(cavity, pools, alloy),
        niyama=lowest_tenth(thermal.niyama[own], cavity.network.volume_mm3[own]),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Window:
    """All that a setting is worked out from: the flow, two runs of freezing, and what is usual.

    Between the two runs (and beyond them) times go by the similarity of a mould that takes the heat of a metal of one
    temperature: t as ((L + c dT) / (Tm - T0))^2, here in powers of that ratio as the two runs give them.
    """

    flow: Flow
    cold: Frozen
    hot: Frozen
    drop: tuple[tuple[float, float], tuple[float, float]]
    flask: FlaskTemperatureFact
    span: tuple[float, float]
    melt: MeltTemperatureFact

    @property
    def alloy(self) -> Alloy:
        """The alloy."""
        return self.flow.alloy

    @property
    def plant(self) -> CastingPlant:
        """The plant."""
        return self.flow.plant

    @property
    def investment(self) -> InvestmentFact:
        """The investment."""
        return self.flow.investment

    @property
    def rows(self) -> PourRows:
        """The facts."""
        return self.flow.rows

    def mould_C(self, flask_C: float) -> float:
        """The mould about the tree at the pour, from the flask's soak."""
        (a, at_a), (b, at_b) = self.drop
        return flask_C + at_a - a if b == a else flask_C + (at_a - a) + (at_b - b - at_a + a) * (flask_C - a) / (b - a)

    def _likeness(self, mould_C: float, melt_C: float) -> float:
        alloy = self.alloy
        heat = alloy.latent_kJ_kg * 1000.0 + alloy.cp_liquid_J_kgK * (melt_C - alloy.liquidus_C)
        return math.log(heat / max(alloy.solidus_C - mould_C, 1.0))

    def _where(self, mould_C: float, melt_C: float) -> float:
        a, b = (self._likeness(run.mould_C, run.melt_C) for run in (self.cold, self.hot))
        return (self._likeness(mould_C, melt_C) - a) / (b - a)

    def like(self, run: Frozen) -> float:
        """The map's time over that of a run, at its own mould and melt."""
        return between(self.cold.frozen_s, self.hot.frozen_s, self._where(run.mould_C, run.melt_C)) / run.frozen_s

    def fitted(self, run: Frozen) -> Window:
        """The window with its times, its Niyama figures and its pores brought to those of a finer run."""
        x = self._where(run.mould_C, run.melt_C)
        time, figure = self.like(run), between(self.cold.niyama, self.hot.niyama, x) / max(run.niyama, 1e-12)
        more = run.pore_mm3 - (self.cold.pore_mm3 + (self.hot.pore_mm3 - self.cold.pore_mm3) * x)

        def fit(old: Frozen) -> Frozen:
            return replace(
                old, frozen_s=old.frozen_s / time, niyama=old.niyama / figure, pore_mm3=max(0.0, old.pore_mm3 + more)
            )

        return replace(self, cold=fit(self.cold), hot=fit(self.hot))

    def filled(self, flask_C: float, melt_C: float) -> Filled:
        """The filling."""
        return self.flow.fill(self.mould_C(flask_C), melt_C)

    @cached_property
    def heed_percent(self) -> float:
        """The heat that must be left at the worst place."""
        return self.rows.limit("misrun").heed_figure or 0.0

    def setting(self, flask_C: float, melt_C: float) -> Setting:
        """What comes of a flask and a melt."""
        run = self.filled(flask_C, melt_C)
        cavity = self.flow.cavity
        reserve = reserve_percent(cavity, run)
        low = self.low_percent(flask_C, melt_C)
        x = self._where(self.mould_C(flask_C), melt_C)
        return Setting(
            flask_C=flask_C,
            melt_C=melt_C,
            superheat_C=melt_C - self.alloy.liquidus_C,
            fill_s=fill_s(cavity, run),
            reserve_percent=reserve,
            reserve_low_percent=low,
            frozen_s=between(self.cold.frozen_s, self.hot.frozen_s, x),
            pore_mm3=max(0.0, self.cold.pore_mm3 + (self.hot.pore_mm3 - self.cold.pore_mm3) * x),
            niyama=between(self.cold.niyama, self.hot.niyama, x),
            verdict=self.verdict(flask_C, melt_C, low),
        )

    def low_percent(self, flask_C: float, melt_C: float) -> float:
        """The heat left at the worst place with flask and melt as cold as the shop's spread makes them."""
        melt = max(melt_C - self.plant.metal_spread_C, self.alloy.liquidus_C)
        return reserve_percent(self.flow.cavity, self.filled(flask_C - self.plant.flask_spread_C, melt))

    def verdict(self, flask_C: float, melt_C: float, low_percent: float) -> str:
        """One word for a cell of the map."""
        superheat = melt_C - self.alloy.liquidus_C
        if low_percent <= (self.rows.limit("misrun").halt_figure or 0.0):
            return MISRUN
        if low_percent < self.heed_percent:
            return NEAR
        if flask_C > self.flask.flask_high_C or superheat > self.melt.superheat_high_C:
            return COARSE
        if flask_C < self.flask.flask_low_C or superheat < self.melt.superheat_low_C:
            return UNUSUAL
        return SOUND

    def bounds_C(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """The flask's and the melt's range of the map: round about what is usual, within what can be done."""
        low, high = self.span
        flask = (
            max(20.0, low - _COLDER_C),
            min(high + _HOTTER_C, self.investment.never_oven_C, self.alloy.solidus_C - _BELOW_SOLIDUS_C),
        )
        hottest = min(self.investment.never_metal_C, self.plant.max_metal_C)
        melt = (
            self.alloy.liquidus_C + max(10.0, self.melt.superheat_low_C - _MELT_C),
            min(self.alloy.liquidus_C + self.melt.superheat_high_C + _MELT_C, hottest),
        )
        return flask, melt

    def cells(self, flasks: int, melts: int, through: Setting | None = None) -> tuple[Setting, ...]:
        """The map, the flask changing fastest; the row and the column nearest to ``through`` go through it."""
        flask, melt = (
            np.linspace(*bounds, many).round() for bounds, many in zip(self.bounds_C(), (flasks, melts), strict=True)
        )
        if through is not None:
            for values, own in ((flask, through.flask_C), (melt, through.melt_C)):
                values[np.argmin(np.abs(values - own))] = own
        return tuple(self.setting(float(f), float(m)) for m in melt for f in flask)

    def edge(self, cells: Sequence[Setting], within_C: float = 5.0) -> tuple[Setting, ...]:
        """More cells where the map goes from misrun to filled: at each melt the flask halved down to ``within_C``."""
        found = []
        for melt in sorted({c.melt_C for c in cells}):
            row = sorted((c for c in cells if c.melt_C == melt), key=lambda c: c.flask_C)
            for a, b in pairwise(row):
                if (a.reserve_low_percent < self.heed_percent) == (b.reserve_low_percent < self.heed_percent):
                    continue
                low, high = a.flask_C, b.flask_C
                while high - low > within_C:
                    middle = round((low + high) / 2)
                    found.append(self.setting(middle, melt))
                    if found[-1].reserve_low_percent < self.heed_percent:
                        low = middle
                    else:
                        high = middle
        return tuple(found)

    def choice(self) -> Setting:
        """The lowest melt, and with it the coolest flask, that is usual and fills with heat to spare.

        Both stay the shop's spread within what is usual for the section. Where none will do: what leaves most heat.
        """
        flask, melt = self.bounds_C()
        spread = self.plant.flask_spread_C, self.plant.metal_spread_C
        flasks = _within(self.flask.flask_low_C, self.flask.flask_high_C, spread[0], flask)
        high = self.alloy.liquidus_C
        melts = _within(high + self.melt.superheat_low_C, high + self.melt.superheat_high_C, spread[1], melt)
        best, most = (flasks[-1], melts[-1]), -math.inf
        for m in melts:
            for f in flasks:
                left = self.low_percent(f, m)
                if left >= self.heed_percent:
                    return self.setting(f, m)
                if left >= most:
                    best, most = (f, m), left
        return self.setting(*best)


def fill_s(cavity: Cavity, run: Filled) -> float:
    """When the last place of a piece is full, of those that the metal reaches."""
    own = run.time_s[cavity.in_piece]
    reached = own[np.isfinite(own)]
    return float(reached.max()) if len(reached) else 0.0


def _within(low: float, high: float, spread: float, bounds: tuple[float, float]) -> list[float]:
    """Round temperatures at least ``spread`` within low and high (their middle where that is too narrow)."""
    low, high = max(low, bounds[0]), min(high, bounds[1])
    a, b = math.ceil((low + spread) / _STEP_C) * _STEP_C, math.floor((high - spread) / _STEP_C) * _STEP_C
    if a > b:
        a = b = max(min(round((low + high) / 2 / _STEP_C) * _STEP_C, bounds[1]), bounds[0])
    return [a + n * _STEP_C for n in range(int((b - a) / _STEP_C) + 1)]
