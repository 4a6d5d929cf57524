"""One way to pour, worked through: does it fill, what is not fed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringwright.science.feeding import Pools, cut_off
from ringwright.science.filling import Filled, Liquid, Paths, Supply, filled, paths
from ringwright.science.network import Network
from ringwright.steps.pour import _bodies
from ringwright.steps.pour._cavity import SPRUE, Cavity, head_Pa
from ringwright.steps.pour._rules import PourRows
from ringwright.steps.pour._thermal import Thermal
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Floats, Ints
from ringwright.terms.pour import PoreZone, TightPlace
from ringwright.terms.tree import InvestmentFact
from ringwright.terms.workshop import Casting, CastingPlant

_SLIVER = 0.2
_APART_MM = 2.0
_MOST_PLACES = 5
_MOST_ZONES = 12
_NOISE = 0.05
"""Hot spots must outlast their necks by more than the error of the times in cells of a ring's usual size."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Flow:
    """What all fillings of one cavity share: paths, liquid, mould."""

    cavity: Cavity
    alloy: Alloy
    investment: InvestmentFact
    plant: CastingPlant
    rows: PourRows
    liquid: Liquid
    way: Paths
    shape_m: float
    perforated: bool

    def fill(self, mould_C: float, melt_C: float, *, kind: bool = False) -> Filled:
        """Fill with a mould and a melt at these temperatures; ``kind``: with the uncertain figures at their best."""
        return self._filled(self.way, self.sprue_m2, mould_C, melt_C, kind=kind)

    def _filled(self, way: Paths, sprue_m2: float, mould_C: float, melt_C: float, *, kind: bool = False) -> Filled:
        wall = _bodies.wall(self.investment, mould_C, self.shape_m, self.plant, self.alloy, self.rows, kind=kind)
        spun = self.plant.method is Casting.CENTRIFUGAL
        supply = Supply(
            rate_m3_s=self.rows.figure("pouring centrifugal" if spun else "pouring") * 1e-6,
            sprue_m2=sprue_m2,
            losses=self.rows.figure("entry") + self.rows.figure("bend"),
            liquid_C=melt_C,
        )
        return filled(way, self.liquid, wall, supply)

    def into(
        self, part: Network, kept: Ints, source: NDArray[np.bool_], sprue_m2: float
    ) -> Callable[[float, float], Filled]:
        """Filling a part of the cavity (its cells ``kept``) from ``source``, by mould and melt."""
        cavity, liquid = self.cavity, self.liquid
        head = head_Pa(cavity, liquid.density, self.plant, self.rows.figure("fall"))[kept]
        way = paths(
            part,
            cavity.channel_mm[kept],
            head,
            source,
            liquid,
            drive_Pa=self.plant.vacuum_kPa * 1000.0 if self.plant.method is Casting.VACUUM else 0.0,
            losses=self.rows.figure("entry") + self.rows.figure("bend"),
        )
        return lambda mould_C, melt_C: self._filled(way, sprue_m2, mould_C, melt_C)

    @property
    def sprue_m2(self) -> float:
        """The section that all metal of the pieces goes through: the gates, or the stem where it is less."""
        figures = self.cavity.figures
        gates = len(figures.gates) * figures.sprue_diameter_mm**2
        stem = math.inf if figures.stem_diameter_mm is None else figures.stem_diameter_mm**2
        return math.pi / 4 * min(gates, stem) * 1e-6

    @property
    def drive_Pa(self) -> float:
        """What drives the metal into the pieces, before the gas in its way: the plant and the head."""
        return float(np.median(self.way.pressure_Pa[self.cavity.in_piece])) + self.liquid.capillary_Pa(
            float(np.median(self.cavity.channel_mm[self.cavity.in_piece]))
        )


