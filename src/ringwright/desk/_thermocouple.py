"""Reading the shop's own thermocouple log: a plain CSV file, with every mistake told by its line.

The first line names the columns ``time``, ``temperature``, ``x``, ``y`` and ``z`` in any order, each with its unit in
brackets where it is not seconds, °C or mm: ``time [min], temperature [°F], x, y, z``. A place is that of the
thermocouple in the coordinates of the model; readings of the same place are one log. Cells are parted by commas, or by
semicolons or tabs, and then a number may have a decimal comma. Lines that begin with # are notes.
"""

from __future__ import annotations

import re

from ringwright.desk._units import Unreadable, quantity
from ringwright.terms.mistake import BadInput, Mistake, bad
from ringwright.terms.pour import Reading, ThermocoupleLog
from ringwright.terms.remark import Point

_UNITS = {"time": "s", "temperature": "°C", "x": "mm", "y": "mm", "z": "mm"}
_COLUMN = re.compile(r"\s*([^\[\](]+?)\s*(?:[\[(]\s*([^\])]*?)\s*[\])])?\s*")
_RIGHT = "time, temperature, x, y, z: in s, °C and mm, or with another unit in brackets, such as time [min]"
_COLDEST_C, _HOTTEST_C = -50.0, 2500.0
_MOST_TOLD = 20


def logs_in(text: str, name: str) -> tuple[ThermocoupleLog, ...]:
    """The logs of a file, one for each place; ``name`` is what mistakes call it. Raises :class:`BadInput`."""
    lines = [
        (n, line)
        for n, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise bad(name, "the log is empty", f"a first line that names its columns: {_RIGHT}")
    parting = next((sign for sign in (";", "\t") if sign in lines[0][1]), ",")
    units = _columns(lines[0][1].split(parting), f"{name}:{lines[0][0]}")
    faults: list[Mistake] = []
    found: dict[Point, list[Reading]] = {}
    for number, line in lines[1:]:
        _read(line.split(parting), units, parting, f"{name}:{number}", found, faults)
    for place, readings in found.items():
        if len(readings) < 2 and not faults:
            at = ", ".join(f"{part:g}" for part in place)
            faults.append(Mistake(name, f"there is one reading at ({at}) mm", "two or more, from the pour on"))
    if not found and not faults:
        faults.append(Mistake(name, "there is no reading below the names of the columns", "a line for each reading"))
    if faults:
        more = len(faults) - _MOST_TOLD
        told = faults[:_MOST_TOLD]
        raise BadInput(
            *told, *([Mistake(name, f"and {more} more mistakes", "mend those above first")] if more > 0 else [])
        )
    return tuple(ThermocoupleLog(at_mm=place, readings=tuple(readings)) for place, readings in found.items())


def _columns(cells: list[str], where: str) -> dict[str, tuple[int, str]]:
    """For each column its place in a line and its unit."""
    units: dict[str, tuple[int, str]] = {}
    for at, cell in enumerate(cells):
        told = _COLUMN.fullmatch(cell)
        key = told[1].lower() if told else cell.strip()
        if told is None or key not in _UNITS:
            raise bad(where, f"'{cell.strip()}' is not a column of a log", _RIGHT)
        if key in units:
            raise bad(where, f"there are two columns called {key}", _RIGHT)
        units[key] = at, told[2] or _UNITS[key]
        try:
            quantity(f"1 {units[key][1]}", _UNITS[key])
        except Unreadable as fault:
            raise bad(where, f"column {key}: {fault.what}", fault.right) from fault
    if missing := [key for key in _UNITS if key not in units]:
        raise bad(where, f"there is no column {', '.join(missing)}", _RIGHT)
    return units


def _read(
    cells: list[str],
    units: dict[str, tuple[int, str]],
    parting: str,
    where: str,
    found: dict[Point, list[Reading]],
    faults: list[Mistake],
) -> None:
    """One line: a reading is put to its place, or the mistake is noted."""
    if len(cells) != len(units):
        faults.append(Mistake(where, f"{len(cells)} cells under {len(units)} columns", f"{len(units)} cells"))
        return
    values: dict[str, float] = {}
    for key, (at, unit) in units.items():
        text = cells[at].strip()
        if parting != ",":
            text = text.replace(",", ".")
        try:
            values[key] = quantity(f"{text} {unit}", _UNITS[key])
        except Unreadable:
            faults.append(Mistake(where, f"'{cells[at].strip()}' is not a number ({key})", f"{key} in {unit}"))
            return
    place = values["x"], values["y"], values["z"]
    before = found.setdefault(place, [])
    if not _COLDEST_C < values["temperature"] < _HOTTEST_C:
        right = f"a temperature in {units['temperature'][1]}, or the unit in brackets in the first line"
        faults.append(Mistake(where, f"{values['temperature']:g} °C is no temperature of a casting", right))
    elif values["time"] < 0:
        faults.append(Mistake(where, f"{values['time']:g} s is before the pour", "seconds since the pour, from 0 on"))
    elif before and values["time"] <= before[-1].time_s:
        what = f"{values['time']:g} s does not follow {before[-1].time_s:g} s of the same place"
        faults.append(Mistake(where, what, "times that grow"))
    else:
        before.append(Reading(time_s=values["time"], reads_C=values["temperature"]))
