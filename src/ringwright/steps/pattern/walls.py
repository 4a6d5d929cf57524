"""The thinnest wall at each stage: known only when the walls are judged, which goes on beside the pattern."""

from __future__ import annotations

from dataclasses import replace

from ringwright.steps.pattern.remarks import wall_remarks
from ringwright.terms.commission import State
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.workshop import Habits


def walls_mm(wall_mm: float, state: State, to_cast: float, inside_mm: float, outside_mm: float) -> tuple[float, float]:
    """Thinnest wall of casting and finished ring; where it lies is not known, so the less favourable stock counts.

    ``to_cast`` is the length of the casting over that of the ring as drawn or stocked.
    """
    sides = (inside_mm + outside_mm, 2 * outside_mm)
    if state is State.FINISHED:
        return (wall_mm + min(sides)) * to_cast, wall_mm
    return wall_mm * to_cast, wall_mm * to_cast - max(sides)


def with_wall(prepared: Outcome[PatternFigures], wall_mm: float | None, habits: Habits) -> Outcome[PatternFigures]:
    """The same pattern with its thinnest wall, given as drawn: as cast and finished, against what the shop casts."""
    if wall_mm is None:
        return prepared
    r = prepared.result
    to_cast = (r.scale_percent / 100) * (1 - r.print_shrink_percent / 100) * (1 - r.contraction_percent.value / 100)
    cast, finished = walls_mm(
        wall_mm, State(r.state), to_cast, habits.inside_stock_mm, habits.polish_stock_mm + habits.filing_stock_mm
    )
    result = replace(r, cast_wall_mm=cast, finished_wall_mm=finished)
    return replace(prepared, result=result, remarks=(*prepared.remarks, *wall_remarks(result, habits)))
