"""The hands' tasks in order, with their hours."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping, Sequence

from ringwright.steps.bench.days import working_days
from ringwright.steps.bench.quench import quench_of
from ringwright.steps.bench.stones import all_bear, judge_exposure
from ringwright.terms.alloy import Alloy
from ringwright.terms.bench import BenchJob, BenchPlan, BenchRuleFact, BenchStone, BenchTaskFact, QuenchFact, TaskLine
from ringwright.terms.facts import used
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level, Remark

STEP = "bench"


def plan(
    *,
    job: BenchJob,
    alloy: Alloy,
    tasks: Iterable[BenchTaskFact],
    quenches: Iterable[QuenchFact],
    rules: Iterable[BenchRuleFact],
    bench_hours_per_day: float,
    hours: Mapping[str, float] | None = None,
) -> Outcome[BenchPlan]:
    """The work of one ring at the bench, in order.

    ``hours`` are the workshop's own, by a task's key: the hours of the task, for a setting task the hours of one
    easy stone. Cleaning is chosen by what every stone bears; tasks in ``job.asked`` are taken up as they are and
    judged against the stones that are set by then.

    Raises :class:`BadInput` for an unknown task, or hours and figures that cannot be.
    """
    together = used(rules, "hours-in-common", "bench rule").share
    rows = sorted(tasks, key=lambda row: row.order)
    own = dict(hours or {})
    _check(job, rows, own)
    quench, low_min, high_min, remarks = quench_of(
        alloy, quenches, flask_height_mm=job.flask_height_mm, coolant=job.coolant, after_min=job.quench_min
    )
    wait_min = high_min if job.quench_min is None else job.quench_min
    waits = {"printer": job.print_h, "set": job.set_h, "burnout": job.burnout_h, "quench": wait_min / 60}
    chosen = [row for row in rows if _wanted(row, job, alloy, rows)]
    lines = tuple(_line(row, job, waits, own, alloy, quench.says) for row in chosen)
    found = list(remarks)
    found.extend(_exposed(chosen, job.stones, job.asked))
    if job.hidden and job.stones:
        found.append(
            Remark(
                STEP,
                Level.FINE,
                "hidden",
                f"Polish before the stones are set: {', '.join(job.hidden)}.",
                place=", ".join(job.hidden),
            )
        )
    setting = {row.key for row in chosen if row.setting is not None}
    hands = _sum((line.hands_h for line in lines), together)
    days = _days(lines, bench_hours_per_day)
    share = hands.plus_minus / hands.value if hands.value else 0.0
    late, early = (_days(lines, bench_hours_per_day, 1 + sign * share) for sign in (1, -1))
    result = BenchPlan(
        tasks=lines,
        hands_h=hands,
        bench_h=_sum((line.hands_h for line in lines if line.key not in setting), together),
        setting_h=_sum((line.hands_h for line in lines if line.key in setting), together),
        unattended_h=sum(line.unattended_h for line in lines),
        elapsed_days=Estimate(days, max(late - days, days - early)),
        away_days=job.assay_days if job.assayed else 0.0,
        quench=alloy.quench or quench.says,
        quench_low_min=low_min,
        quench_high_min=high_min,
        coolant=quench.coolant,
        cleaning=tuple(row.title for row in chosen if "cleaning" in " ".join(row.when)),
        cautions=tuple(dict.fromkeys(key for line in lines for key in line.cautions)),
    )
    return Outcome(STEP, result, tuple(found))


def _check(job: BenchJob, rows: Sequence[BenchTaskFact], own: Mapping[str, float]) -> None:
    """All that is wrong with the job and the shop's own hours, at once."""
    known = [row.key for row in rows]
    faults = []
    for where, keys in (("hours", own), ("asked", job.asked)):
        for key in keys:
            if key not in known:
                near = difflib.get_close_matches(key, known, n=1, cutoff=0.4)
                right = f"did you mean '{near[0]}'?" if near else f"known: {', '.join(known)}"
                faults.append(Mistake(f"{where}.{key}", f"no bench task is called '{key}'", right))
    faults.extend(
        Mistake(f"hours.{key}", f"{value:g} h", "hours of the task, zero or more")
        for key, value in own.items()
        if not 0 <= value < math.inf
    )
    for name in ("area_cm2", "letters", "print_h", "set_h", "burnout_h", "assay_days"):
        value = getattr(job, name)
        if not 0 <= value < math.inf:
            faults.append(Mistake(name, f"{value:g}", "zero or more"))
    faults.extend(
        Mistake(f"stone {stone.name}", f"setting risk {stone.setting_risk}", "1 (low) to 5 (high)")
        for stone in job.stones
        if not 1 <= stone.setting_risk <= 5
    )
    if faults:
        raise BadInput(*faults)


