"""What no field can say alone: the rules between the fields of a commission and of a workshop."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from typing import Any

from ringwright.desk._fields import Partial, Sheet
from ringwright.desk._lines import Place
from ringwright.terms.commission import Commission, FingerBrief
from ringwright.terms.workshop import Workshop

_WHOLE_PERMILLE = 1000.0
_ROUNDING_PERMILLE = 0.5


def check_commission(data: Commission | Partial, sheet: Sheet, today: dt.date | None) -> None:
    """Note every contradiction within a commission; a due day before ``today`` is one where today is given."""
    if data.commission:
        _currency(data.commission.currency, ("commission", "currency"), sheet)
        due = data.commission.due
        if today is not None and isinstance(due, dt.date) and due < today:
            sheet.wrong(("commission", "due"), f"the promised day {due} is past", f"write {today} or a later day")
    if data.finger:
        _finger(data.finger, sheet)
    if data.stone:
        _unique(data.stone, ("stone",), "name", sheet)
    if data.model is None and data.starter is None:
        sheet.wrong(
            (), "nothing says what the ring looks like", "write [model] with its file, or [starter] with a shape"
        )
    elif data.model is not None and data.starter is not None:
        sheet.wrong(("starter",), "stands beside [model]", "keep the one that the ring is made from")
    for number, stone in enumerate(data.stone or ()):
        if stone.seat and stone.seat.facing and not any(stone.seat.facing):
            sheet.wrong(("stone", number, "seat", "facing"), "has no direction", 'write "0, 1, 0" or another direction')


def _finger(finger: FingerBrief | Partial, sheet: Sheet) -> None:
    """A size in a system, or a diameter."""
    if (finger.size is None) == (finger.inner_diameter_mm is None):
        what = "has neither a size nor a diameter" if finger.size is None else "has both a size and a diameter"
        sheet.wrong(("finger",), what, 'write either size = "54" with its system, or inner_diameter = "17.2 mm"')
    elif finger.size is not None and finger.system is None:
        sheet.wrong(("finger", "system"), "is missing", 'write system = "iso", or the one that the size is in')


def check_workshop(data: Workshop | Partial, sheet: Sheet) -> None:
    """Note every contradiction within a workshop."""
    if data.shop:
        _currency(data.shop.currency, ("shop", "currency"), sheet)
    for place, key in (
        ("fine_price", "metal"),
        ("printer", "name"),
        ("flask", "name"),
        ("kiln", "name"),
        ("crucible", "name"),
        ("stock", "name"),
    ):
        _unique(getattr(data, place) or (), (place,), key, sheet)
    for number, lot in enumerate(data.stock or ()):
        whole = sum(lot.composition.values()) if lot.composition else _WHOLE_PERMILLE
        if abs(whole - _WHOLE_PERMILLE) > _ROUNDING_PERMILLE:
            sheet.wrong(
                ("stock", number, "composition"),
                f"adds up to {whole:g} permille",
                "let its parts add up to 1000 permille",
            )


def _currency(code: Any, place: Place, sheet: Sheet) -> None:
    if code and not re.fullmatch(r"[A-Z]{3}", code):
        sheet.wrong(place, f"'{code}' is not a currency", 'write its three capital letters, such as "GBP"')


def _unique(entries: Sequence[Any], place: Place, key: str, sheet: Sheet) -> None:
    """Note each name that an earlier entry has."""
    seen: set[str] = set()
    for number, entry in enumerate(entries):
        name = getattr(entry, key)
        if name and name in seen:
            kind = str(place[-1]).replace("_", " ")
            sheet.wrong((*place, number, key), f"'{name}' is there twice", f"give each {kind} its own {key}")
        seen.add(name)
