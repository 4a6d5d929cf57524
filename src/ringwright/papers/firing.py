"""The card of the burnout: the kiln's programme, its curve, and when to light the kiln."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ringwright.papers.blocks import Block, Card, Column, heading, large, right, small, table, text, tick, tiles, write
from ringwright.papers.care import cautions_of
from ringwright.papers.generic import found
from ringwright.papers.say import clock, measure, sentence, span
from ringwright.papers.tongue import source
from ringwright.terms.burnout import Hold, Programme
from ringwright.terms.order import step
from ringwright.words.numbers import number

_POUR_HOURS = (8, 10, 12, 14, 16, 18)


def burnout_card(making: Any) -> Card | None:
    """Burnout: the kiln's programme, its curve, and when to light the kiln."""
    programme = found(making, "burnout", Programme)
    if programme is None or not programme.holds:
        return None
    top = max(programme.holds, key=lambda hold: hold.to_C)
    blocks: list[Block] = [
        tiles(
            ("From lighting to the pour", clock(programme.total_h), "", f"of it {clock(programme.hold_h)} of holds"),
            ("Hottest hold", number(top.to_C, 0), "°C", f"the binder bears {number(programme.binder_limit_C, 0)} °C"),
            ("Flask at the pour", number(programme.holds[-1].to_C, 0), "°C", "soak; do not pour before"),
            (
                "Flask",
                f"{number(programme.diameter_mm, 0)} × {number(programme.height_mm, 0)}",
                "mm",
                programme.investment,
            ),
            wide=(1.15, 1, 1, 1.25),
        ),
        heading("Programme", "times run from lighting the kiln, hours and minutes"),
        _programme(programme.holds),
        _curve(programme),
        text("Line: the temperature to set. Rings: where the slowest place of the mould has come along.", small=True),
        heading("When to light the kiln"),
        _lighting(programme.total_h),
        text(_drying(programme)),
    ]
    if programme.published_source:
        hours = f"Published holds for a flask of this size take {clock(programme.published_h or 0.0)}. "
        blocks.append(text(f"{hours}{source(programme.published_source)}.", small=True))
    blocks += cautions_of(making, keys=programme.cautions)
    return Card("Burnout", step("burnout").question, tuple(blocks))


def _programme(holds: Sequence[Hold]) -> Block:
    columns = [
        Column(""), Column("What it is for", "1fr"), right("Ramp, °C/h"), right("To, °C"),
        right("Hold"), right("Hold begins"), right("ends"),
        right("Core there after"), Column("Length set by"),
    ]  # fmt: skip
    rows, at = [], 0.0
    for hold in holds:
        begins = at + hold.ramp_h
        at = begins + hold.hold_h
        core = [span(hold.core_there_after_h), small(f"at worst +{span(hold.core_later_h)}")]
        rows.append(
            [tick(), sentence(hold.purpose), number(hold.ramp_C_per_h, 0), large(number(hold.to_C, 0)),
             large(span(hold.hold_h)), span(begins), span(at), core, hold.set_by]
        )  # fmt: skip
    return table(columns, rows)


def _curve(programme: Programme) -> Block:
    first = programme.holds[0]
    line, core, marks, at = [[0.0, first.to_C - first.ramp_C_per_h * first.ramp_h]], [], [], 0.0
    for hold in programme.holds:
        at += hold.ramp_h
        line.append([at, hold.to_C])
        marks.append([at + hold.hold_h / 2, hold.to_C, number(hold.to_C, 0)])
        arrives = at + min(hold.core_there_after_h, hold.hold_h)
        falling = len(line) > 1 and line[-1][1] < line[-2][1]
        core.append([arrives, hold.to_C + (hold.core_within_C if falling else -hold.core_within_C)])
        at += hold.hold_h
        line.append([at, hold.to_C])
    step_h = next(s for s in (1, 2, 4, 6, 12, 24) if programme.total_h / s <= 16)
    top = 200 * math.ceil((max(hold.to_C for hold in programme.holds) + 60) / 200)
    return {
        "kind": "curve", "line": line, "core": core, "marks": marks, "hours": programme.total_h, "top": top,
        "ticks": list(range(0, math.floor(programme.total_h) + 1, step_h)),
        "temperatures": list(range(0, top + 1, 200)), "along": "hours from lighting the kiln",
    }  # fmt: skip


def _lighting(total_h: float) -> Block:
    columns = [Column("To pour at")] + [Column(f"{hour}:00", "1fr", "center") for hour in _POUR_HOURS]
    columns.append(right("My hour"))
    lights = [_light(hour, total_h) for hour in _POUR_HOURS]
    return table(columns, [["light the kiln at", *lights, write(16)]])


def _light(hour: int, total_h: float) -> Any:
    minutes = hour * 60 - math.ceil(total_h * 60)
    days, minute = divmod(minutes, 24 * 60)
    when = {0: "the same day", -1: "the day before"}.get(days, f"{-days} days before")
    return [large(f"{minute // 60}:{minute % 60:02d}"), small(when)]


def _drying(programme: Programme) -> str:
    dry = clock(programme.dry_after_h)
    water = measure(programme.water_g, "g", 0)
    return f"The last free water has boiled off {dry} after lighting; {water} of water leave the flask."
