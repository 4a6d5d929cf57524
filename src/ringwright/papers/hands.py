"""The cards of the bench itself: the tasks in order, what is weighed and measured, the marks."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from ringwright.papers.blocks import (
    Block,
    Card,
    Cell,
    Column,
    heading,
    image,
    right,
    signed,
    small,
    strong,
    table,
    text,
    tick,
    ticks,
    tiles,
    together,
    write,
)
from ringwright.papers.care import cautions_of, facts_of
from ringwright.papers.generic import found
from ringwright.papers.heed import reads
from ringwright.papers.say import carats, measure, sentence, span
from ringwright.papers.tongue import own, source
from ringwright.steps.mark import rows_of, to_svg
from ringwright.terms.bench import BenchPlan, TaskLine
from ringwright.terms.finger import Fit
from ringwright.terms.making import GemsFound
from ringwright.terms.mark import Layout, Marking, Marks
from ringwright.terms.order import step
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.remark import Level
from ringwright.words.numbers import day, number

_PAGE_MM = 175.0
_CASTING = ("pattern", "casting")


# ---- bench -----------------------------------------------------------------------------------------------------


def bench_card(making: Any) -> Card | None:
    """The hands' work in order, with hours, room to tick and to write, and what is to be weighed and measured."""
    plan = found(making, "bench", BenchPlan)
    if plan is None:
        return None
    days = plan.elapsed_days
    away = f"and {number(plan.away_days, 0)} days away at the assay office" if plan.away_days else "nothing between"
    setting = plan.setting_h
    told = [("Hours of the hands", number(plan.hands_h.value, 1), "h", f"± {number(plan.hands_h.plus_minus, 1)} h")]
    if setting.value:
        told.append(("of them setting", number(setting.value, 1), "h", f"± {number(setting.plus_minus, 1)} h"))
    told.append(("Runs by itself", number(plan.unattended_h, 1), "h", "printer, mould, kiln, bath"))
    told.append(("Working days", number(days.value, 1), "", f"± {number(days.plus_minus, 1)}, {away}"))
    blocks: list[Block] = [tiles(*told, wide=[1.0] * (len(told) - 1) + [1.4])]
    blocks.append(_tasks(plan))
    blocks.append(_measures(making))
    blocks += cautions_of(making, groups=("bench", "setting", "finish"))
    return Card("Bench", step("bench").question, tuple(blocks))


def _tasks(plan: BenchPlan) -> Block:
    columns = [
        Column(""), Column("Part"), Column("Task", "1fr"), right("Hands, h"),
        right("By itself"), right("Took"),
    ]  # fmt: skip
    rows: list[list[Cell]] = []
    for group, lines in groupby(plan.tasks, key=lambda line: line.group):
        for number_, line in enumerate(lines):
            alone = span(line.unattended_h) if line.unattended_h else ""
            rows.append(
                [tick(), strong(group) if number_ == 0 else "", _task(line), _hours(line), alone, write(13, "h")]
            )
    rows.append(["", "", "Together", _sum(plan), span(plan.unattended_h), write(13, "h")])
    return table(columns, rows, strong_rows=[len(rows) - 1], loose_mm=1.05)


def _task(line: TaskLine) -> Cell:
    notes = [small(sentence(line.note))] if line.note else []
    return [line.title, *notes] if notes else line.title


def _hours(line: TaskLine) -> str:
    return f"{number(line.hands_h.value, 2)} ± {number(line.hands_h.plus_minus, 2)}{' own' if line.own_hours else ''}"


def _sum(plan: BenchPlan) -> str:
    return f"{number(plan.hands_h.value, 1)} ± {number(plan.hands_h.plus_minus, 1)}"


def _measures(making: Any) -> Block:
    """What is weighed and measured on the way, beside what is expected."""
    pattern = found(making, "pattern", PatternFigures)
    fit = found(making, "finger", Fit)
    stones = found(making, "gems", GemsFound)
    rows: list[list[Cell]] = []
    if pattern is not None:
        rows += [
            ["Pattern, weighed", measure(pattern.pattern_mass_g, "g", 2), write(26, "g")],
            ["Raw casting without sprue, weighed", measure(pattern.cast_mass_g, "g", 2), write(26, "g")],
            ["Raw casting, finger hole", measure(pattern.cast_inner_diameter_mm, "mm", 2), write(26, "mm")],
            ["Metal before setting, weighed", "", write(26, "g")],
            ["Finished, finger hole", measure(pattern.inner_diameter_mm, "mm", 2), write(26, "mm")],
            ["Finished metal (ring less stones)", measure(pattern.finished_mass_g, "g", 2), write(26, "g")],
        ]
    if stones is not None and stones.stones:
        total = sum(one.mass_ct.value for one in stones.stones)
        rows.append(["Stones together, weighed before setting", carats(total), write(26, "ct")])
    if fit is not None:
        rows.append([f"Size on the stick, {fit.read_at}", reads(fit), write(26)])
    rows.append(["Filings and sweeps, weighed", "", write(26, "g")])
    columns = [
        Column("To weigh and measure", "1fr"),
        right("Expected"),
        right("Found"),
    ]
    return together(heading("Weighed and measured"), table(columns, rows))


