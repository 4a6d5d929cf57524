"""Frozen values as plain JSON data: the one way in which anything of Ringwright's becomes JSON."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any

from ringwright.terms.quantity import Estimate, Figure, described

DIGITS = 7
"""Significant digits of a float in a file: finer than any tool of the workshop, coarser than the last bits that
differ between processors."""

BEYOND = 4
"""Decimals that are kept beyond those that matter, so that what is left over near zero does not show."""


def plain(value: Any, about: Figure | None = None) -> Any:
    """Dataclasses as objects, tuples as lists, ``Decimal`` as text, enums by value, days in ISO, floats rounded.

    An :class:`Estimate` is ``{value, plus_minus}``; a float that is no number is null. ``about`` tells how many
    decimals matter. Raises ``TypeError`` for anything else, arrays and meshes above all: a dossier holds figures,
    solids have files of their own.
    """
    if isinstance(value, (tuple, list)):
        return [plain(part, about) for part in value]
    if isinstance(value, dict):
        return {str(plain(key)): plain(part, about) for key, part in value.items()}
    if isinstance(value, frozenset):
        return sorted(plain(part, about) for part in value)
    if isinstance(value, Estimate):
        return {"value": rounded(value.value, about), "plus_minus": rounded(value.plus_minus, about)}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        told = _described(type(value))
        return {one.name: plain(getattr(value, one.name), told.get(one.name)) for one in dataclasses.fields(value)}
    return _single(value, about)


@cache
def _described(kind: Any) -> dict[str, Figure]:
    return described(kind)


def _single(value: Any, about: Figure | None) -> Any:
    if isinstance(value, Enum):
        return _single(value.value, about)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return rounded(value, about)
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, (dt.datetime, dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, dt.timedelta):
        return rounded(value.total_seconds())
    raise TypeError(f"a {type(value).__name__} is no figure")


def rounded(value: float, about: Figure | None = None) -> float | None:
    """The float to :data:`DIGITS` significant digits, and to no more decimals than matter and :data:`BEYOND`.

    None for what is no number; no negative zero.
    """
    if not math.isfinite(value):
        return None
    short = float(f"{float(value):.{DIGITS}g}")
    if about is not None and about.unit:
        short = round(short, about.digits + BEYOND)
    return short + 0.0


def json_bytes(data: Any) -> bytes:
    """Plain data as JSON in UTF-8: the same data give the same bytes."""
    return (json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()
