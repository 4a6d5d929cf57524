"""The kiln's programme: which holds, how fast between them, how long each, and what stands against it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ringwright.steps.burnout.firing import Flask, hold
from ringwright.steps.burnout.mould import ZERO_C_IN_K, Mould, flask, mould
from ringwright.steps.burnout.said import caution_keys, remarks_on
from ringwright.terms.body import Residual
from ringwright.terms.burnout import (
    BurnoutHeatFact,
    BurnoutNeedFact,
    BurnoutRampFact,
    BurnoutScheduleFact,
    Hold,
    MouldReactionFact,
    Programme,
)
from ringwright.terms.mistake import BadInput, ComputingFault, Mistake, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import ResinFact
from ringwright.terms.progress import Progress, silent
from ringwright.terms.tree import InvestmentFact
from ringwright.terms.workshop import Kiln

FINE = (16, 24)
COARSE = (9, 12)
_HEAT_BOUND = 1e-6


@dataclass(frozen=True, kw_only=True)
class _Set:
    """One hold as asked for: its row, its temperature, and what it needs besides the core."""

    need: BurnoutNeedFact
    at_C: float
    after_core_h: float
    least_h: float


def check_limits(investment: InvestmentFact, kiln: Kiln | None, asked_C: float, what: str) -> None:
    """Refuse a temperature that the binder or the kiln does not bear; raises :class:`BadInput`."""
    if not math.isfinite(asked_C) or asked_C <= 0:
        raise bad(what, f"{asked_C:g} °C is no kiln temperature", "give degrees Celsius above zero")
    if asked_C > investment.max_oven_C:
        raise bad(
            what,
            f"asked {asked_C:.0f} °C, {investment.binder} bears {investment.max_oven_C:.0f} °C "
            f"(no source allows more than {investment.never_oven_C:.0f} °C)",
            f"{investment.max_oven_C:.0f} °C or less, or an investment with another binder",
        )
    if kiln is not None and asked_C > kiln.max_C:
        raise bad(
            what,
            f"asked {asked_C:.0f} °C, the kiln '{kiln.name}' reaches {kiln.max_C:.0f} °C",
            "another kiln, or a lower temperature",
        )


def programme(
    *,
    diameter_mm: float,
    height_mm: float,
    pattern: ResinFact,
    investment: InvestmentFact,
    flask_C: float,
    needs: Iterable[BurnoutNeedFact],
    ramps: Iterable[BurnoutRampFact],
    reactions: Iterable[MouldReactionFact],
    heat: Iterable[BurnoutHeatFact],
    schedules: Iterable[BurnoutScheduleFact] = (),
    kiln: Kiln | None = None,
    water_per_100: float | None = None,
    top_C: float | None = None,
    progress: Progress = silent,
) -> Outcome[Programme]:
    """The programme for one flask (inner ``diameter_mm`` x ``height_mm``), ready to pour at ``flask_C``.

    Each hold lasts until all of the mould is as near to the set temperature as its row asks, also with the poorest
    conduction and heat transfer of the facts, and then as long as its work takes. Without a kiln: still air, and
    no limit but the investment's. ``top_C`` asks for another hottest hold.

    Raises :class:`BadInput` for a flask that is none, or a temperature that binder or kiln does not bear;
    :class:`ComputingFault` where heat is not conserved.
    """
    table = {row.key: row for row in heat}
    _check_size(diameter_mm, height_mm, table["flask size"])
    sets = _holds(pattern, investment, needs, height_mm, flask_C, top_C)
    for one in sets:
        check_limits(investment, kiln, one.at_C, _where(one, top_C))
    own_ramps = [row for row in ramps if row.binder == investment.binder]
    reactions = tuple(reactions)
    filled = mould(investment, reactions, water_per_100=water_per_100)
    poor = mould(
        investment,
        reactions,
        water_per_100=water_per_100,
        k_factor=investment.k_low_W_mK / (sum(investment.k_W_mK) / len(investment.k_W_mK)),
    )
    air = table["moving air" if kiln is not None and kiln.moving_air else "still air"]
    room_C, step_h = table["workshop"].room_C or 0.0, table["workshop"].step_h or 0.25
    _check_gone(pattern, filled, sets, flask_C, top_C, room_C)
    flasks = tuple(
        _cold(m, diameter_mm, height_mm, air, table, room_C, slow=slow) for m, slow in ((filled, False), (poor, True))
    )
    usual, slow_one = flasks
    at_C, lines, heat_J, off_J = room_C, list[Hold](), 0.0, 0.0
    hottest = max(range(len(sets)), key=lambda n: sets[n].at_C)
    for n, one in enumerate(sets):
        progress(n / len(sets), f"heating to {one.at_C:.0f} °C" if one.at_C > at_C else f"cooling to {one.at_C:.0f} °C")
        rate = _ramp(own_ramps, kiln, at_C, one.at_C)
        (usual, slow_one), line = hold(
            (usual, slow_one),
            one.need,
            from_C=at_C,
            to_C=one.at_C,
            ramp_C_per_h=rate,
            after_core_h=one.after_core_h,
            least_h=one.least_h,
            step_h=step_h,
            dry_above_C=filled.dry_above_C,
        )
        lines.append(line)
        at_C = one.at_C
        if n == hottest:
            heat_J = usual.state.heat_J
            off_J = usual.body.content_J(usual.state) - usual.taken_J - heat_J
            usual, slow_one = usual.dried(filled), slow_one.dried(poor)
    miss = abs(off_J) / max(heat_J, 1.0)
    if miss > _HEAT_BOUND:
        raise ComputingFault(f"burnout: {miss:.2g} of the heat is not accounted for")
    if usual.dry_s is None:
        raise ComputingFault("burnout: the mould never dried")
    litres = math.pi * (diameter_mm / 200) ** 2 * height_mm / 100
    published = _published(schedules, pattern.kind, investment.binder, diameter_mm, height_mm)
    total_h = sum(line.ramp_h + line.hold_h for line in lines)
    result = Programme(
        diameter_mm=diameter_mm,
        height_mm=height_mm,
        pattern=pattern.title,
        investment=investment.title,
        holds=tuple(lines),
        hold_h=sum(line.hold_h for line in lines),
        total_h=total_h,
        dry_after_h=usual.dry_s / 3600,
        water_g=litres * (filled.free_water_kg_m3 + filled.bound_water_kg_m3),
        heat_kJ=heat_J / 1000,
        binder_limit_C=investment.max_oven_C,
        published_h=None if published is None else sum(published.hold_h) + published.soak_h,
        published_source="" if published is None else f"{published.title}: {published.source}",
        cautions=caution_keys(pattern, investment),
    )
    temperatures = tuple((one.need.at_C, one.at_C, one.need.source) for one in sets)
    remarks = remarks_on(result, pattern, investment, kiln, temperatures)
    return Outcome("burnout", result, remarks, residuals=(Residual("heat balance of the flask", miss, _HEAT_BOUND),))


def _check_size(diameter_mm: float, height_mm: float, size: BurnoutHeatFact) -> None:
    """A flask has a diameter and a height that a flask can have."""
    least, most = size.least_mm or 0.0, size.most_mm or math.inf
    faults = [
        Mistake(f"flask {name}", f"{value:g} mm is no flask", f"between {least:g} and {most:g} mm")
        for name, value in (("diameter", diameter_mm), ("height", height_mm))
        if not least <= value <= most
    ]
    if faults:
        raise BadInput(*faults)


def _check_gone(
    pattern: ResinFact, filled: Mould, sets: Sequence[_Set], flask_C: float, top_C: float | None, room_C: float
) -> None:
    """The hottest hold must at least dry the mould and undo the pattern, and no kiln cools below the room."""
    hottest = max((one for one in sets if one.need.at_C is not None), key=lambda one: one.at_C)
    least = max(pattern.breakdown_high_C, filled.dry_above_C + hottest.need.core_within_C)
    if top_C is not None and top_C < least:
        raise bad(
            "hottest hold",
            f"asked {top_C:.0f} °C, at which the mould does not dry or {pattern.title.lower()} does not go",
            f"{least:.0f} °C or more",
        )
    if flask_C < room_C:
        raise bad("flask temperature", f"{flask_C:.0f} °C is colder than the workshop", f"{room_C:.0f} °C or more")


def _where(one: _Set, top_C: float | None) -> str:
    """Which of the user's figures a temperature comes from."""
    if one.need.at_C is None:
        return "flask temperature"
    return "hottest hold" if top_C is not None and one.at_C == top_C else f"hold at {one.at_C:.0f} °C"


