"""Frozen values as plain JSON data: the one way in which anything of Ringwright's becomes JSON."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
from decimal import Decimal
from enum import Enum
from typing import Any

from ringwright.terms.quantity import Estimate

DIGITS = 7
"""Significant digits of a float in a file: finer than any tool of the workshop, coarser than the last bits that
differ between processors."""


def plain(value: Any) -> Any:
    """Dataclasses as objects, tuples as lists, ``Decimal`` as text, enums by value, days in ISO, floats rounded.

    An :class:`Estimate` is ``{value, plus_minus}``; a float that is no number is null. Raises ``TypeError`` for
    anything else, arrays and meshes above all: a dossier holds figures, solids have files of their own.
    """
    if isinstance(value, (tuple, list)):
        return [plain(part) for part in value]
    if isinstance(value, dict):
        return {str(plain(key)): plain(part) for key, part in value.items()}
    if isinstance(value, frozenset):
        return sorted(plain(part) for part in value)
    if isinstance(value, Estimate):
        return {"value": rounded(value.value), "plus_minus": rounded(value.plus_minus)}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in dataclasses.fields(value)}
    return _single(value)


def _single(value: Any) -> Any:
    if isinstance(value, Enum):
        return _single(value.value)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return rounded(value)
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, (dt.datetime, dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, dt.timedelta):
        return rounded(value.total_seconds())
    raise TypeError(f"a {type(value).__name__} is no figure")


def rounded(value: float) -> float | None:
    """The float to :data:`DIGITS` significant digits; None for what is no number; no negative zero."""
    if not math.isfinite(value):
        return None
    return float(f"{float(value):.{DIGITS}g}") + 0.0


def json_bytes(data: Any) -> bytes:
    """Plain data as JSON in UTF-8: the same data give the same bytes."""
    return (json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()