def flow(
    cavity: Cavity,
    alloy: Alloy,
    investment: InvestmentFact,
    plant: CastingPlant,
    rows: PourRows,
    *,
    perforated: bool,
) -> Flow:
    """The ways into a cavity; independent of the temperatures."""
    liquid = _bodies.liquid(alloy, rows)
    vacuum = plant.method is Casting.VACUUM
    return Flow(
        cavity=cavity,
        alloy=alloy,
        investment=investment,
        plant=plant,
        rows=rows,
        liquid=liquid,
        way=paths(
            cavity.network,
            cavity.channel_mm,
            head_Pa(cavity, liquid.density, plant, rows.figure("fall")),
            cavity.button,
            liquid,
            drive_Pa=plant.vacuum_kPa * 1000.0 if vacuum else 0.0,
            losses=rows.figure("entry") + rows.figure("bend"),
        ),
        shape_m=_bodies.gas_shape_m(cavity.figures, cavity.hull_mm2, perforated=perforated, vacuum=vacuum),
        perforated=perforated,
    )


def judged(cavity: Cavity) -> NDArray[np.bool_]:
    """The cells of pieces by which filling is judged: slivers at the skin are left out."""
    found: NDArray[np.bool_] = cavity.in_piece & (cavity.network.volume_mm3 > _SLIVER * cavity.h_mm**3)
    return found


def reserve_percent(cavity: Cavity, run: Filled) -> float:
    """The heat left at the worst place of a piece; -100 where the metal does not come at all."""
    return float(max(100.0 * run.heat_left[judged(cavity)].min(), -100.0))


def tightest(cavity: Cavity, run: Filled) -> tuple[TightPlace, ...]:
    """The places of pieces that fill with the least to spare, apart from each other."""
    own = np.flatnonzero(judged(cavity))
    centre = cavity.network.centre_mm
    found: list[int] = []
    for cell in own[np.argsort(run.heat_left[own], kind="stable")]:
        if all(np.linalg.norm(centre[cell] - centre[other]) > _APART_MM for other in found):
            found.append(int(cell))
        if len(found) == _MOST_PLACES:
            break
    return tuple(
        TightPlace(
            piece=cavity.name(cell),
            place=cavity.place(cell),
            at_mm=cavity.point(cell),
            wall_mm=float(cavity.wall_mm[cell]),
            fill_s=float(min(run.time_s[cell], 1e6)),
            reserve_percent=float(max(100.0 * run.heat_left[cell], -100.0)),
        )
        for cell in found
    )


def pools(cavity: Cavity, thermal: Thermal, rows: PourRows) -> Pools:
    """What freezes cut off from the button."""
    return cut_off(cavity.network, thermal.freezing(1.0 - rows.figure("feed stops")), cavity.source, noise=_NOISE)


def zones(cavity: Cavity, found: Pools, alloy: Alloy) -> Iterable[PoreZone]:
    """The pools as pores, the largest first."""
    share = alloy.freezing_shrinkage_percent / 100.0
    for n, cell in enumerate(found.hot[:_MOST_ZONES]):
        pore = share * float(found.lacking_mm3[n])
        if pore <= 0:
            continue
        yield PoreZone(
            piece=cavity.name(int(cell)),
            place=cavity.place(int(cell)),
            at_mm=cavity.point(int(cell)),
            pore_mm3=pore,
            ball_mm=ball_mm(pore),
            cut_off_s=float(found.cut_s[n]),
            frozen_s=float(found.solid_s[n]),
            pool_mm3=float(found.pool_mm3[n]),
        )


def ball_mm(volume_mm3: float) -> float:
    """Diameter of the ball of a volume."""
    return float((6.0 * max(volume_mm3, 0.0) / math.pi) ** (1.0 / 3.0))


def pore_mm3(cavity: Cavity, found: Pools, alloy: Alloy) -> float:
    """The shrinkage that pieces lack: of all pools whose hot spot is in a piece."""
    mine = cavity.piece[found.hot] != SPRUE
    return float(found.lacking_mm3[mine].sum() * alloy.freezing_shrinkage_percent / 100.0)


def lowest_tenth(values: Floats, weights: Floats) -> float:
    """The value that a tenth of the weight lies below."""
    order = np.argsort(values, kind="stable")
    run = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(run, 0.1 * run[-1])])