def _holds(
    pattern: ResinFact,
    investment: InvestmentFact,
    needs: Iterable[BurnoutNeedFact],
    height_mm: float,
    flask_C: float,
    top_C: float | None,
) -> tuple[_Set, ...]:
    """The holds for this pattern in this investment, in order.

    A pattern material between wax and the resin that the rows were written for needs hours between theirs.
    """
    needs = tuple(needs)
    own = sorted(
        (n for n in needs if n.binder == investment.binder and n.pattern_kind == pattern.kind), key=lambda n: n.order
    )
    if not own:
        known = ", ".join(sorted({f"{n.pattern_kind} in {n.binder}" for n in needs}))
        raise bad("pattern", f"no burnout is known for {pattern.kind} in {investment.binder}", f"known: {known}")
    wax = {n.order: n for n in needs if n.binder == investment.binder and n.pattern_kind == "wax"}
    hottest = max(n.at_C for n in own if n.at_C is not None)
    found = []
    for need in own:
        after = need.after_core_h
        if need.for_factor > 1 and need.order in wax:
            share = (pattern.burnout_factor - 1) / (need.for_factor - 1)
            after = wax[need.order].after_core_h + share * (need.after_core_h - wax[need.order].after_core_h)
        if need.at_C is None:
            at_C = flask_C
        elif top_C is not None:
            at_C = top_C if need.at_C == hottest else min(need.at_C, top_C)
        else:
            at_C = min(need.at_C, investment.max_oven_C)
        tall = need.tall_from_mm is not None and height_mm >= need.tall_from_mm
        least = max(need.least_h, need.tall_least_h or 0) if tall else need.least_h
        found.append(_Set(need=need, at_C=at_C, after_core_h=after, least_h=least))
    return tuple(found)


