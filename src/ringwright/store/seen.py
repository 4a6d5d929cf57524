"""What files looked like when they were last read: only what changed since is read again.

Nothing is lost when these rows are: every file is then read once more.
"""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from ringwright.store.tables import seen


@dataclass(frozen=True)
class Look:
    """A file's size, its time of change, when it was looked at (ns), and the hash of what stood in it."""

    size: int
    changed_ns: int
    looked_ns: int
    digest: str


def looks(db: sa.Connection, folder: str) -> dict[str, Look]:
    """All files that were looked at in a folder."""
    rows = db.execute(sa.select(seen).where(seen.c.folder == folder))
    return {row.path: Look(row.size, row.changed_ns, row.looked_ns, row.digest) for row in rows}


def note(db: sa.Connection, folder: str, path: str, look: Look) -> None:
    """Note how a file looks now."""
    db.execute(sa.delete(seen).where(seen.c.folder == folder, seen.c.path == path))
    row = {
        "folder": folder,
        "path": path,
        "size": look.size,
        "changed_ns": look.changed_ns,
        "looked_ns": look.looked_ns,
        "digest": look.digest,
    }
    db.execute(sa.insert(seen), row)


def forget(db: sa.Connection, folder: str, path: str) -> None:
    """Forget a file that is gone."""
    db.execute(sa.delete(seen).where(seen.c.folder == folder, seen.c.path == path))
