"""The workshop's own thermocouple log beside the forecast."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from ringwright.steps.pour._cavity import Cavity
from ringwright.steps.pour._thermal import Thermal
from ringwright.terms.alloy import Alloy
from ringwright.terms.mistake import bad
from ringwright.terms.pour import Compared, Reading, ThermocoupleLog

WHERE = "thermocouple.file"


def passes_s(log: Sequence[Reading], at_C: float) -> float | None:
    """When a log last falls through a temperature, by straight lines; None where it never does."""
    found = None
    for a, b in pairwise(log):
        if a.reads_C > at_C >= b.reads_C:
            found = a.time_s + (b.time_s - a.time_s) * (a.reads_C - at_C) / (a.reads_C - b.reads_C)
    return found


def compared(
    cavity: Cavity, thermal: Thermal, logs: Sequence[ThermocoupleLog], alloy: Alloy, stops_C: float
) -> tuple[Compared, ...]:
    """Each log's times at liquidus, ``stops_C`` and solidus, and the forecast's at the nearest cell of the first piece.

    Raises :class:`BadInput` for a log whose times do not grow, that never was in the melt, or whose place lies off the
    metal.
    """
    return tuple(_compared(cavity, thermal, log, alloy, stops_C) for log in logs)


def _compared(cavity: Cavity, thermal: Thermal, log: ThermocoupleLog, alloy: Alloy, stops_C: float) -> Compared:
    for a, b in pairwise(log.readings):
        if not b.time_s > a.time_s:
            raise bad(WHERE, f"at {_point(log)}: {b.time_s:g} s does not follow {a.time_s:g} s", "times that grow")
    hottest = max(r.reads_C for r in log.readings)
    if hottest <= alloy.solidus_C:
        raise bad(
            WHERE,
            f"at {_point(log)}: its hottest reading, {hottest:.0f} °C, is below the solidus of {alloy.title} "
            f"({alloy.solidus_C:.0f} °C)",
            "a log that begins in the molten metal, in °C",
        )
    at = cavity.figures.poses[0].to_flask(np.array(log.at_mm))
    away = np.linalg.norm(cavity.network.centre_mm - at, axis=1)
    cell = int(np.argmin(away))
    if away[cell] > 2 * cavity.h_mm:
        raise bad(WHERE, f"at {_point(log)}: the place lies {away[cell]:.1f} mm off the metal", "a place in the metal")
    liquid, stops, solid = (passes_s(log.readings, C) for C in (alloy.liquidus_C, stops_C, alloy.solidus_C))
    begins_s, stops_s, solid_s = (float(t[cell]) for t in (thermal.begins_s, thermal.stops_s, thermal.solid_s))
    return Compared(
        where=f"{cavity.name(cell)}: {cavity.place(cell)}",
        first_s=log.readings[0].time_s,
        hottest_C=hottest,
        liquidus_s=liquid,
        stops_s=stops,
        solidus_s=solid,
        forecast_liquidus_s=begins_s,
        forecast_stops_s=stops_s,
        forecast_solidus_s=solid_s,
        ratio=None if solid is None else solid / solid_s,
        freezing_ratio=None if solid is None or liquid is None else (solid - liquid) / max(solid_s - begins_s, 1e-9),
    )


def _point(log: ThermocoupleLog) -> str:
    return "({:.1f}, {:.1f}, {:.1f}) mm of the ring".format(*log.at_mm)