def _cold(
    filled: Mould,
    diameter_mm: float,
    height_mm: float,
    air: BurnoutHeatFact,
    table: dict[str, BurnoutHeatFact],
    room_C: float,
    *,
    slow: bool,
) -> Flask:
    """The wet flask at room temperature; the slow one on a coarser grid."""
    body = flask(
        diameter_mm,
        height_mm,
        filled.wet,
        air,
        table["flask surface"],
        table["flask wall"],
        slow=slow,
        cells=COARSE if slow else FINE,
    )
    state = body.at(room_C + ZERO_C_IN_K)
    return Flask(body=body, state=state, taken_J=body.content_J(state))


def _ramp(rows: Sequence[BurnoutRampFact], kiln: Kiln | None, from_C: float, to_C: float) -> float:
    """The fastest ramp that every band on the way, and the kiln, allows: one rate, as kiln clocks take it."""
    way = "up" if to_C >= from_C else "down"
    low, high = min(from_C, to_C), max(from_C, to_C)
    limits = [r.most_C_per_h for r in rows if r.way == way and r.from_C < high and r.to_C > low]
    if kiln is not None:
        limits.append(kiln.max_ramp_C_per_h)
    if not limits or min(limits) <= 0:
        raise bad("kiln", "there is no ramp to go by", "give the kiln's fastest ramp in °C/h, above zero")
    return min(limits)


def _published(
    rows: Iterable[BurnoutScheduleFact], kind: str, binder: str, diameter_mm: float, height_mm: float
) -> BurnoutScheduleFact | None:
    """The published schedule of the smallest flask that takes this one in."""
    fits = [
        r
        for r in rows
        if r.pattern_kind == kind
        and r.binder == binder
        and r.diameter_most_mm >= diameter_mm
        and r.height_most_mm >= height_mm
    ]
    return min(fits, key=lambda r: (r.diameter_most_mm**2 * r.height_most_mm, r.total_high_h), default=None)