# ---- marks -----------------------------------------------------------------------------------------------------


def marking_sheet(making: Any, *, drawn: bool) -> Card | None:
    """What must, may and must never be struck, and the text inside the band at its size, where it is ``drawn``."""
    marking = found(making, "mark", Marking)
    if marking is None:
        return None
    marks = marking.marks
    exempt = f"under {measure(marks.exempt_below_g, 'g', 2)}: exempt" if marks.exempt else _duty(marks)
    blocks: list[Block] = [
        tiles(
            ("Fineness mark", marks.mark, "", f"the alloy has {number(marks.actual_permille, 1)} ‰"),
            ("Mass that counts", number(marks.mass_g, 2), "g", exempt),
            ("Market", marks.market_title, "", marks.duty),
            wide=(1, 1, 1.5),
        )
    ]
    for name, texts, ticked in (("Must", marks.must, True), ("May", marks.may, True), ("Never", marks.never, False)):
        if texts:
            items: list[Cell] = [sentence(one) for one in texts]
            blocks += [heading(name), ticks(items) if ticked else signed((Level.HALT, item) for item in items)]
    if marking.layout is not None:
        blocks += _strip(marking.layout, drawn=drawn)
    checked = f" Last checked {day(marks.checked_on)}." if marks.checked_on is not None else ""
    blocks.append(text(f"{source(marks.source)}.{checked}", small=True))
    blocks.append(text(marks.note, italic=True))
    blocks += cautions_of(making, keys=("laser",) if _lasers(making) else ())
    return Card("Marking", step("mark").question, tuple(blocks))


def _duty(marks: Marks) -> str:
    if marks.exempt_below_g is None or not marks.exempt_below_g:
        return "no limit of mass"
    return f"from {measure(marks.exempt_below_g, 'g', 2)} on it must be marked"


def _lasers(making: Any) -> bool:
    plan = found(making, "bench", BenchPlan)
    return plan is not None and "laser" in plan.cautions


def _strip(layout: Layout, *, drawn: bool) -> list[Block]:
    """The developed inside of the band at its own size, and enlarged to be read."""
    size = f"{number(layout.strip_length_mm, 1)} × {measure(layout.strip_width_mm, 'mm', 1)}"
    note = f"{size}, cut at the bottom of the shank"
    blocks = [heading("Inside of the band", note)]
    if not layout.fits:
        shorter = f"Letters of {measure(layout.height_that_fits_mm, 'mm', 2)} would fit."
        return [*blocks, text(f"The text does not fit. {shorter if layout.height_that_fits_mm > 0 else 'Shorten it.'}")]
    if drawn and layout.strip_length_mm <= _PAGE_MM:
        blocks.append(image("strip.svg", layout.strip_length_mm, "The inside of the band at its size"))
        blocks.append(
            text(
                "At its size, when the sheet is printed at 100 %. Dashed: edges, and the part kept free for resizing.",
                small=True,
            )
        )
    if drawn and layout.strip_length_mm <= _PAGE_MM / 1.5:
        wide = min(_PAGE_MM, 3 * layout.strip_length_mm)
        blocks.append(image("strip.svg", wide, "The inside of the band, enlarged"))
        blocks.append(text(f"Enlarged {number(wide / layout.strip_length_mm, 1)} times.", small=True))
    columns = [
        Column("Text", "1fr"), Column("What it is"), right("Capitals, mm"),
        right("From the bottom, mm"), right("Angle of its middle"),
    ]  # fmt: skip
    rows = [
        [strong(run.text if run.kind == "reserved" else own(run.text)), run.kind, number(run.height_mm, 2),
         f"{number(run.start_mm, 1)} to {number(run.end_mm, 1)}", measure(run.middle_deg, "deg", 0)]
        for run in layout.runs
    ]  # fmt: skip
    return [*blocks, table(columns, rows)]


def strip_picture(making: Any) -> dict[str, bytes]:
    """The drawing of the strip, where there is one and the alphabet is at hand."""
    marking = found(making, "mark", Marking)
    facts = facts_of(making)
    if marking is None or marking.layout is None or not marking.layout.fits or facts is None:
        return {}
    return {"strip.svg": to_svg(marking.layout, rows_of(facts)).encode()}
