"""Commissions and their versions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from ringwright.store.dossiers import kept_of
from ringwright.store.kept import Card, CommissionVersion, Conflict, ModelKept, State
from ringwright.store.tables import blob, commission, commission_version, dossier, workshop_version


@dataclass(frozen=True, kw_only=True)
class Text:
    """A commission's text as it is to be saved, and what its head says."""

    content: bytes
    order_number: str = ""
    title: str = ""
    due: dt.date | None = None
    mistakes: tuple[str, ...] = ()
    model_digest: str | None = None
    model_name: str | None = None
    log_digest: str | None = None
    log_name: str | None = None


def version(db: sa.Connection, key: str, number: int | None = None) -> CommissionVersion | None:
    """A version of a commission, the newest where no number is given; None where there is none."""
    which = commission.c.head if number is None else number
    row = db.execute(_versions.where(commission.c.key == key, commission_version.c.number == which)).first()
    return None if row is None else _version(row)


def versions(db: sa.Connection, key: str) -> tuple[CommissionVersion, ...]:
    """All versions of a commission, the newest first."""
    rows = db.execute(_versions.where(commission.c.key == key).order_by(commission_version.c.number.desc()))
    return tuple(_version(row) for row in rows)


def heads(db: sa.Connection) -> Iterator[CommissionVersion]:
    """The newest version of every commission."""
    rows = db.execute(_versions.where(commission_version.c.number == commission.c.head).order_by(commission.c.key))
    return (_version(row) for row in rows)


def add(
    db: sa.Connection,
    key: str,
    text: Text,
    *,
    based_on: int | None,
    by: str,
    now: dt.datetime,
    must_be_newest: bool = True,
) -> CommissionVersion:
    """Save a text as the next version; the same content, model and log again is no new version.

    ``based_on`` None begins a commission. Raises :class:`Conflict` where another version was saved since that one,
    unless it need not be the newest: what was found in a file is a version of its own, whatever it began from.
    """
    head = version(db, key)
    if head is None:
        if based_on is not None:
            raise KeyError(key)
        ident = begin(db, key, State.OPEN, 1)
        number = 1
    else:
        if must_be_newest and based_on != head.number:
            raise Conflict(f"commission '{key}'", based_on, head)
        same = tuple(kept.digest if kept else None for kept in (head.model, head.log))
        if head.content == text.content and same == (text.model_digest, text.log_digest):
            return head
        number = head.number + 1
        ident = db.execute(sa.select(commission.c.id).where(commission.c.key == key)).scalar_one()
        db.execute(sa.update(commission).where(commission.c.id == ident).values(head=number))
    write(db, ident, number, text, based_on=based_on, by=by, at=now)
    found = version(db, key)
    assert found is not None
    return found


def write(
    db: sa.Connection, ident: int, number: int, text: Text, *, based_on: int | None, by: str, at: dt.datetime
) -> None:
    """Write one version as it is told."""
    row = {
        "commission_id": ident,
        "number": number,
        "based_on": based_on,
        "saved_at": at,
        "saved_by": by,
        "content": text.content,
        "order_number": text.order_number,
        "title": text.title,
        "due": text.due,
        "mistakes": list(text.mistakes),
        "model_digest": text.model_digest,
        "model_name": text.model_name,
        "log_digest": text.log_digest,
        "log_name": text.log_name,
    }
    db.execute(sa.insert(commission_version), row)


def begin(db: sa.Connection, key: str, state: State, head: int) -> int:
    """A commission as it is told, without versions; its number in the table."""
    made = db.execute(sa.insert(commission).values(key=key, state=state.value, head=head))
    (ident,) = made.inserted_primary_key or (0,)
    return int(ident)


def set_state(db: sa.Connection, key: str, state: State) -> None:
    """Where a commission stands. Raises ``KeyError`` where there is none of that key."""
    changed = db.execute(sa.update(commission).where(commission.c.key == key).values(state=state.value))
    if not changed.rowcount:
        raise KeyError(key)


def cards(db: sa.Connection, states: Sequence[State]) -> tuple[Card, ...]:
    """One card for each commission in one of these states, the first promised first; one query."""
    rows = db.execute(_cards.where(commission.c.state.in_([state.value for state in states])))
    found = [_card(row) for row in rows]
    return tuple(sorted(found, key=lambda card: (card.due or dt.date.max, card.order_number, card.key)))


_log = blob.alias()
_versions = sa.select(
    commission.c.key,
    commission.c.state,
    commission.c.head,
    commission_version,
    blob.c.size.label("model_size"),
    _log.c.size.label("log_size"),
).select_from(
    commission.join(commission_version, commission_version.c.commission_id == commission.c.id)
    .outerjoin(blob, blob.c.digest == commission_version.c.model_digest)
    .outerjoin(_log, _log.c.digest == commission_version.c.log_digest)
)

_any_dossier = dossier.alias()
_newest_dossier = (
    sa.select(_any_dossier.c.id)
    .where(_any_dossier.c.commission_id == commission.c.id)
    .order_by(_any_dossier.c.number.desc(), _any_dossier.c.made_at.desc(), _any_dossier.c.id.desc())
    .limit(1)
    .correlate(commission)
    .scalar_subquery()
)

_cards = sa.select(
    commission.c.key,
    commission.c.state,
    commission.c.head,
    commission_version.c.saved_at,
    commission_version.c.order_number,
    commission_version.c.title,
    commission_version.c.due,
    commission_version.c.mistakes,
    *(column.label(f"d_{column.name}") for column in dossier.c),
    sa.select(sa.func.max(workshop_version.c.number)).scalar_subquery().label("workshop_head"),
).select_from(
    commission.join(
        commission_version,
        sa.and_(
            commission_version.c.commission_id == commission.c.id,
            commission_version.c.number == commission.c.head,
        ),
    ).outerjoin(dossier, dossier.c.id == _newest_dossier)
)


def _version(row: Any) -> CommissionVersion:
    model = None
    if row.model_digest is not None:
        model = ModelKept(digest=row.model_digest, size=row.model_size, name=row.model_name or "")
    log = None
    if row.log_digest is not None:
        log = ModelKept(digest=row.log_digest, size=row.log_size, name=row.log_name or "")
    return CommissionVersion(
        key=row.key,
        state=State(row.state),
        head=row.head,
        number=row.number,
        based_on=row.based_on,
        saved_at=row.saved_at,
        by=row.saved_by,
        content=bytes(row.content),
        mistakes=tuple(row.mistakes),
        title=row.title,
        order_number=row.order_number,
        due=row.due,
        model_file=row.model_name,
        model=model,
        log_file=row.log_name,
        log=log,
    )


def _card(row: Any) -> Card:
    found = kept_of(row, row.key, "d_") if row.d_id is not None else None
    if found is None:
        stale = "not worked through yet"
    elif found.version != row.head:
        stale = "the brief was changed since it was worked through"
    elif found.workshop != row.workshop_head:
        stale = "the workshop was changed since it was worked through"
    else:
        stale = ""
    return Card(
        key=row.key,
        state=State(row.state),
        version=row.head,
        saved_at=row.saved_at,
        order_number=row.order_number,
        title=row.title,
        due=row.due,
        mistakes=tuple(row.mistakes),
        dossier=found,
        stale=stale,
    )
