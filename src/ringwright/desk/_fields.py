"""From the plain data of a TOML file to frozen dataclasses, driven by the dataclasses and their Figures alone.

The key of a field in a file, its unit, what it may be and the words that may stand there are read from
:mod:`ringwright.terms`; nothing about any one field is said here.
"""

from __future__ import annotations

import dataclasses
import difflib
import re
import types
import typing
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from ringwright.desk._lines import Place, line_at
from ringwright.desk._units import Unreadable, example, number, quantity
from ringwright.desk._values import READERS, Slot, finite, is_number, said
from ringwright.terms.mistake import Mistake
from ringwright.terms.quantity import Figure, file_key

T = TypeVar("T")

_PLAIN = Figure("", 0, "")


@dataclass
class Sheet:
    """A file while it is read: its name, its lines, its currency, and every mistake found so far."""

    name: str
    lines: dict[Place, int] = field(default_factory=dict)
    currency: str = ""
    faults: list[tuple[int, Mistake]] = field(default_factory=list)

    def where(self, place: Place) -> str:
        """File, line and field in one text."""
        line = line_at(self.lines, place)
        head = f"{self.name}:{line}" if line else self.name
        return f"{head}: {shown(place)}" if place else head

    def wrong(self, place: Place, what: str, right: str) -> None:
        """Note a mistake."""
        self.faults.append((line_at(self.lines, place) or 0, Mistake(self.where(place), what, right)))

    @property
    def mistakes(self) -> tuple[Mistake, ...]:
        """The mistakes in the order of the file's lines."""
        return tuple(mistake for _, mistake in sorted(self.faults, key=lambda fault: fault[0]))


class _Wrong(Exception):
    """A value could not be read; the mistake is already noted."""


class _Unread:
    """What stands for a value that could not be read: neither None nor true."""

    def __bool__(self) -> bool:
        return False


UNREAD: Any = _Unread()


class Partial(types.SimpleNamespace):
    """A table with mistakes: what could be read of it, so that the rules between fields can still be checked."""


def shown(place: Place) -> str:
    """A place as people read it: ``stone[2].length``, entries counted from 1."""
    text = ""
    for part in place:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def slots(kind: type[Any]) -> tuple[Slot, ...]:
    """The fields of a dataclass as a file sees them; ``TypeError`` where two would have the same key."""
    return _slots(typing.cast("Any", kind))


@cache
def _slots(kind: Any) -> tuple[Slot, ...]:
    hints = typing.get_type_hints(kind, include_extras=True)
    found = []
    for one in dataclasses.fields(kind):
        hint, about = _bare(hints[one.name])
        found.append(Slot(one.name, file_key(one.name, about), about or _PLAIN, hint, one))
    keys = [slot.key for slot in found]
    if doubled := sorted({key for key in keys if keys.count(key) > 1}):
        raise TypeError(f"{kind.__name__}: two fields would be written '{doubled[0]}'; give one a key of its own")
    return tuple(found)


def _bare(hint: Any) -> tuple[Any, Figure | None]:
    """The type itself, without its annotation and without None, and its Figure."""
    about = None
    if typing.get_origin(hint) is typing.Annotated:
        about = next((note for note in hint.__metadata__ if isinstance(note, Figure)), None)
        hint = typing.get_args(hint)[0]
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        hint = next(arg for arg in typing.get_args(hint) if arg is not type(None))
    return hint, about


def read_table(kind: type[T], data: Any, place: Place, sheet: Sheet) -> T | Partial:
    """The dataclass that a table says; where it has mistakes they are noted, and what could be read is given.

    In a :class:`Partial` a value that could not be read is ``UNREAD``.
    """
    if not isinstance(data, dict):
        sheet.wrong(place, "is not a table", _write_table(kind, place))
        return Partial(**{slot.name: UNREAD for slot in slots(kind)})
    known = slots(kind)
    meant = _unknown(data, known, place, sheet)
    given: dict[str, Any] = {}
    whole = True
    for slot in known:
        here = (*place, slot.key)
        if slot.key in data:
            try:
                given[slot.name] = _value(slot, slot.hint, data[slot.key], here, sheet)
            except _Wrong:
                given[slot.name] = UNREAD
            whole = whole and not _unread(given[slot.name])
        elif slot.required:
            whole = False
            given[slot.name] = UNREAD
            if slot.key not in meant:
                sheet.wrong(here, "is missing", _write(slot, here))
    if whole:
        return kind(**given)
    return Partial(**{slot.name: given[slot.name] if slot.name in given else slot.default() for slot in known})


def _unread(value: Any) -> bool:
    """Whether a value, or one of its entries, could not be read whole."""
    return isinstance(value, (Partial, _Unread)) or (isinstance(value, tuple) and any(_unread(part) for part in value))


def _unknown(data: dict[str, Any], known: tuple[Slot, ...], place: Place, sheet: Sheet) -> set[str]:
    """Note each key that no field has, with the nearest one; the keys that were meant."""
    keys = [slot.key for slot in known]
    free = [key for key in keys if key not in data]
    meant = set()
    for key in data.keys() - set(keys):
        if slot := next((slot for slot in known if slot.name == key), None):
            meant.add(slot.key)
            right = f"leave the unit off the name: {_write(slot, (*place, slot.key))}"
        elif near := _nearest(key, free) or _nearest(key, keys):
            meant.add(near[0])
            right = f"did you mean '{near[0]}'?"
        else:
            right = f"known here: {', '.join(keys)}"
        sheet.wrong((*place, key), "unknown field", right)
    return meant


