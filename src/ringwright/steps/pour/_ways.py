"""Ways of leading the metal in: judged quickly by filling alone, or by freezing, and the best of them chosen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.steps.pour._cavity import Cavity
from ringwright.steps.pour._pass import Flow, judged, pools, reserve_percent, zones
from ringwright.steps.pour._rules import PourRows
from ringwright.steps.pour._thermal import Thermal
from ringwright.steps.pour._window import fill_s
from ringwright.terms.pour import Variant
from ringwright.terms.tree import Feeder, TreeFigures, Way

BY_FILLING = "filling alone"
BY_FREEZING = "filling, and freezing in coarse cells"


@dataclass(frozen=True, kw_only=True)
class At:
    """The setting at which all ways are judged."""

    flask_C: float
    melt_C: float
    mould_C: float
    low_mould_C: float
    low_melt_C: float


def marks_mm2(gates: int, diameter_mm: float, feeders: Sequence[Feeder] = ()) -> float:
    """Metal to cut off and to clean: the sections of gates and of feeders' necks."""
    return math.pi / 4 * (gates * diameter_mm**2 + sum(one.neck_diameter_mm**2 for one in feeders))


def by_filling(cavity: Cavity, flowing: Flow, ways: Sequence[Way], at: At) -> tuple[Variant, ...]:
    """Ways into the one piece of a cavity, on its cells alone: no tree is built, and no freezing is run.

    Filling starts at the gates, with what the sprues let through. What the rule of sprues finds not fed comes along.
    """
    whole = cavity.network
    network, kept = whole.only(cavity.in_piece)
    seen = judged(cavity)[kept]
    found = []
    for way in ways:
        diameter = way.sprue_diameter_mm or cavity.figures.sprue_diameter_mm
        feet = cavity.figures.poses[0].to_flask(np.array(way.gates_mm))
        source = np.zeros(network.count, bool)
        for foot in feet:
            away = np.linalg.norm(network.centre_mm - foot, axis=1)
            source |= away <= max(diameter / 2, float(away.min()) + 1e-9)
        fill = flowing.into(network, kept, source, len(feet) * math.pi / 4 * diameter**2 * 1e-6)
        run, low = fill(at.mould_C, at.melt_C), fill(at.low_mould_C, at.low_melt_C)
        reached = run.time_s[np.isfinite(run.time_s)]
        found.append(
            Variant(
                what=way.what,
                judged_by=BY_FILLING,
                gates=len(feet),
                sprue_diameter_mm=diameter,
                sprue_length_mm=way.sprue_length_mm,
                marks_mm2=marks_mm2(len(feet), diameter, cavity.figures.feeders),
                mark_counts=way.counts,
                flask_C=at.flask_C,
                melt_C=at.melt_C,
                reserve_percent=float(max(100.0 * run.heat_left[seen].min(), -100.0)),
                reserve_low_percent=float(max(100.0 * low.heat_left[seen].min(), -100.0)),
                unfed_ball_mm=way.unfed_ball_mm,
                fill_s=float(reached.max(initial=0.0)),
                feeders=len(cavity.figures.feeders),
            )
        )
    return tuple(found)


def by_freezing(what: str, way: Way | None, cavity: Cavity, flowing: Flow, thermal: Thermal, at: At) -> Variant:
    """A tree that was built, with the times of its own run of freezing."""
    figures: TreeFigures = cavity.figures
    run, low = flowing.fill(at.mould_C, at.melt_C), flowing.fill(at.low_mould_C, at.low_melt_C)
    cut = pools(cavity, thermal, flowing.rows)
    mine = [z for z in zones(cavity, cut, flowing.alloy) if z.piece != "sprue"]
    return Variant(
        what=what,
        judged_by=BY_FREEZING,
        gates=len(figures.gates),
        sprue_diameter_mm=figures.sprue_diameter_mm,
        sprue_length_mm=figures.sprue_length_mm,
        marks_mm2=marks_mm2(len(figures.gates), figures.sprue_diameter_mm, figures.feeders),
        mark_counts=0.0 if way is None else way.counts,
        flask_C=at.flask_C,
        melt_C=at.melt_C,
        reserve_percent=reserve_percent(cavity, run),
        reserve_low_percent=reserve_percent(cavity, low),
        pore_mm3=sum(z.pore_mm3 for z in mine),
        ball_mm=max((z.ball_mm for z in mine), default=0.0),
        frozen_s=float(thermal.solid_s[cavity.in_piece].max()),
        charge_g=figures.charge_g,
        unfed_ball_mm=0.0 if way is None else way.unfed_ball_mm,
        fill_s=fill_s(cavity, run),
        feeders=len(figures.feeders),
        worst_mm=mine[0].at_mm if mine else None,
    )


