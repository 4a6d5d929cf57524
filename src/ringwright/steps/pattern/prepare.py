"""The step's verb: from the ring as drawn to the pattern, and forward again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science.solids import volume
from ringwright.steps.pattern.chain import Chain, Stages, back, forward
from ringwright.steps.pattern.plate import laid, ready
from ringwright.steps.pattern.remarks import Found, remarks
from ringwright.steps.pattern.solid import closed_cavities, inscribed_hole_mm, stocked, surfaces_mm2
from ringwright.steps.pattern.walls import walls_mm
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Body, Mesh, Residual, Role
from ringwright.terms.commission import State
from ringwright.terms.facts import used
from ringwright.terms.mistake import ComputingFault, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import (
    ContractionFact,
    OnPrinter,
    PatternFigures,
    PrintRuleFact,
    ResinFact,
    StockFact,
)
from ringwright.terms.progress import Progress, silent
from ringwright.terms.quantity import Estimate
from ringwright.terms.tree import InvestmentFact
from ringwright.terms.workshop import Habits, Printer

HOLE_BOUND_MM = 0.02
"""The finger hole of the written pattern may differ from the wanted one by this much; more is a computing fault."""

_ROOM_C = 20.0


@dataclass(frozen=True)
class _Spread:
    """What each cause adds to the spread of the inner diameter, in mm."""

    contraction_mm: float
    print_mm: float
    stock_mm: float

    @property
    def cast_mm(self) -> float:
        return math.hypot(self.contraction_mm, self.print_mm)

    @property
    def finished_mm(self) -> float:
        return math.hypot(self.cast_mm, self.stock_mm)


@dataclass(frozen=True, eq=False)
class _Draft:
    """All that is known when the figures are drawn up."""

    ring: Mesh
    pattern: Mesh
    state: State
    alloy: Alloy
    material: ResinFact
    investment: InvestmentFact
    flask_C: float
    habits: Habits
    chain: Chain
    contraction_percent: Estimate
    contraction_source: str
    exact: float
    scale: float
    inside_mm: float
    outside_mm: float
    drawn_mm: float
    hole: Stages


def prepare(
    ring: Mesh,
    *,
    hole_diameter_mm: float,
    state: State,
    alloy: Alloy,
    investment: InvestmentFact,
    flask_C: float,
    habits: Habits,
    printers: Sequence[Printer],
    resins: Sequence[ResinFact],
    contraction: Sequence[ContractionFact],
    stock: Sequence[StockFact],
    rules: PrintRuleFact,
    size_step_mm: float,
    ordered_inner_diameter_mm: float | None = None,
    thinnest_wall_mm: float | None = None,
    by_hand: str = "wax",
    progress: Progress = silent,
) -> Outcome[PatternFigures]:
    """The pattern of a ring: its size, its solid, how it is printed, and the size that the finished ring will have.

    ``ring`` is the closed metal in the ring's own frame, as drawn; ``state`` says at which stage its dimensions
    hold. ``size_step_mm`` is the circumference of one size in the client's system. ``by_hand`` is the pattern's
    material where the shop has no printer. Bodies: "pattern" (scaled, in the ring's frame). Residuals: going
    forward again after going back, and the finger hole measured on the written pattern.

    Raises :class:`BadInput` for a hole, step or stock that cannot be, and for a solid that is not closed.
    """
    if not (math.isfinite(hole_diameter_mm) and hole_diameter_mm > 0):
        raise bad("model", f"a finger hole of {hole_diameter_mm} mm", "a ring with its hole about the finger axis")
    if not size_step_mm > 0:
        raise bad("finger.system", f"a size step of {size_step_mm} mm of circumference", "more than 0 mm")
    progress(0.0, "sizes from finished back to pattern")
    material = used(resins, printers[0].resin if printers else by_hand, "pattern material")
    percent, source = _contraction(habits, contraction, investment)
    chain = Chain(
        contraction_percent=percent.value,
        print_shrink_percent=material.print_shrink_percent,
        inside_stock_mm=habits.inside_stock_mm,
        outside_stock_mm=habits.polish_stock_mm + habits.filing_stock_mm,
    )
    if 2 * chain.inside_stock_mm >= hole_diameter_mm:
        raise bad("habits.inside_stock", f"{chain.inside_stock_mm} mm would close the finger hole", "a smaller stock")
    exact = 1.0 / chain.shrink if state is State.PATTERN else chain.scale
    scale = _stepped(exact, habits.scale_step_percent)

    progress(0.05, "stock on the surfaces")
    inside, outside = (chain.inside_stock_mm, chain.outside_stock_mm) if state is State.FINISHED else (0.0, 0.0)
    pattern = stocked(ring, hole_diameter_mm, inside, outside).scaled(scale)
    hole = forward((hole_diameter_mm - 2 * inside) * scale, chain, hole=True)
    draft = _Draft(
        ring, pattern, state, alloy, material, investment, flask_C, habits, chain, percent, source, exact, scale,
        inside, outside, hole_diameter_mm, hole,
    )  # fmt: skip
    residuals = _checked(draft)

    progress(0.4, "orientation on the plate")
    on = laid(ready(pattern, hole.set_mm, rules), printers, rules)
    best = min(on, key=lambda o: (not o.fits, o.clean_up_min), default=None)
    result = _figures(
        draft,
        spread=_spread(draft, next((p for p in printers if best and p.name == best.printer), None)),
        size_step_mm=size_step_mm,
        ordered_mm=ordered_inner_diameter_mm,
        wall_mm=thinnest_wall_mm,
        hole_error_mm=residuals[1].value,
        best=best,
        on=on,
    )
    found = Found(
        result=result,
        habits=habits,
        material=material,
        stock=tuple(stock),
        rules=rules,
        own_contraction=habits.contraction_percent is not None,
        setting_expansion_percent=investment.setting_expansion_percent,
        cavities=closed_cavities(pattern),
        size_step_mm=size_step_mm,
    )
    return Outcome(
        "pattern", result, remarks(found), bodies=(Body("pattern", Role.PATTERN, pattern),), residuals=residuals
    )


def turned_to_plate(pattern: Mesh, on: OnPrinter) -> Mesh:
    """The pattern as it stands on the plate: turned, its lowest point at z = 0, its middle over the origin."""
    turn = np.array(on.turn)
    points = pattern.vertices_mm @ turn.T
    low, high = points.min(axis=0), points.max(axis=0)
    middle = (low + high) / 2
    return pattern.moved(turn, np.array([-middle[0], -middle[1], -low[2]]))


def expansion_percent(investment: InvestmentFact, at_C: float) -> float:
    """Linear thermal expansion of the mould at a temperature, by the investment's curve."""
    return float(np.interp(at_C, investment.expansion_at_C, investment.expansion_percent))


def _contraction(habits: Habits, facts: Sequence[ContractionFact], investment: InvestmentFact) -> tuple[Estimate, str]:
    """The shop's own figure where it has one, else the facts' for this mould; and where it is from."""
    if habits.contraction_percent is not None:
        own = Estimate(habits.contraction_percent, habits.contraction_spread_percent)
        return own, "measured by this workshop (habits.contraction)"
    row = used(facts, investment.binder, "contraction for a binder")
    wide = max(
        row.contraction_high_percent - row.contraction_percent, row.contraction_percent - row.contraction_low_percent
    )
    return Estimate(row.contraction_percent, max(wide, habits.contraction_spread_percent)), row.source


def _stepped(scale: float, step_percent: float) -> float:
    """The scale rounded to the step in which it can be set."""
    if not step_percent > 0:
        return scale
    return round(100.0 * scale / step_percent) * step_percent / 100.0


def _checked(draft: _Draft) -> tuple[Residual, ...]:
    """Back and forward agree, the solid is one, and the written hole is the wanted one: else a computing fault."""
    again = back(draft.hole.finished_mm, draft.chain, hole=True)
    there = Residual("back and forward again, inner diameter, mm", abs(again.set_mm - draft.hole.set_mm), 1e-9)
    if not volume(draft.ring) > 0:
        raise bad("model", "the metal has no volume", "a closed solid whose triangles face outward")
    before = inscribed_hole_mm(draft.ring, draft.drawn_mm)
    after = inscribed_hole_mm(draft.pattern, draft.hole.set_mm)
    wanted = (before - 2 * draft.inside_mm) * draft.scale
    written = Residual("finger hole of the written pattern less the wanted one, mm", after - wanted, HOLE_BOUND_MM)
    for residual in (there, written):
        if not abs(residual.value) <= residual.bound:
            raise ComputingFault(f"pattern: {residual.name} is {residual.value:.4g}, bound {residual.bound:.4g}")
    return there, written


def _spread(draft: _Draft, printer: Printer | None) -> _Spread:
    """Spread of the inner diameter by cause. The same hand takes the stock on both sides: it counts twice."""
    material, hole = draft.material, draft.hole
    shrink = hole.set_mm * material.print_shrink_spread_percent / 100.0
    return _Spread(
        contraction_mm=hole.pattern_mm * draft.contraction_percent.plus_minus / 100.0,
        print_mm=math.hypot(printer.spread_mm if printer else 0.0, shrink) * draft.chain.contraction,
        stock_mm=2.0 * draft.habits.stock_spread_mm,
    )


def _walls(draft: _Draft, wall_mm: float | None) -> tuple[float | None, float | None]:
    if wall_mm is None:
        return None, None
    to_cast = draft.scale * draft.chain.shrink * draft.chain.contraction
    return walls_mm(wall_mm, draft.state, to_cast, draft.chain.inside_stock_mm, draft.chain.outside_stock_mm)


def _masses(draft: _Draft, pattern_mm3: float) -> tuple[Estimate, Estimate]:
    """Mass of the raw casting and of the finished ring's metal, each with density, contraction and stock spread."""
    density = draft.alloy.density_g_cm3
    cast_mm3 = pattern_mm3 * (draft.chain.shrink * draft.chain.contraction) ** 3
    hole_mm2, other_mm2 = surfaces_mm2(draft.ring, draft.drawn_mm)
    taken = hole_mm2 * draft.chain.inside_stock_mm + other_mm2 * draft.chain.outside_stock_mm
    finished_mm3 = volume(draft.ring) if draft.state is State.FINISHED else max(0.0, cast_mm3 - taken)
    cast = cast_mm3 * density.value / 1000.0
    finished = finished_mm3 * density.value / 1000.0
    share = math.hypot(density.plus_minus / density.value, 3 * draft.contraction_percent.plus_minus / 100.0)
    stock = (hole_mm2 + other_mm2) * draft.habits.stock_spread_mm * density.value / 1000.0
    return Estimate(cast, cast * share), Estimate(finished, math.hypot(finished * share, stock))


def _figures(
    draft: _Draft,
    *,
    spread: _Spread,
    size_step_mm: float,
    ordered_mm: float | None,
    wall_mm: float | None,
    hole_error_mm: float,
    best: OnPrinter | None,
    on: tuple[OnPrinter, ...],
) -> PatternFigures:
    hole, chain = draft.hole, draft.chain
    cast_wall, finished_wall = _walls(draft, wall_mm)
    pattern_mm3 = volume(draft.pattern) * chain.shrink**3
    cast_mass, finished_mass = _masses(draft, volume(draft.pattern))
    round_mm = math.pi * spread.finished_mm
    return PatternFigures(
        state=draft.state.value,
        material=draft.material.key,
        contraction_percent=draft.contraction_percent,
        contraction_source=draft.contraction_source,
        metal_contraction_percent=draft.alloy.mean_expansion_per_MK * (draft.alloy.solidus_C - _ROOM_C) / 1e4,
        mould_expansion_percent=expansion_percent(draft.investment, draft.flask_C),
        print_shrink_percent=chain.print_shrink_percent,
        scale_exact_percent=100.0 * draft.exact,
        scale_percent=100.0 * draft.scale,
        inside_stock_mm=draft.inside_mm,
        outside_stock_mm=draft.outside_mm,
        drawn_inner_diameter_mm=draft.drawn_mm,
        set_inner_diameter_mm=hole.set_mm,
        pattern_inner_diameter_mm=hole.pattern_mm,
        cast_inner_diameter_mm=Estimate(hole.cast_mm, spread.cast_mm),
        inner_diameter_mm=Estimate(hole.finished_mm, spread.finished_mm),
        inner_circumference_mm=Estimate(math.pi * hole.finished_mm, round_mm),
        size_spread=round_mm / size_step_mm,
        size_off=None if ordered_mm is None else math.pi * (hole.finished_mm - ordered_mm) / size_step_mm,
        spread_contraction_mm=spread.contraction_mm,
        spread_print_mm=spread.print_mm,
        spread_stock_mm=spread.stock_mm,
        cast_wall_mm=cast_wall,
        finished_wall_mm=finished_wall,
        pattern_volume_mm3=pattern_mm3,
        pattern_mass_g=pattern_mm3 * draft.material.density_g_cm3 / 1000.0,
        cast_mass_g=cast_mass,
        finished_mass_g=finished_mass,
        hole_error_mm=hole_error_mm,
        printer=best.printer if best else None,
        layers=best.layers if best else None,
        print_h=best.hours if best else None,
        printers=on,
    )
