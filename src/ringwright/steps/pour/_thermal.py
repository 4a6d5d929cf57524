"""When the metal freezes: the times of every cell, from the reckoning of heat in metal and mould."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringwright.science.conduction import Face, Substance
from ringwright.science.feeding import Freezing, niyama
from ringwright.science.quick_freezing import Lattice, freeze_quick, lattice
from ringwright.science.quick_freezing import Mould as QuickMould
from ringwright.steps.pour._cavity import Cavity
from ringwright.terms.body import Floats
from ringwright.terms.mistake import bad

KELVIN = 273.15
_SOAK_MM = 12.0
_BYTES = 80.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Thermal:
    """Times (s), cooling rate (K/s) and gradient (K/mm) at the cells of a cavity, for one mould and one melt.

    ``stops_s`` is when liquid no longer gets through, ``end_s`` when the reckoning ended. ``heat_lost`` is what it lost
    of the heat, as a share of the metal's.
    """

    mould_C: float
    melt_C: float
    begins_s: Floats
    stops_s: Floats
    solid_s: Floats
    rate_K_s: Floats
    gradient_K_mm: Floats
    end_s: float
    heat_lost: float
    cells: int
    h_mm: float

    def freezing(self, liquid_at_stop: float) -> Freezing:
        """The times as feeding takes them."""
        return Freezing(
            begins_s=self.begins_s, stops_s=self.stops_s, solid_s=self.solid_s, liquid_at_stop=liquid_at_stop
        )

    @property
    def niyama(self) -> Floats:
        """Niyama's figure of every cell."""
        return niyama(self.gradient_K_mm, self.rate_K_s)


def between(a: float, b: float, x: float) -> float:
    """From a at 0 to b at 1, in powers where both are positive."""
    if a > 0 and b > 0:
        return float(np.exp((1 - x) * np.log(a) + x * np.log(b)))
    return (1 - x) * a + x * b


@dataclass(frozen=True, kw_only=True)
class Mould:
    """Metal and mould as bodies that hold heat, the flask that they fill, and what is about it.

    ``stops_C`` is the temperature at which liquid no longer gets through.
    """

    metal: Substance
    mould: Substance
    outside: Face
    room_C: float
    radius_mm: float
    height_mm: float
    top_mm: float
    contact_W_m2K: float
    solidus_C: float
    liquidus_C: float
    stops_C: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """A cavity on a grid with the mould about it, for all runs of freezing; ``pad`` cells of mould on each side."""

    cavity: Cavity
    pad: int
    body: Lattice

    def inner(self, values: NDArray[Any]) -> NDArray[Any]:
        """The cavity's own part of the grid."""
        nx, ny, _ = self.cavity.shape
        return values[self.pad : self.pad + nx, self.pad : self.pad + ny, self.pad :]

    def until(self, wanted: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Cells of the cavity's grid, on the whole."""
        found = np.zeros(self.body.full.shape, bool)
        self.inner(found)[:] = wanted
        return found


def ground(cavity: Cavity, mould: Mould, *, most_GB: float) -> Ground:
    """The grid of freezing. Raises :class:`BadInput` where it would need more than ``most_GB``."""
    pad = math.ceil(_soak_mm(cavity, mould) / cavity.h_mm) + 1
    shape = (cavity.shape[0] + 2 * pad, cavity.shape[1] + 2 * pad, cavity.shape[2] + pad)
    need = _BYTES * float(np.prod(shape)) / 1e9
    if need > most_GB:
        would_do = math.ceil(100 * cavity.h_mm * (need / most_GB) ** (1 / 3)) / 100
        raise bad(
            "cells",
            f"cells of {cavity.h_mm:g} mm would need {need:.2f} GB for freezing, more than {most_GB:g} GB",
            f"{would_do:.2f} mm or more",
        )
    share = np.zeros(shape, np.float32)
    share[pad : pad + cavity.shape[0], pad : pad + cavity.shape[1], pad:] = cavity.share
    z = cavity.corner_mm[2] + (np.arange(shape[2]) - pad + 0.5) * cavity.h_mm
    room = np.zeros(shape, bool)
    room[:, :, z < mould.top_mm] = True
    return Ground(cavity=cavity, pad=pad, body=lattice(share, room, cavity.h_mm))


def thermal(on: Ground, mould: Mould, mould_C: float, melt_C: float, *, gates: bool = False) -> Thermal:
    """The times of every cell of a cavity, filled at once with a melt in a mould of one temperature.

    Reckoned until the pieces are solid, with ``gates`` until the ends of their sprues and blind feeders are too.
    """
    cavity = on.cavity
    wanted = cavity.awaited if gates else cavity.in_piece
    k, c = _at(mould.mould, (mould_C + mould.solidus_C) / 2 + KELVIN)
    found = freeze_quick(
        on.body,
        metal=mould.metal,
        k_metal_W_mK=_at(mould.metal, mould.solidus_C + KELVIN - 1.0)[0],
        mould=QuickMould(k_W_mK=k, c_J_m3K=c, contact_W_m2K=mould.contact_W_m2K, first_K=mould_C + KELVIN),
        melt_K=melt_C + KELVIN,
        levels_K=(mould.liquidus_C + KELVIN, mould.stops_C + KELVIN, mould.solidus_C + KELVIN),
        until=on.until(cavity.on_grid(wanted)),
    )
    begins, stops, solid = (late(cavity.of_cells(on.inner(t)), found.end_s) for t in found.passed_s)
    return Thermal(
        mould_C=mould_C,
        melt_C=melt_C,
        begins_s=begins,
        stops_s=np.maximum(stops, begins),
        solid_s=np.maximum(solid, stops),
        rate_K_s=cavity.of_cells(on.inner(found.rate_K_s)),
        gradient_K_mm=cavity.of_cells(on.inner(found.gradient_K_mm)),
        end_s=found.end_s,
        heat_lost=found.heat_lost,
        cells=on.body.full.size,
        h_mm=cavity.h_mm,
    )


def _soak_mm(cavity: Cavity, mould: Mould) -> float:
    """How much mould is reckoned about the tree: to the flask's wall, but no more than heat gets to."""
    return min(_SOAK_MM, max(mould.radius_mm - cavity.figures.tree_radius_mm, 2.0))


def _at(body: Substance, T_K: float) -> tuple[float, float]:
    """Conductivity and heat capacity per volume at a temperature."""
    i = int(np.clip(np.searchsorted(body.T_K, T_K) - 1, 0, len(body.T_K) - 2))
    step = body.T_K[i + 1] - body.T_K[i]
    return float((body.theta_W_m[i + 1] - body.theta_W_m[i]) / step), float(
        (body.H_J_m3[i + 1] - body.H_J_m3[i]) / step
    )


def late(times: Floats, end_s: float) -> Floats:
    """What was not reached when the reckoning ended comes after it."""
    found: Floats = np.where(np.isfinite(times), times, end_s * (1 + 1e-6))
    return found
