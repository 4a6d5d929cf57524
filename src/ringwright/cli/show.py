"""Answers as plain readable tables: levels are told by word and sign, colour only repeats them."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from ringwright.terms.progress import Progress

if TYPE_CHECKING:
    from ringwright.desk.planning import Planned

Answer = dict[str, Any]

_SIGNS = {"fine": ("✓", "+"), "heed": ("!", "!"), "halt": ("✗", "X")}
_STYLES = {"fine": "green", "heed": "yellow", "halt": "bold red"}


def console() -> Console:
    """The terminal; no markup and no highlighting, because the texts are the user's own."""
    return Console(markup=False, highlight=False, emoji=False, soft_wrap=False)


def as_json(data: Any) -> None:
    """Print data as JSON and nothing else."""
    sys.stdout.write(json.dumps(data, ensure_ascii=not _unicode(), indent=1) + "\n")
    sys.stdout.flush()


def answered(answer: Answer, show: Callable[[Console, Answer], None], in_json: bool) -> list[Answer]:
    """Show an answer as JSON or by its own table, then its remarks; gives the remarks."""
    found: list[Answer] = answer.get("remarks", [])
    if in_json:
        as_json(answer)
    else:
        terminal = console()
        show(terminal, answer)
        remarks(terminal, found)
    return found


@contextmanager
def progress(name: str = "") -> Iterator[Progress]:
    """A progress that tells on the error stream: a bar on a terminal, a line for each new thing otherwise."""
    terminal = Console(stderr=True, markup=False, highlight=False)
    head = f"{name}: " if name else ""
    if not terminal.is_terminal:
        yield _Lines(head)
        return
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn("{task.description}", markup=False), BarColumn(bar_width=24), TimeElapsedColumn())
    with Bar(*columns, console=terminal, transient=True) as bar:
        task = bar.add_task(f"{head}reading", total=1.0)
        yield lambda share, doing: bar.update(task, completed=share, description=head + doing)


class _Lines:
    """Progress as plain lines, not more than two in a second."""

    def __init__(self, head: str) -> None:
        self._head = head
        self._last = ""
        self._at = 0.0

    def __call__(self, share: float, doing: str) -> None:
        """Tell what is done now, where it is something new."""
        now = time.monotonic()
        if doing != self._last and now - self._at > 0.5:
            self._last, self._at = doing, now
            sys.stderr.write(f"{self._head}{share:4.0%} {doing}\n")
            sys.stderr.flush()


def _unicode() -> bool:
    return (sys.stdout.encoding or "").lower().startswith("utf")


def level(name: str) -> Text:
    """A level as sign and word, with its colour."""
    return Text(f"{_SIGNS[name][0 if _unicode() else 1]} {name}", style=_STYLES[name])


def number(value: Any, unit: str = "", digits: int = 2, currency: str = "") -> str:
    """A figure as it is shown: with its decimals, its spread and its unit."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict) and value.keys() == {"value", "plus_minus"}:
        if value["value"] is None:
            return "-"
        text = f"{value['value']:.{digits}f}"
        if value["plus_minus"]:
            text += f" {'±' if _unicode() else '+-'} {value['plus_minus']:.{digits}f}"
    elif isinstance(value, float):
        text = f"{value:.{digits}f}"
    else:
        text = str(value)
    shown = {"permille": "‰", "deg": "°"}.get(unit, unit) if _unicode() else unit
    shown = currency if unit == "money" else shown
    return f"{text} {shown}".rstrip()


def _table(*heads: str, title: str = "") -> Table:
    from rich import box

    table = Table(box=box.SIMPLE_HEAD, title=title or None, title_justify="left", pad_edge=False)
    for head in heads:
        right = head.startswith(">")
        table.add_column(head.lstrip(">"), justify="right" if right else "left", overflow="fold")
    return table


def _line(terminal: Console, *pairs: tuple[str, str]) -> None:
    """Name and figure pairs, one a line."""
    wide = max((len(name) for name, _ in pairs), default=0)
    for name, text in pairs:
        terminal.print(Text(f"{name.ljust(wide)}  {text}"))


def remarks(terminal: Console, found: list[Answer], step: str = "") -> None:
    """Remarks, each with its level, what to change, and its limit's source."""
    for remark in sorted(found, key=lambda one: -list(_SIGNS).index(one["level"])):
        terminal.print(level(remark["level"]), Text(f"{step}{remark['says']}"))
        if remark["limit"] is not None:
            limit = number(float(remark["limit"]), remark["unit"], 2)
            terminal.print(Text(f"         limit {limit} ({remark['limit_source']})", style="dim"))
        if remark["change"]:
            terminal.print(Text(f"         change: {remark['change']}"))


