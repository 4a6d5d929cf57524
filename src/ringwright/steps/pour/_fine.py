"""The thorough reckoning of freezing: metal and mould on a graded octree, with the flask's walls and the room."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ringwright.science.solids import area
from ringwright.steps.pour._bodies import Cooled
from ringwright.steps.pour._cavity import Cavity
from ringwright.steps.pour._thermal import KELVIN, Mould, Thermal, late
from ringwright.terms.body import Floats, Mesh

_CELLS = 10.5
"""Cells of the octree for each square of finest cells on the metal's surface, as counted on a tree of a ring."""
_BYTES = 900.0
"""For each cell, at most, as measured there."""
_FINEST_MM = 0.1
_NEAREST = 4


def finest_mm(tree: Mesh, wanted_mm: float, most_GB: float) -> float:
    """The wanted edge of the finest cells, or the least that keeps to the memory."""
    least = math.sqrt(_CELLS * area(tree) * _BYTES / (most_GB * 1e9))
    return max(wanted_mm, least, _FINEST_MM)


def thermal_fine(cavity: Cavity, mould: Mould, flask: Cooled, melt_C: float) -> Thermal:
    """The times of every cell of a cavity, as :func:`thermal` gives them, with the ends of the sprues.

    The octree's finest cells have the edge of the cavity's. The mould's properties go with its temperature here, the
    flask is as it has cooled since the kiln, and heat leaves it. Raises :class:`ComputingFault` where the metal does
    not freeze.
    """
    from scipy.spatial import cKDTree

    from ringwright.science.freezing import Grading, Room, Setting, cells_of, freeze

    room = Room(radius_mm=mould.radius_mm, bottom_mm=-mould.height_mm, top_mm=mould.top_mm)
    cells = cells_of(cavity.tree, room, Grading(h_mm=cavity.h_mm))
    centre = cavity.network.centre_mm
    wanted = cavity.awaited
    metal = cells.centre_mm[: cells.metal].astype(np.float64)
    nearest = np.asarray(cKDTree(centre).query(metal)[1])
    found = freeze(
        cells,
        Setting(
            metal=mould.metal,
            mould=mould.mould,
            melt_K=melt_C + KELVIN,
            mould_K=flask.about_C + KELVIN,
            mould_cells_K=flask.at_C(cells.centre_mm[cells.metal :]) + KELVIN,
            contact_W_m2K=mould.contact_W_m2K,
            outside=(mould.outside,) * 3,
            around_K=mould.room_C + KELVIN,
        ),
        (mould.liquidus_C + KELVIN, mould.stops_C + KELVIN, mould.solidus_C + KELVIN),
        until=wanted[nearest],
    )
    close = cKDTree(metal).query(centre, k=_NEAREST)
    away, which = np.asarray(close[0]), np.asarray(close[1])
    begins, stops, solid = (late(_between(t, away, which), found.end_s) for t in found.passed_s)
    return Thermal(
        mould_C=flask.about_C,
        melt_C=melt_C,
        begins_s=begins,
        stops_s=np.maximum(stops, begins),
        solid_s=np.maximum(solid, stops),
        rate_K_s=found.rate_K_s[which[:, 0]],
        gradient_K_mm=found.gradient_K_mm[which[:, 0]],
        end_s=found.end_s,
        heat_lost=found.heat_lost,
        cells=cells.count,
        h_mm=cavity.h_mm,
    )


def _between(values: Floats, away: Floats, which: NDArray[np.int64]) -> Floats:
    """Figures of the nearest cells by their inverse squared distance; what is endless in one of them is endless."""
    weight = 1 / np.maximum(away, 1e-3) ** 2
    found: Floats = (values[which] * weight).sum(axis=1) / weight.sum(axis=1)
    return found
