"""What the tests of the store put into it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import sqlalchemy as sa

from ringwright.store import commissions, dossiers
from ringwright.store.commissions import Text
from ringwright.store.kept import CommissionVersion, DossierKept
from ringwright.terms.remark import Level

NOW = dt.datetime(2027, 1, 2, 3, 4, 5, 678901, tzinfo=dt.UTC)


def later(minutes: int) -> dt.datetime:
    return NOW + dt.timedelta(minutes=minutes)


def add(
    db: sa.Connection, key: str, content: bytes, based_on: int | None = None, *, minutes: int = 0, **more: Any
) -> CommissionVersion:
    text = Text(content=content, **more)
    return commissions.add(db, key, text, based_on=based_on, by="this page", now=later(minutes))


def worked(
    db: sa.Connection, key: str, number: int, workshop: int | None = None, *, minutes: int = 0, **more: Any
) -> DossierKept:
    told: dict[str, Any] = {
        "verdict": Level.HEED,
        "halts": 0,
        "heeds": 1,
        "worst": {"step": "wear", "says": "thin – 0.8 mm"},
        "next_step": "Print the pattern",
        "picture": b"picture",
        "files": {"dossier.json": b"{}", "ring.glb": b"ring", "papers/quote.pdf": b"quote"},
    }
    return dossiers.put(db, key, number, workshop, made_at=later(minutes), **(told | more))
