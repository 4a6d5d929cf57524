"""From hours to days: bench hours by day, kiln and printer by night."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Iterable

from ringwright.terms.mistake import bad
from ringwright.terms.remark import Level, Remark

_DAY_H = 24.0


def working_days(lines: Iterable[tuple[float, float]], bench_hours_per_day: float) -> float:
    """Working days until the last of ``lines`` is done, each hours of the hands and then hours that it runs by itself.

    The hands work ``bench_hours_per_day`` from the start of each day; what runs by itself runs on through the night.
    2.5 means: in the middle of the bench hours of the third day. Raises :class:`BadInput` for an impossible day.
    """
    if not 0 < bench_hours_per_day <= _DAY_H:
        raise bad("bench_hours_per_day", f"{bench_hours_per_day:g} h at the bench a day", "above zero, 24 at most")
    now = 0.0
    for hands_h, unattended_h in lines:
        left = hands_h
        while left > 1e-12:
            in_day = now % _DAY_H
            if in_day >= bench_hours_per_day - 1e-9:
                now += _DAY_H - in_day
                continue
            done = min(left, bench_hours_per_day - in_day)
            now += done
            left -= done
        now += unattended_h
    full = math.floor(now / _DAY_H)
    return full + min(now - full * _DAY_H, bench_hours_per_day) / bench_hours_per_day


def ready_on(
    start: dt.date,
    elapsed_days: float,
    *,
    away_days: float = 0.0,
    closed_weekdays: Collection[int] = (5, 6),
    closed_dates: Collection[dt.date] = (),
) -> dt.date:
    """The day on which the ring is ready, if the work begins on ``start`` and nothing comes between.

    ``elapsed_days`` are working days (the first may be ``start`` itself), ``away_days`` calendar days; Monday is
    weekday 0. Raises :class:`BadInput` for days below zero, or a workshop that is never open.
    """
    if not (0 <= elapsed_days < math.inf and 0 <= away_days < math.inf):
        raise bad("days", f"{elapsed_days:g} working days and {away_days:g} days away", "zero or more of each")
    if len({day for day in closed_weekdays if 0 <= day <= 6}) == 7:
        raise bad("closed_weekdays", "the workshop is never open", "leave one weekday open")

    def shut(day: dt.date) -> bool:
        return day.weekday() in closed_weekdays or day in closed_dates

    day = start
    while shut(day):
        day += dt.timedelta(days=1)
    for _ in range(max(math.ceil(elapsed_days - 1e-9) - 1, 0)):
        day += dt.timedelta(days=1)
        while shut(day):
            day += dt.timedelta(days=1)
    day += dt.timedelta(days=math.ceil(away_days))
    while shut(day):
        day += dt.timedelta(days=1)
    return day


def judge_due(ready: dt.date, due: dt.date | None) -> tuple[Remark, ...]:
    """Whether the ring is ready on the promised day; nothing to say where none was promised."""
    if due is None:
        return ()
    late = (ready - due).days
    return (
        Remark(
            "bench",
            Level.HEED if late > 0 else Level.FINE,
            "due",
            f"With nothing between, the ring is ready on {ready.isoformat()}, "
            + (
                f"{late} days after the promised {due.isoformat()}." if late > 0 else f"promised for {due.isoformat()}."
            ),
            figure=float(late),
            limit=0.0,
            unit="d",
            limit_source="the promised day of the commission",
            change="promise a later day, begin earlier, or give tasks out" if late > 0 else "",
        ),
    )
