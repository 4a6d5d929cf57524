"""When to light the kiln."""

from __future__ import annotations

import datetime as dt

from ringwright.terms.mistake import bad


def light_at(pour_at: dt.datetime, total_h: float) -> dt.datetime:
    """The moment to light the kiln so that the flask is ready at ``pour_at``.

    Where ``pour_at`` knows its time zone, the hours are counted as they pass, also when the clocks change.
    Raises :class:`BadInput` for hours that are not positive.
    """
    if not 0 < total_h < float("inf"):
        raise bad("total_h", f"a burnout of {total_h:g} h", "give the programme's hours, above zero")
    span = dt.timedelta(hours=total_h)
    if pour_at.tzinfo is None:
        return pour_at - span
    return (pour_at.astimezone(dt.UTC) - span).astimezone(pour_at.tzinfo)
