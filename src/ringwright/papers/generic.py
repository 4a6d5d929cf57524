"""Any result as blocks, from the descriptions on its fields alone: what a step has no card of its own for."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Sequence
from typing import Any, TypeVar

from ringwright.papers.blocks import Block, Cell, Column, heading, pairs, table
from ringwright.papers.say import plain_cell, sentence, shown, unit
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate, described, figures_of
from ringwright.words.numbers import NONE

T = TypeVar("T")

_MOST_WORDS = 46
"""A text longer than this is told in a list and not beside its name."""

_MOST_ROWS = 14


def found(making: Any, step: str, kind: type[T]) -> T | None:
    """The result of a step, where it was worked and is of that kind."""
    outcome = getattr(making, step, None)
    result = outcome.result if isinstance(outcome, Outcome) else None
    return result if isinstance(result, kind) else None


def single(value: Any) -> bool:
    """Whether one line can show the value."""
    if isinstance(value, Estimate):
        return True
    if isinstance(value, tuple):
        return bool(value) and all(isinstance(part, (int, float, str)) for part in value) and len(value) <= 4
    return not (dataclasses.is_dataclass(value) or isinstance(value, dict))


def figure_pairs(result: Any, names: Sequence[str] = (), leave: Collection[str] = ()) -> list[tuple[str, Cell]]:
    """Each single figure of a result: what it is, and its value. ``names`` chooses some, in that order."""
    all_of = {one.name: one for one in figures_of(result)}
    chosen = [all_of[name] for name in names if name in all_of] if names else list(all_of.values())
    return [
        (one.about.help, text)
        for one in chosen
        if one.name not in leave and single(one.value) and (text := shown(one.value, one.about)) not in ("", NONE)
    ]


def figure_table(items: Sequence[Any], names: Sequence[str] = (), widths: dict[str, str] | None = None) -> Block | None:
    """Like results in a table, a column for each figure; None where there are none."""
    if not items:
        return None
    about = described(type(items[0]))
    chosen = [name for name in (names or about) if name in about and _tabular([getattr(i, name) for i in items])]
    columns = []
    for name in chosen:
        figure = about[name]
        mark = unit(figure.unit)
        numeric = all(_number(getattr(item, name)) for item in items)
        head = f"{figure.help}, {mark}" if mark else figure.help
        columns.append(
            Column(head, (widths or {}).get(name, "auto" if numeric else "1fr"), "right" if numeric else "left")
        )
    rows = [[_cell(getattr(item, name), about[name]) for name in chosen] for item in items]
    return table(columns, rows, small=True)


def result_blocks(title: str, result: Any, leave: Collection[str] = ()) -> list[Block]:
    """A result whole: its single figures in columns, its lists as tables, its parts below."""
    blocks = [heading(title)]
    told = figure_pairs(result, leave=leave)
    short = [pair for pair in told if len(str(pair[1])) <= _MOST_WORDS]
    if short:
        blocks.append(pairs(short))
    blocks += [pairs([pair], columns=1) for pair in told if len(str(pair[1])) > _MOST_WORDS]
    for one in figures_of(result):
        if one.name in leave:
            continue
        value = one.value
        if isinstance(value, tuple) and value and all(dataclasses.is_dataclass(part) for part in value):
            listed = figure_table(value[:_MOST_ROWS])
            note = (
                f"the first {_MOST_ROWS} of {len(value)}; all of them in dossier.json"
                if len(value) > _MOST_ROWS
                else ""
            )
            blocks += [heading(one.about.help, note), listed] if listed else []
        elif dataclasses.is_dataclass(value) and not isinstance(value, Estimate):
            blocks += result_blocks(one.about.help, value)
        elif isinstance(value, dict) and value and all(isinstance(part, (int, float)) for part in value.values()):
            named = [(str(key), shown(float(part), one.about)) for key, part in value.items()]
            blocks += [heading(one.about.help), pairs(named, columns=2)]
    return blocks


def _tabular(values: Sequence[Any]) -> bool:
    """Whether a column can show them: single, and not all of them nothing."""
    points = any(isinstance(value, tuple) for value in values)
    return not points and all(single(value) for value in values) and any(value not in (None, "") for value in values)


def _number(value: Any) -> bool:
    return (
        value is None
        or isinstance(value, (Estimate, float))
        or (isinstance(value, int) and not isinstance(value, bool))
    )


def _cell(value: Any, about: Any) -> Cell:
    if isinstance(value, (float, Estimate)):
        return plain_cell(value, about.digits)
    return sentence(shown(value, about))