def planned_data(done: Planned) -> Answer:
    """What ``plan --json`` prints: where the dossier is, and what it says without the solids."""
    from ringwright.papers.dossier import outcomes, step_data

    steps = {step.name: step_data(step, outcome) for step, outcome in outcomes(done.making)}
    return {
        "folder": str(done.folder),
        "verdict": done.verdict.value,
        "files": list(done.files),
        "steps": {
            name: {part: data[part] for part in ("verdict", "figures", "tables", "remarks")}
            for name, data in steps.items()
        },
    }


def planned(done: Planned) -> None:
    """A making on the terminal: its verdict, each step's figures in a line or two, and what to heed."""
    from ringwright.papers.dossier import outcomes, step_data

    terminal = console()
    head = done.making.commission.commission
    terminal.print(Text(f"\n{head.number}  {head.title}", style="bold"))
    table = _table("step", "verdict", "figures")
    told = []
    for step, outcome in outcomes(done.making):
        data = step_data(step, outcome)
        table.add_row(step.title, level(data["verdict"]), Text(_figures(data, head.currency)))
        told += [(f"{step.title}: ", remark) for remark in data["remarks"] if remark["level"] != "fine"]
    terminal.print(table)
    for at in ("halt", "heed"):
        for name, remark in told:
            if remark["level"] == at:
                remarks(terminal, [remark], name)
    terminal.print(Text("\nVerdict: "), level(done.verdict.value), Text(f"  dossier in {done.folder}"), end="\n")


def _figures(step: Answer, currency: str) -> str:
    """The chief figures of a step, each as "what it is: value unit", and those of its stones and the like."""
    parts = [
        f"{figure['help']}: {number(figure['value'], figure['unit'], figure['digits'], currency)}"
        for figure in step["figures"]
        if figure["chief"]
    ]
    for table in step["tables"]:
        names = [column["name"] for column in table["columns"]]
        if "name" not in names:
            continue
        for row in table["rows"]:
            cells = [
                f"{column['help']}: {number(cell, column['unit'], column['digits'], currency)}"
                for column, cell in zip(table["columns"], row, strict=True)
                if column["chief"] and column["name"] != "name"
            ]
            if cells:
                parts.append(f"{row[names.index('name')]}: {'; '.join(cells)}")
    return "\n".join(parts)


def tables(rows: list[Answer]) -> None:
    """The list of the facts' tables."""
    table = _table("table", ">rows", "what a row is")
    for row in rows:
        table.add_row(row["table"], str(row["rows"]), Text(row["row"]))
    console().print(table)


def rows(found: list[Answer]) -> None:
    """The rows of a table, each whole, its source last; those that disagree stand side by side."""
    terminal = console()
    for row in found:
        terminal.print(Text(f"\n{row['key']}", style="bold"))
        for name, value in row.items():
            if name in ("key", "source", "basis", "condition", "preference") or value in (None, "", [], {}):
                continue
            terminal.print(Text(f"  {name}: {_flat(value)}"))
        if row["condition"]:
            terminal.print(Text(f"  holds: {row['condition']}"))
        terminal.print(Text(f"  source: {row['source']} ({row['basis']})"))
        if row["preference"]:
            terminal.print(Text(f"  preferred, because: {row['preference']}"))


