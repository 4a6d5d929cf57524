"""The trade's figures, kept as data: TOML tables beside this module, read and checked once.

A file of ``tables/`` is one published table (or a part of one)::

    [table]
    name = "alloys"                  # the field of terms.facts.Facts that it feeds
    title = "Yellow and red golds"
    source = "..."                   # of every row that names none itself
    basis = "handbook"               # likewise

    [[row]]
    key = "18k-3n"
    density_g_cm3 = 15.45

A row does not load without a source and a basis, with an unknown column, or with a number outside the
bounds of its kind (``bounds.toml``: the kind is the column's name). Where rows share a key, sources
disagree: then exactly one of them says in ``preference`` why it is the one that is used.
"""

from __future__ import annotations

import tomllib
import typing
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import fields
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from pydantic import TypeAdapter, ValidationError

from ringwright.terms.fact import Row
from ringwright.terms.facts import Facts
from ringwright.terms.mistake import BadInput, Mistake


def row_kinds() -> dict[str, type[Row]]:
    """The row type of each table, read from the fields of :class:`Facts`."""
    hints = typing.get_type_hints(Facts)
    return {field.name: typing.get_args(hints[field.name])[0] for field in fields(Facts)}


def shipped() -> Traversable:
    """The folder of the tables that come with Ringwright."""
    return files(__name__) / "tables"


@cache
def load() -> Facts:
    """The shipped tables, whole and checked.

    Raises :class:`BadInput` with every fault of every file at once.
    """
    return read(*texts())


def texts() -> tuple[dict[str, str], dict[str, dict[str, float]]]:
    """The shipped tables and the bounds as they are written: what :func:`read` reads."""
    found = {
        f.name: f.read_text("utf-8")
        for f in sorted(shipped().iterdir(), key=lambda f: f.name)
        if f.name.endswith(".toml")
    }
    return found, tomllib.loads((files(__name__) / "bounds.toml").read_text("utf-8"))


def read(texts: Mapping[str, str], bounds: Mapping[str, Mapping[str, float]]) -> Facts:
    """The tables in ``texts`` (file name to TOML text), checked against ``bounds`` (column to ``{min, max}``).

    Raises :class:`BadInput` with every fault found.
    """
    kinds = row_kinds()
    rows: dict[str, list[Row]] = defaultdict(list)
    faults: list[Mistake] = []
    for name, text in texts.items():
        try:
            data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as fault:
            faults.append(Mistake(name, f"not TOML: {fault}", "mend the file"))
            continue
        head = data.get("table", {})
        table = head.get("name", "")
        if table not in kinds:
            faults.append(Mistake(name, f"unknown table '{table}'", f"one of {', '.join(kinds)}"))
            continue
        for number, raw in enumerate(data.get("row", []), start=1):
            where = f"{name}, row {number} ({raw.get('key', 'no key')})"
            given = {"source": head.get("source"), "basis": head.get("basis"), **raw}
            row, wrong = _row(kinds[table], given, where, bounds)
            faults.extend(wrong)
            if row is not None:
                rows[table].append(row)
    for table, found in rows.items():
        faults.extend(_disagreements(table, found))
    if faults:
        raise BadInput(*faults)
    # Each row was made by the reader of its table's own kind, which a mapping's type cannot say.
    return Facts(**{table: tuple(found) for table, found in rows.items()})  # type: ignore[arg-type]


@cache
def _readers() -> dict[type[Row], TypeAdapter[Row]]:
    """What makes a row of each kind; made once, because making one takes milliseconds and there are many rows."""
    return {kind: TypeAdapter(kind) for kind in row_kinds().values()}


def _row(
    kind: type[Row], given: dict[str, Any], where: str, bounds: Mapping[str, Mapping[str, float]]
) -> tuple[Row | None, list[Mistake]]:
    """The row, or what is wrong with it."""
    faults: list[Mistake] = []
    if not given.get("source"):
        faults.append(Mistake(where, "no source", "name the source in the row or in the head of the table"))
    if not given.get("basis"):
        faults.append(Mistake(where, "no basis", "name the basis in the row or in the head of the table"))
    unknown = set(given) - {field.name for field in fields(kind)}
    if unknown:
        faults.append(Mistake(where, f"unknown column {', '.join(sorted(unknown))}", f"the columns of {kind.__name__}"))
    for column, value in _numbers(given):
        bound = bounds.get(column)
        if bound is None:
            faults.append(Mistake(where, f"column {column} has no bounds", "add its kind to bounds.toml"))
        elif not bound["min"] <= value <= bound["max"]:
            faults.append(
                Mistake(where, f"{column} = {value}", f"between {bound['min']} and {bound['max']} (bounds.toml)")
            )
    if faults:
        return None, faults
    try:
        return _readers()[kind].validate_python(given), []
    except ValidationError as fault:
        return None, [Mistake(where, f"{'.'.join(map(str, e['loc']))}: {e['msg']}", "") for e in fault.errors()]


def _numbers(given: Mapping[str, Any]) -> Iterator[tuple[str, float]]:
    """Each number of a row with its column, also those inside lists and small tables."""

    def walk(column: str, value: Any) -> Iterator[tuple[str, float]]:
        if isinstance(value, bool):
            return
        if isinstance(value, (int, float)):
            yield column, float(value)
        elif isinstance(value, list):
            for item in value:
                yield from walk(column, item)
        elif isinstance(value, dict):
            for item in value.values():
                yield from walk(column, item)

    for column, value in given.items():
        yield from walk(column, value)


def _disagreements(table: str, rows: list[Row]) -> Iterator[Mistake]:
    """Keys with several rows of which not exactly one is preferred, or a lone row that claims a preference."""
    by_key: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_key[row.key].append(row)
    for key, same in by_key.items():
        preferred = sum(bool(row.preference) for row in same)
        if len(same) > 1 and preferred != 1:
            yield Mistake(
                f"{table}, {key}",
                f"{len(same)} rows disagree and {preferred} of them are preferred",
                "exactly one row says in 'preference' why it is used",
            )
