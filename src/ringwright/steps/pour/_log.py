"""The workshop's own thermocouple log beside the forecast."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from ringwright.steps.pour._cavity import Cavity
from ringwright.steps.pour._thermal import Thermal
from ringwright.terms.alloy import Alloy
from ringwright.terms.mistake import bad
from ringwright.terms.pour import Compared, Reading
from ringwright.terms.remark import Point


def passes_s(log: Sequence[Reading], at_C: float) -> float | None:
    """When a log last falls through a temperature, by straight lines; None where it never does."""
    found = None
    for a, b in pairwise(log):
        if a.reads_C > at_C >= b.reads_C:
            found = a.time_s + (b.time_s - a.time_s) * (a.reads_C - at_C) / (a.reads_C - b.reads_C)
    return found


def compared(
    cavity: Cavity, thermal: Thermal, log: Sequence[Reading], at_mm: Point | None, alloy: Alloy
) -> Compared | None:
    """The log's times at liquidus and solidus, and the forecast's at the nearest cell of the first piece.

    Raises :class:`BadInput` for a log whose times do not grow, or a place that is not given or lies off the metal.
    """
    if not log:
        return None
    for line, (a, b) in enumerate(pairwise(log), start=2):
        if not b.time_s > a.time_s:
            raise bad("thermocouple", f"line {line}: {b.time_s:g} s does not follow {a.time_s:g} s", "times that grow")
    if at_mm is None:
        raise bad("thermocouple", "the log does not say where it was taken", "the place in the ring's frame, in mm")
    at = cavity.figures.poses[0].to_flask(np.array(at_mm))
    away = np.linalg.norm(cavity.network.centre_mm - at, axis=1)
    cell = int(np.argmin(away))
    if away[cell] > 2 * cavity.h_mm:
        raise bad("thermocouple", f"its place lies {away[cell]:.1f} mm off the metal", "a place in the metal")
    solid = passes_s(log, alloy.solidus_C)
    forecast = float(thermal.solid_s[cell])
    return Compared(
        where=f"{cavity.name(cell)}: {cavity.place(cell)}",
        liquidus_s=passes_s(log, alloy.liquidus_C),
        solidus_s=solid,
        forecast_solidus_s=forecast,
        ratio=None if solid is None else solid / forecast,
    )