def _nearest(key: str, keys: list[str]) -> list[str]:
    return difflib.get_close_matches(key, keys, n=1, cutoff=0.5)


def _value(slot: Slot, hint: Any, raw: Any, place: Place, sheet: Sheet) -> Any:
    """The value of a field; notes what is wrong and raises ``_Wrong`` otherwise."""
    origin = typing.get_origin(hint)
    if origin is tuple:
        args = typing.get_args(hint)
        if args[-1] is Ellipsis:
            return _entries(slot, args[0], raw, place, sheet)
        return _point(slot, len(args), raw, place, sheet)
    if origin is dict:
        return _by_name(slot, typing.get_args(hint)[1], raw, place, sheet)
    if dataclasses.is_dataclass(hint):
        return read_table(typing.cast("type[Any]", hint), raw, place, sheet)
    if issubclass(hint, Enum):
        return hint(_word(raw, [str(one.value) for one in hint], place, sheet))
    if hint is str and slot.about.choices:
        return _word(raw, slot.about.choices, place, sheet)
    try:
        return READERS[hint](slot, raw, sheet.currency)
    except Unreadable as fault:
        sheet.wrong(place, fault.what, fault.right)
        raise _Wrong from fault


def _entries(slot: Slot, hint: Any, raw: Any, place: Place, sheet: Sheet) -> tuple[Any, ...]:
    """An array, each entry by itself so that every mistake is found."""
    if not isinstance(raw, list):
        heads = dataclasses.is_dataclass(hint)
        sheet.wrong(place, "is not a list", f"write [[{shown(place)}]]" if heads else "write it in [ ]")
        raise _Wrong
    found, failed = [], False
    for index, entry in enumerate(raw):
        try:
            found.append(_value(slot, hint, entry, (*place, index), sheet))
        except _Wrong:
            failed = True
    if failed:
        raise _Wrong
    return tuple(found)


def _by_name(slot: Slot, hint: Any, raw: Any, place: Place, sheet: Sheet) -> dict[str, Any]:
    """A small table of values by name, such as a composition."""
    if not isinstance(raw, dict):
        sheet.wrong(place, "is not a table", f'write {{ Name = "{example(slot.about.unit)}" }}')
        raise _Wrong
    found, failed = {}, False
    for name, value in raw.items():
        try:
            found[name] = _value(slot, hint, value, (*place, name), sheet)
        except _Wrong:
            failed = True
    if failed:
        raise _Wrong
    return found


def _point(slot: Slot, size: int, raw: Any, place: Place, sheet: Sheet) -> tuple[float, ...]:
    """A place or direction: three numbers parted by commas, with one unit at the end or one each."""
    unit = slot.about.unit
    right = f'write "0, 11.2, 0 {unit}"' if unit else 'write "0, 1, 0"'
    try:
        if isinstance(raw, list) and not unit and all(is_number(part) for part in raw):
            parts = [finite(part) for part in raw]
        elif isinstance(raw, str):
            texts = [text.strip() for text in raw.split(",")]
            unit_said = re.sub(r"^[-+\d.eE]+", "", texts[-1]).strip()
            texts = [text if not unit or text.endswith(unit_said) else f"{text} {unit_said}" for text in texts]
            parts = [quantity(text, unit) if unit else number(text) for text in texts]
        else:
            raise Unreadable(f"'{said(raw)}' is not a text of {size} numbers", right)
    except Unreadable as fault:
        sheet.wrong(place, fault.what, right)
        raise _Wrong from fault
    if len(parts) != size:
        sheet.wrong(place, f"has {len(parts)} numbers", right)
        raise _Wrong
    return tuple(parts)


def _word(raw: Any, words: Iterable[str], place: Place, sheet: Sheet) -> str:
    """One of some words."""
    words = list(words)
    if isinstance(raw, str) and raw in words:
        return raw
    near = difflib.get_close_matches(str(raw).lower(), words, n=1, cutoff=0.6)
    right = f"did you mean '{near[0]}'?" if near else f"write one of {', '.join(words)}"
    sheet.wrong(place, f"'{said(raw)}' is not known here", right)
    raise _Wrong


def _write(slot: Slot, place: Place) -> str:
    """What to write for a field that is missing."""
    kind = slot.hint
    if dataclasses.is_dataclass(kind):
        return _write_table(typing.cast("type[Any]", kind), place)
    if typing.get_origin(kind) is tuple and dataclasses.is_dataclass(typing.get_args(kind)[0]):
        return f"write [[{shown(place)}]]"
    if typing.get_origin(kind) is tuple:
        text = f'"0, 11.2, 0 {slot.about.unit}"'
    elif typing.get_origin(kind) is dict:
        text = f'{{ Name = "{example(slot.about.unit)}" }}'
    elif kind is Decimal:
        text = '"12.50"'
    elif kind is bool:
        text = "true or false"
    elif kind is float and slot.about.unit:
        text = f'"{example(slot.about.unit)}"'
    elif kind in (int, float):
        text = "1"
    elif slot.about.choices or (isinstance(kind, type) and issubclass(kind, Enum)):
        text = f'"{slot.about.choices[0] if slot.about.choices else next(iter(kind)).value}"'
    else:
        text = '"..."'
    return f"write {slot.key} = {text}" + (f" ({slot.about.help})" if slot.about.help else "")


def _write_table(kind: type[Any], place: Place) -> str:
    """What to write for a table that is missing."""
    needed = ", ".join(slot.key for slot in slots(kind) if slot.required)
    return f"write [{shown(place)}]" + (f" with {needed}" if needed else "")
