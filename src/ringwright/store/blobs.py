"""Contents by their hash: models, pictures, the files of dossiers. What is the same is kept once.

They stand in the database, cut in parts: so one file (or one server) holds everything, a transaction holds for them
too, and no content is ever in memory twice.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import zlib
from collections.abc import Iterator

import sqlalchemy as sa

from ringwright.store.tables import blob, blob_part, commission_version, dossier, dossier_file

PART_BYTES = 1 << 20
_WORTH_PACKING = 0.9
"""A part is kept compressed where that makes it smaller than this share."""


def digest_of(data: bytes) -> str:
    """The hash by which a content is known."""
    return hashlib.sha256(data).hexdigest()


def put(db: sa.Connection, data: bytes, now: dt.datetime) -> str:
    """Keep a content; its hash. What is there already only becomes young again."""
    digest = digest_of(data)
    known = db.execute(sa.update(blob).where(blob.c.digest == digest).values(kept_at=now))
    if known.rowcount:
        return digest
    db.execute(sa.insert(blob).values(digest=digest, size=len(data), kept_at=now))
    whole = memoryview(data)
    for number, start in enumerate(range(0, len(data), PART_BYTES)):
        part = bytes(whole[start : start + PART_BYTES])
        packed = zlib.compress(part, 1)
        smaller = len(packed) < _WORTH_PACKING * len(part)
        row = {"digest": digest, "number": number, "packed": smaller, "data": packed if smaller else part}
        db.execute(sa.insert(blob_part), row)
    return digest


def parts(db: sa.Connection, digest: str) -> Iterator[bytes]:
    """A content in parts; nothing where there is none of that hash."""
    number = 0
    wanted = sa.select(blob_part.c.packed, blob_part.c.data).where(blob_part.c.digest == digest)
    while (row := db.execute(wanted.where(blob_part.c.number == number)).first()) is not None:
        yield zlib.decompress(row.data) if row.packed else bytes(row.data)
        number += 1


def get(db: sa.Connection, digest: str) -> bytes:
    """A content; ``KeyError`` where there is none of that hash."""
    if size(db, digest) is None:
        raise KeyError(digest)
    return b"".join(parts(db, digest))


def size(db: sa.Connection, digest: str) -> int | None:
    """How many bytes a content has; None where there is none of that hash."""
    return db.execute(sa.select(blob.c.size).where(blob.c.digest == digest)).scalar()


def unused(db: sa.Connection, before: dt.datetime) -> bool:
    """Whether there is anything that nothing refers to and nobody kept since ``before``."""
    return db.execute(sa.select(blob.c.digest).where(_unused(before)).limit(1)).first() is not None


def sweep(db: sa.Connection, before: dt.datetime) -> int:
    """Remove what nothing refers to and nobody kept since ``before``; how many there were."""
    return db.execute(sa.delete(blob).where(_unused(before))).rowcount


def _unused(before: dt.datetime) -> sa.ColumnElement[bool]:
    used = [
        sa.exists().where(commission_version.c.model_digest == blob.c.digest),
        sa.exists().where(commission_version.c.log_digest == blob.c.digest),
        sa.exists().where(dossier.c.picture == blob.c.digest),
        sa.exists().where(dossier_file.c.digest == blob.c.digest),
    ]
    return sa.and_(blob.c.kept_at < before, sa.not_(sa.or_(*used)))