def _flat(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key} {_flat(part)}" for key, part in value.items())
    if isinstance(value, list):
        return ", ".join(_flat(part) for part in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def size(terminal: Console, answer: Answer) -> None:
    """A size in every system."""
    _line(
        terminal,
        ("inner circumference", number(answer["inner_circumference_mm"], "mm")),
        ("inner diameter", number(answer["inner_diameter_mm"], "mm")),
    )
    if "fit" in answer:
        added = answer["fit"]["width_allowance_mm"]
        terminal.print(
            Text(f"the ring for a finger of {answer['fit']['asked']}; {number(added, 'mm')} wider for its band")
        )
    table = _table("system", "size", ">off by", "")
    for key, one in answer["labels"].items():
        off = f"{one['residual_mm']:+.2f} mm"
        table.add_row(
            Text(f"{key}  {one['title']}"), Text(one["label"]), off, "off the gauge" if one["off_stick"] else ""
        )
    terminal.print(table)
    for one in answer["disagreements"]:
        if not one["other_label"]:
            continue
        terminal.print(
            Text(
                f"{one['chart']} prints {one['theirs']} beside {one['size']}, the rules give {one['ours']} "
                f"({one['difference_mm']:+.2f} mm; {one['source']})"
            )
        )


def recipe(terminal: Console, answer: Answer) -> None:
    """A charge's parts."""
    table = _table("weigh out", ">mass", "kind", "")
    for part in answer["parts"]:
        table.add_row(
            Text(part["material"]), number(part["mass_g"], "g"), part["kind"], "to buy" if part["buy"] else ""
        )
    table.add_section()
    table.add_row("together", number(answer["mass_g"], "g"), "", "")
    terminal.print(table)
    _line(
        terminal,
        ("fineness, guaranteed", number(answer["fineness_permille"], "permille")),
        ("asked", number(answer["asked_permille"], "permille", 1)),
        ("new metal", number(answer["new_metal_percent"], "%", 0)),
    )


def stone(terminal: Console, answer: Answer) -> None:
    """A stone's mass, by solid and by rule."""
    mass = {"value": answer["mass_ct"], "plus_minus": answer["mass_plus_minus_ct"]}
    stated = number(answer["stated_ct"], "ct", 3)
    if answer["stated_ct"] is not None:
        stated += ", which fits the size" if answer["plausible"] else ", which does not fit the size"
    gem = answer["gem"]
    _line(
        terminal,
        ("mass by the solid", number(mass, "ct", 3)),
        ("mass by rule", f"{number(answer['rule_mass_ct'], 'ct', 3)}  {answer['rule_source']}"),
        ("stated", stated),
        ("volume", number(answer["volume_mm3"], "mm³" if _unicode() else "mm3")),
        ("taken as usual", ", ".join(gem["assumed"]) or "nothing"),
        (
            "bears",
            f"torch {gem['torch']}; ultrasonic {gem['ultrasonic']}; steam {gem['steam']}; pickle {gem['pickle']}",
        ),
        ("in setting", f"{gem['force']}; most easily hurt: {gem['worst_place']}"),
    )


def burnout(terminal: Console, answer: Answer) -> None:
    """A kiln's programme."""
    table = _table("hold", ">to", ">ramp", ">hold", ">core there after", "set by")
    for hold in answer["holds"]:
        table.add_row(
            Text(hold["purpose"]),
            number(hold["to_C"], "°C", 0),
            number(hold["ramp_C_per_h"], "°C/h", 0),
            number(hold["hold_h"], "h"),
            number(hold["core_there_after_h"], "h"),
            hold["set_by"],
        )
    terminal.print(table)
    _line(
        terminal,
        (
            "flask",
            f"{answer['diameter_mm']:g} x {answer['height_mm']:g} mm, {answer['investment']}, {answer['pattern']}",
        ),
        ("total", number(answer["total_h"], "h", 1)),
        ("dry after", number(answer["dry_after_h"], "h", 1)),
    )


def mark(terminal: Console, answer: Answer) -> None:
    """The law of marks of one market."""
    _line(
        terminal,
        ("market", answer["market_title"]),
        ("fineness", f"{number(answer['fineness_permille'], 'permille', 0)}, marked {answer['mark']}"),
        ("exempt by mass", "yes" if answer["exempt"] else "no"),
    )
    for name in ("must", "may", "never"):
        for text in answer[name]:
            terminal.print(Text(f"{name.ljust(6)} {text}"))
    terminal.print(Text(f"source: {answer['source']}", style="dim"))
    terminal.print(Text(answer["note"], style="dim"))


def weigh(terminal: Console, answer: Answer) -> None:
    """A model as it was drawn."""
    hole = answer["hole"]
    _line(
        terminal,
        ("units", answer["units"]),
        ("closed as drawn", "yes" if answer["closed"] else "no"),
        ("mended", "; ".join(answer["mended"]) or "nothing"),
        ("volume", number(answer["volume_mm3"], "mm3")),
        ("surface", number(answer["area_mm2"], "mm2")),
        ("finger hole", number(hole and hole["diameter_mm"], "mm")),
        ("out of round", number(hole and hole["roundness_mm"], "mm", 3)),
    )
    table = _table("alloy", ">mass")
    for alloy, mass in answer["mass_g"].items():
        table.add_row(alloy, number(mass, "g"))
    terminal.print(table)
