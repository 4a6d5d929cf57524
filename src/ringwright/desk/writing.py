"""Writing a commission or a workshop back as TOML, so that a page can edit what a person wrote.

The reverse of :mod:`ringwright.desk.reading`, driven by the same dataclasses and Figures: what is written here
reads back as the same values, exactly.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import MutableMapping
from dataclasses import is_dataclass
from decimal import Decimal
from enum import Enum
from typing import TYPE_CHECKING, Any

from ringwright.desk._fields import slots
from ringwright.desk._values import Slot
from ringwright.desk.reading import commission_in, workshop_in
from ringwright.terms.commission import Commission
from ringwright.terms.workshop import Workshop

if TYPE_CHECKING:
    from tomlkit import TOMLDocument


def toml_of(whole: Commission | Workshop) -> str:
    """A commission or a workshop as a new TOML text; what is as it would be anyway is left out."""
    import tomlkit

    document = tomlkit.document()
    for key, value in _plain(whole, sparse=True).items():
        document.add(key, _item(value, heads=True))
    return tomlkit.dumps(document).lstrip("\n")


def edited(text: str, name: str, whole: Commission | Workshop) -> str:
    """The text, changed only where it says other values than ``whole``; comments and units as written stay.

    Raises :class:`~ringwright.terms.mistake.BadInput` where the text itself has mistakes; ``name`` is what they
    call the file.
    """
    import tomlkit

    before = commission_in(text, name) if isinstance(whole, Commission) else workshop_in(text, name)
    document: TOMLDocument = tomlkit.parse(text)
    _change(document, _plain(before), _plain(whole), _plain(whole, sparse=True), heads=True)
    return tomlkit.dumps(document)


def _plain(data: Any, *, sparse: bool = False) -> dict[str, Any]:
    """A dataclass as the file says it; ``sparse`` leaves out what has its default anyway."""
    found = {}
    for slot in slots(type(data)):
        value = getattr(data, slot.name)
        if value is None or (sparse and not slot.required and value == slot.default()):
            continue
        found[slot.key] = _said(slot, value, sparse)
    return found


def _said(slot: Slot, value: Any, sparse: bool) -> Any:
    """A value as the file says it: text with unit, number, switch, day, list or table."""
    unit = slot.about.unit
    if is_dataclass(value):
        return _plain(value, sparse=sparse)
    if isinstance(value, dict):
        return {key: _said(slot, part, sparse) for key, part in value.items()}
    if isinstance(value, tuple):
        if value and all(isinstance(part, float | int) for part in value):
            return ", ".join(_digits(part) for part in value) + (f" {unit}" if unit else "")
        return [_said(slot, part, sparse) for part in value]
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, float) and unit:
        return f"{_digits(value)} {unit}"
    return value


def _digits(value: float) -> str:
    """The shortest text that reads back as the same number."""
    return repr(float(value)).removesuffix(".0")


def _item(value: Any, *, heads: bool) -> Any:
    """A tomlkit item; tables get a [head] of their own at the top of the file, and stand in { } below."""
    import tomlkit

    if isinstance(value, dict):
        table: MutableMapping[str, Any] = tomlkit.table() if heads else tomlkit.inline_table()
        for key, part in value.items():
            table[key] = _item(part, heads=False)
        return table
    if isinstance(value, list) and value and isinstance(value[0], dict):
        entries = tomlkit.aot() if heads else tomlkit.array()
        for part in value:
            entries.append(_item(part, heads=heads))
        return entries
    if isinstance(value, dt.date):
        return tomlkit.date(value.isoformat())
    return tomlkit.item(value)


def _change(table: Any, old: dict[str, Any], new: dict[str, Any], sparse: dict[str, Any], *, heads: bool) -> None:
    """Bring a table of the document from what it says to what it should say."""
    for key in list(old):
        if key not in new and key in table:
            del table[key]
    for key, value in new.items():
        if old.get(key) == value:
            continue
        if key in table and isinstance(value, dict) and isinstance(old.get(key), dict):
            _change(table[key], old[key], value, sparse.get(key, value), heads=False)
        elif key in table and heads and isinstance(value, list) and value and isinstance(value[0], dict):
            table[key] = _entries(table[key], old[key], value, sparse.get(key, value))
        else:
            table[key] = _item(sparse.get(key, value), heads=heads)


def _entries(entries: Any, old: list[Any], new: list[Any], sparse: list[Any]) -> Any:
    """The [[entries]] of a list of tables: an entry that keeps its name keeps its lines and comments."""
    import tomlkit

    def name(entry: dict[str, Any]) -> Any:
        return entry.get("name", entry.get("metal"))

    known = {name(entry): (entry, table) for entry, table in zip(old, entries, strict=True)}
    found = tomlkit.aot()
    for entry, short in zip(new, sparse, strict=True):
        if name(entry) in known:
            before, table = known[name(entry)]
            _change(table, before, entry, short, heads=False)
            found.append(table)
        else:
            found.append(_item(short, heads=True))
    return found
