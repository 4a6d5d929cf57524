"""Dossiers: what the making of a version, in a version of the workshop, yielded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa

from ringwright.store import blobs
from ringwright.store.kept import DossierKept
from ringwright.store.tables import blob, commission, commission_version, dossier, dossier_file
from ringwright.terms.remark import Level

WHOLE = 2
"""So many dossiers of a commission, the newest ones, keep their solids; older ones keep their papers and figures."""

SOLIDS = (".glb", ".stl", ".3mf")
"""Files that are large and that the same making writes again, byte for byte."""


def put(
    db: sa.Connection,
    key: str,
    number: int,
    workshop: int | None,
    files: Mapping[str, bytes],
    *,
    made_at: dt.datetime,
    verdict: Level,
    halts: int,
    heeds: int,
    worst: dict[str, Any] | None,
    next_step: str,
    picture: bytes | None,
) -> DossierKept:
    """Keep a dossier in the place of a former one of the same versions. ``KeyError`` where there is no such version."""
    joined = commission.join(commission_version, commission_version.c.commission_id == commission.c.id)
    ident = db.execute(
        sa.select(commission.c.id)
        .select_from(joined)
        .where(commission.c.key == key, commission_version.c.number == number)
    ).scalar()
    if ident is None:
        raise KeyError(f"{key} version {number}")
    same = (dossier.c.commission_id == ident, dossier.c.number == number, dossier.c.workshop == (workshop or 0))
    db.execute(sa.delete(dossier).where(*same))
    row = {
        "commission_id": ident,
        "number": number,
        "workshop": workshop or 0,
        "made_at": made_at,
        "verdict": verdict.value,
        "halts": halts,
        "heeds": heeds,
        "worst": worst,
        "next_step": next_step,
        "picture": None if picture is None else blobs.put(db, picture, made_at),
    }
    made = db.execute(sa.insert(dossier), row)
    (own,) = made.inserted_primary_key or (0,)
    for name, data in files.items():
        db.execute(sa.insert(dossier_file).values(dossier_id=own, name=name, digest=blobs.put(db, data, made_at)))
    _thin(db, ident)
    put_there = db.execute(_dossiers.where(dossier.c.id == own)).one()
    return kept_of(put_there, key, files=_files(db, own))


def newest(db: sa.Connection, key: str, number: int | None = None) -> DossierKept | None:
    """The last dossier of a version, or of the newest version that has one; None where there is none."""
    wanted = _dossiers.where(commission.c.key == key)
    if number is not None:
        wanted = wanted.where(dossier.c.number == number)
    row = db.execute(wanted.limit(1)).first()
    if row is None:
        return None
    return kept_of(row, key, files=_files(db, row.id))


def _files(db: sa.Connection, ident: int) -> tuple[tuple[str, int], ...]:
    """Name and size of each file of a dossier."""
    rows = db.execute(
        sa.select(dossier_file.c.name, blob.c.size)
        .join(blob, blob.c.digest == dossier_file.c.digest)
        .where(dossier_file.c.dossier_id == ident)
        .order_by(dossier_file.c.name)
    )
    return tuple((name, size) for name, size in rows)


def all_of(db: sa.Connection, key: str) -> tuple[tuple[DossierKept, dict[str, str]], ...]:
    """Every dossier of a commission, the oldest version first, each with the hashes of its files by name."""
    wanted = _dossiers.where(commission.c.key == key).order_by(None)
    rows = db.execute(wanted.order_by(dossier.c.number, dossier.c.made_at, dossier.c.id)).all()
    found = []
    for row in rows:
        wanted_files = sa.select(dossier_file.c.name, dossier_file.c.digest).where(dossier_file.c.dossier_id == row.id)
        names = db.execute(wanted_files.order_by(dossier_file.c.name)).all()
        found.append((kept_of(row, key), {one.name: one.digest for one in names}))
    return tuple(found)


def file_digest(db: sa.Connection, key: str, name: str, number: int | None = None) -> str | None:
    """The hash of one file of the dossier that :func:`newest` tells; None where there is none."""
    wanted = _dossiers.where(commission.c.key == key)
    if number is not None:
        wanted = wanted.where(dossier.c.number == number)
    own = wanted.limit(1).with_only_columns(dossier.c.id).scalar_subquery()
    return db.execute(
        sa.select(dossier_file.c.digest).where(dossier_file.c.dossier_id == own, dossier_file.c.name == name)
    ).scalar()


def kept_of(row: Any, key: str, prefix: str = "", files: tuple[tuple[str, int], ...] = ()) -> DossierKept:
    """A row of the table, its columns named with a prefix, as a value."""
    told = {name.removeprefix(prefix): value for name, value in row._mapping.items() if name.startswith(prefix)}
    return DossierKept(
        key=key,
        version=told["number"],
        workshop=told["workshop"] or None,
        made_at=told["made_at"],
        verdict=Level(told["verdict"]),
        halts=told["halts"],
        heeds=told["heeds"],
        worst=told["worst"],
        next_step=told["next_step"],
        picture=told["picture"],
        files=files,
    )


_dossiers = (
    sa.select(dossier)
    .join(commission, commission.c.id == dossier.c.commission_id)
    .order_by(dossier.c.number.desc(), dossier.c.made_at.desc(), dossier.c.id.desc())
)


def _thin(db: sa.Connection, ident: int) -> None:
    """Leave the solids out of all but the newest dossiers of a commission."""
    old = (
        sa.select(dossier.c.id)
        .where(dossier.c.commission_id == ident)
        .order_by(dossier.c.number.desc(), dossier.c.made_at.desc(), dossier.c.id.desc())
        .offset(WHOLE)
    )
    idents = list(db.execute(old).scalars())
    if idents:
        solid = sa.or_(*(dossier_file.c.name.like(f"%{suffix}") for suffix in SOLIDS))
        db.execute(sa.delete(dossier_file).where(dossier_file.c.dossier_id.in_(idents), solid))
