"""The workshop and its versions."""

from __future__ import annotations

import datetime as dt
from typing import Any

import sqlalchemy as sa

from ringwright.store.kept import Conflict, Version
from ringwright.store.tables import workshop_version


def version(db: sa.Connection, number: int | None = None) -> Version | None:
    """A version of the workshop, the newest where no number is given; None where there is none."""
    wanted = sa.select(workshop_version).order_by(workshop_version.c.number.desc()).limit(1)
    if number is not None:
        wanted = wanted.where(workshop_version.c.number == number)
    row = db.execute(wanted).first()
    return None if row is None else _version(row)


def versions(db: sa.Connection) -> tuple[Version, ...]:
    """All versions, the newest first."""
    rows = db.execute(sa.select(workshop_version).order_by(workshop_version.c.number.desc()))
    return tuple(_version(row) for row in rows)


def add(
    db: sa.Connection,
    content: bytes,
    *,
    based_on: int | None,
    by: str,
    now: dt.datetime,
    mistakes: tuple[str, ...] = (),
    must_be_newest: bool = True,
) -> Version:
    """Save a text as the next version; the same content again is no new version.

    Raises :class:`Conflict` where another version was saved since ``based_on``, unless it need not be the newest.
    """
    head = version(db)
    if head is not None:
        if must_be_newest and based_on != head.number:
            raise Conflict("the workshop", based_on, head)
        if head.content == content:
            return head
    number = head.number + 1 if head else 1
    write(db, Version(number=number, based_on=based_on, saved_at=now, by=by, content=content, mistakes=mistakes))
    found = version(db, number)
    assert found is not None
    return found


def write(db: sa.Connection, told: Version) -> None:
    """Write one version as it is told."""
    row = {
        "number": told.number,
        "based_on": told.based_on,
        "saved_at": told.saved_at,
        "saved_by": told.by,
        "content": told.content,
        "mistakes": list(told.mistakes),
    }
    db.execute(sa.insert(workshop_version), row)


def _version(row: Any) -> Version:
    return Version(
        number=row.number,
        based_on=row.based_on,
        saved_at=row.saved_at,
        by=row.saved_by,
        content=bytes(row.content),
        mistakes=tuple(row.mistakes),
    )