def _wanted(row: BenchTaskFact, job: BenchJob, alloy: Alloy, rows: Sequence[BenchTaskFact]) -> bool:
    """Whether the task belongs to this ring."""
    if row.key in job.asked:
        return True
    if row.metals and alloy.metal not in row.metals:
        return False
    if row.setting is not None and not any(stone.setting is row.setting for stone in job.stones):
        return False
    thorough = [r for r in rows if "cleaning" in r.when and all_bear(job.stones, r.exposes)]
    so = {
        "drawn": job.drawn,
        "not drawn": not job.drawn,
        "resin": job.pattern == "resin",
        "wax": job.pattern == "wax",
        "stones": bool(job.stones),
        "marked": job.marked,
        "assayed": job.assayed,
        "letters": job.letters > 0,
        "feeders": job.feeders > 0,
        "matt": job.matt,
        "asked": False,
        "cleaning": row in thorough,
        "gentle cleaning": not thorough,
    }
    return all(so[word] for word in row.when)


def _line(
    row: BenchTaskFact,
    job: BenchJob,
    waits: Mapping[str, float],
    own: Mapping[str, float],
    alloy: Alloy,
    quench_says: str,
) -> TaskLine:
    """The task with its hours for this ring."""
    if row.setting is not None:
        each = own.get(row.key, row.per_stone_h)
        risks = [stone.setting_risk for stone in job.stones if stone.setting is row.setting]
        value = row.fixed_h + sum(each * (1 + row.per_risk_share * (risk - 1)) for risk in risks)
    elif row.key in own:
        value = own[row.key]
    else:
        value = (
            row.fixed_h
            + row.per_stone_h * len(job.stones)
            + row.per_cm2_h * job.area_cm2
            + row.per_letter_h * job.letters
            + row.per_feeder_h * job.feeders
        )
    note = row.why
    if row.waits_for == "quench":
        note = alloy.quench or quench_says
    elif "stones" in row.when and job.hidden:
        note = f"{row.why}: {', '.join(job.hidden)}" if row.why else ", ".join(job.hidden)
    return TaskLine(
        key=row.key,
        title=row.title,
        group=row.group,
        hands_h=Estimate(value, value * row.hours_spread_percent / 100),
        unattended_h=row.unattended_h + waits.get(row.waits_for, 0.0),
        own_hours=row.key in own,
        note=note,
        cautions=row.cautions,
    )


def _exposed(chosen: Sequence[BenchTaskFact], stones: Sequence[BenchStone], asked: Sequence[str]) -> list[Remark]:
    """Remarks on the tasks that come when stones are set."""
    set_from = min((row.order for row in chosen if row.setting is not None), default=math.inf)
    found: list[Remark] = []
    for row in chosen:
        if row.order > set_from and (row.key in asked or row.exposes):
            for exposure in row.exposes:
                found.extend(
                    r
                    for r in judge_exposure(exposure, stones, row.title)
                    if row.key in asked or r.level is not Level.FINE
                )
    return found


def _sum(parts: Iterable[Estimate], together: float) -> Estimate:
    """The sum of estimates whose errors are correlated by ``together`` (0: by their squares, 1: straight)."""
    parts = tuple(parts)
    spreads = [part.plus_minus for part in parts]
    squares, straight = sum(s * s for s in spreads), sum(spreads) ** 2
    return Estimate(sum(p.value for p in parts), math.sqrt(together * straight + (1 - together) * squares))


def _days(lines: Sequence[TaskLine], bench_hours_per_day: float, factor: float = 1.0) -> float:
    """Working days of the lines, with the hands' hours times ``factor``."""
    return working_days([(line.hands_h.value * factor, line.unattended_h) for line in lines], bench_hours_per_day)