def _grades(one: Variant, rows: PourRows) -> tuple[int, int]:
    """How a way stands to the limits of misrun and pore: 0 good, 1 to heed, 2 to halt."""
    misrun, pore = rows.limit("misrun"), rows.limit("pore")
    left, ball = one.reserve_low_percent, one.ball_mm or 0.0
    heed, halt = misrun.heed_figure or 0.0, misrun.halt_figure or 0.0
    fills = 2 if left <= halt else 1 if left < heed else 0
    low, high = pore.heed_figure or 0.0, pore.halt_figure or math.inf
    return fills, 2 if ball >= high else 1 if ball >= low else 0


def counts(one: Variant, rows: PourRows) -> bool:
    """Whether a way leaves a pore that is to be heeded."""
    return _grades(one, rows)[1] > 0


def _beats(a: Variant, b: Variant, rows: PourRows) -> str:
    """In what a is better than b; empty where it is not."""
    tell = rows.limit("ways")
    share, cost = tell.figure or 0.0, tell.figure_high or 0.0
    (fill_a, feed_a), (fill_b, feed_b) = _grades(a, rows), _grades(b, rows)
    if fill_a != fill_b:
        return "fills" if fill_a < fill_b else ""
    ball_a, ball_b = a.ball_mm or 0.0, b.ball_mm or 0.0
    if feed_a != feed_b or (feed_a and abs(ball_a - ball_b) > share * max(ball_a, ball_b)):
        return "feeds" if ball_a < ball_b else ""
    if fill_a and abs(a.reserve_low_percent - b.reserve_low_percent) > 100.0 * share:
        return "fills" if a.reserve_low_percent > b.reserve_low_percent else ""
    marks = a.marks_mm2 * (1 + a.mark_counts), b.marks_mm2 * (1 + b.mark_counts)
    if abs(marks[0] - marks[1]) > cost * max(marks):
        return "marks" if marks[0] < marks[1] else ""
    melt = a.charge_g or 0.0, b.charge_g or 0.0
    return "melt" if melt[0] < (1 - cost) * melt[1] else ""


_BECAUSE = {
    "fills": "it fills with more heat to spare",
    "feeds": "less of it freezes cut off from feed",
    "marks": "it leaves less to cut off and clean, and the other neither fills nor feeds better",
    "melt": "it takes less metal to melt, and the other neither fills nor feeds better",
}


def best(found: Sequence[Variant], rows: PourRows) -> tuple[int, str]:
    """Which of the ways is best, and why, in words; of equals the first.

    First that it fills and then that it is fed, by their limits; then the smaller pore, where it differs by more than
    coarse cells leave open; then the marks to clean by the rules of sprues, and last the metal to melt.
    """
    at = 0
    for n in range(1, len(found)):
        if _beats(found[n], found[at], rows):
            at = n
    one = found[at]
    own = f"{one.what[:1].upper()}{one.what[1:]}: {_told(one)}."
    others = [other for n, other in enumerate(found) if n != at]
    if not others:
        return at, f"{own} Nothing else could be tried."
    against = found[0] if at else next((other for other in others if _beats(one, other, rows)), None)
    if against is None:
        return at, f"{own} None of the {len(others)} others is better by more than the reckoning can tell."
    because = _BECAUSE[_beats(one, against, rows) or "feeds"]
    return at, f"{own} Chosen of {len(found)} because {because}; {against.what} gives {_told(against)}."


def _told(one: Variant) -> str:
    return (
        f"{one.reserve_low_percent:.0f} % of the heat left at the worst place at the cold end of your spread, "
        f"{one.pore_mm3 or 0.0:.2f} mm³ not fed, {one.marks_mm2:.0f} mm² to cut off and clean, "
        f"{one.charge_g or 0.0:.1f} g to melt"
    )
