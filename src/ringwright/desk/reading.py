"""Reading what people write: a commission and a workshop, from TOML, with every mistake told at once."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

from ringwright.desk._checks import check_commission, check_workshop
from ringwright.desk._fields import Partial, Sheet, read_table
from ringwright.desk._lines import Place, lines_of
from ringwright.terms.commission import Commission
from ringwright.terms.mistake import BadInput, Mistake, bad
from ringwright.terms.workshop import Workshop

T = TypeVar("T")

LARGEST_FILE_BYTES = 2_000_000
"""A commission or workshop is a page or two; a longer file is something else."""


def read_commission(path: Path, today: dt.date | None = None) -> Commission:
    """The commission in a file; with ``today`` a promised day that is past is a mistake.

    Raises :class:`BadInput` with every mistake: file, line, field, what is wrong, what would be right.
    """
    return commission_in(text_of(path), path.name, today)


def read_workshop(path: Path) -> Workshop:
    """The workshop in a file. Raises :class:`BadInput` with every mistake."""
    return workshop_in(text_of(path), path.name)


def commission_in(text: str, name: str, today: dt.date | None = None) -> Commission:
    """The commission in a text; ``name`` is what its mistakes call the file."""
    data, sheet = _opened(text, name, "commission")
    found = read_table(Commission, data, (), sheet)
    check_commission(found, sheet, today)
    return _faultless(found, sheet)


def workshop_in(text: str, name: str) -> Workshop:
    """The workshop in a text; ``name`` is what its mistakes call the file."""
    data, sheet = _opened(text, name, "shop")
    found = read_table(Workshop, data, (), sheet)
    check_workshop(found, sheet)
    return _faultless(found, sheet)


def text_of(path: Path, meant: str = "a commission or a workshop in TOML") -> str:
    """The text of a file. Raises :class:`BadInput` where there is none that can be read."""
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise bad(str(path), "is too long for a file of this kind", f"give {meant}")
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as fault:
        raise bad(str(path), "there is no such file", "check the name and the folder") from fault
    except IsADirectoryError as fault:
        raise bad(str(path), "is a folder", "name the file in it") from fault
    except UnicodeDecodeError as fault:
        raise bad(str(path), "is not a text in UTF-8", "save it as UTF-8, or name the right file") from fault
    except OSError as fault:
        raise bad(str(path), f"cannot be read ({fault.strerror})", "check the name and the permissions") from fault


def located(fault: BadInput, path: Path, text: str) -> BadInput:
    """The same mistakes, each that names a field of this file told with file and line.

    A step names a field as ``metal.alloy``, as ``stone[1].cut`` (from 1), as ``stone 'centre', cut``, or as
    ``alloy`` where only one field is called so; where it names none, the text that it quotes tells the field.
    """
    sheet = Sheet(path.name, lines_of(text))
    data = tomllib.loads(text)
    found = []
    for mistake in fault.mistakes:
        place = _place(mistake.where, data) if mistake.where else _quoted(mistake.what, data)
        if place and place not in sheet.lines and isinstance(place[-1], int):
            place = place[:-1]  # an entry of a list that stands in one line
        if len(place) == 1 and place not in sheet.lines:
            same = [one for one in sheet.lines if one[-1] == place[0]]
            place = same[0] if len(same) == 1 else place
        known = place and place in sheet.lines
        found.append(Mistake(sheet.where(place), mistake.what, mistake.right) if known else mistake)
    return BadInput(*found)


def _place(where: str, data: dict[str, Any]) -> Place:
    """The place in a file that a step's words name; empty where they name none."""
    if named := re.fullmatch(r"(\w+) '(.+)'(?:,? (\w+))?", where):
        kind, name, field = named.groups()
        entries = data.get(kind, [])
        for number, entry in enumerate(entries if isinstance(entries, list) else []):
            if isinstance(entry, dict) and entry.get("name") == name:
                return (kind, number, field) if field in entry else (kind, number)
        return ()
    place: list[str | int] = []
    for part in where.split("."):
        found = re.fullmatch(r"(\w+)(?:\[(\d+)\])?", part)
        if not found:
            return ()
        place += [found[1], int(found[2]) - 1] if found[2] else [found[1]]
    return tuple(place)


def _quoted(what: str, data: dict[str, Any]) -> Place:
    """The one field whose text a mistake quotes; empty where none or several have it."""

    def walk(value: Any, place: Place) -> Iterator[Place]:
        if isinstance(value, dict):
            for key, part in value.items():
                yield from walk(part, (*place, key))
        elif isinstance(value, list):
            for number, part in enumerate(value):
                yield from walk(part, (*place, number))
        elif isinstance(value, str) and value in quoted:
            yield place

    quoted = set(re.findall(r"'([^']+)'", what))
    found = list(walk(data, ()))
    return found[0] if len(found) == 1 else ()


def _opened(text: str, name: str, heading: str) -> tuple[dict[str, Any], Sheet]:
    """The plain data of a TOML text, and the sheet on which its mistakes are noted."""
    if not text.strip():
        raise bad(name, "the file is empty", f"write at least [{heading}]; `ringwright demo` writes one to start from")
    try:
        data = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as fault:
        raise _broken(str(fault), name) from fault
    sheet = Sheet(name, lines_of(text))
    head = data.get(heading)
    currency = head.get("currency") if isinstance(head, dict) else None
    sheet.currency = currency if isinstance(currency, str) else ""
    return data, sheet


def _broken(said: str, name: str) -> BadInput:
    """A fault of the TOML itself, with its line."""
    found = re.search(r"\(at line (\d+), column (\d+)\)", said)
    what = re.sub(r"\s*\(at .*\)", "", said)
    where = f"{name}:{found[1]}" if found else name
    return bad(where, f"not TOML: {what[:1].lower()}{what[1:]}", 'write fields as name = "text", under a [heading]')


def _faultless(found: T | Partial, sheet: Sheet) -> T:
    """What was read, or :class:`BadInput` with every mistake."""
    if sheet.faults or isinstance(found, Partial):
        raise BadInput(*sheet.mistakes)
    return found
