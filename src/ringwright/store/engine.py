"""The database itself: opened durably, brought to today's form, read and written in whole transactions.

Writes follow one another: on SQLite by ``BEGIN IMMEDIATE``, on PostgreSQL by a lock that a transaction holds. What is
decided within one therefore still holds when it is written; reads never wait for writes.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from ringwright.terms.mistake import BadInput, bad

NEWEST = "0002"
"""The newest step of the migrations; a database at this step is opened without loading Alembic."""

WAIT_S = 10
"""A write waits so long for another one, then says so."""

_WRITES = "ringwright_writes"
_TURN = 7_261_018_457_330_091
"""The number of the lock by which writes on PostgreSQL follow one another."""


class Store:
    """An open database. Safe to use from several threads and, on either database, from several processes."""

    def __init__(self, url: str) -> None:
        self.url = url
        self._engine = _engine(url)
        self._changes = self._engine.execution_options(**{_WRITES: True})
        try:
            self._bring_up()
        except BaseException:
            self.close()
            raise

    @property
    def shown(self) -> str:
        """The database's place as a person may see it: a file, or an address without its password."""
        url = self._engine.url
        return url.database or "" if _is_sqlite(self._engine) else url.render_as_string(hide_password=True)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection that sees one state of the database. Raises ``BadInput`` where it cannot be read."""
        with self._told(), self._engine.connect() as db:
            yield db

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A connection whose changes are all kept, on the disk, or none is. ``BadInput`` where it cannot be written."""
        with self._told(), self._changes.begin() as db:
            yield db

    def close(self) -> None:
        """End all connections."""
        self._engine.dispose()

    def _bring_up(self) -> None:
        with self.reading() as db:
            step = _step(db)
        if step == NEWEST:
            return
        with self.writing() as db:
            if _step(db) != NEWEST:
                _migrate(db, self.shown)

    @contextmanager
    def _told(self) -> Iterator[None]:
        """The database's own faults in plain words; a fault of Ringwright's (a broken rule of a table) stays one."""
        try:
            yield
        except sa.exc.IntegrityError:
            raise
        except DBAPIError as fault:
            raise _plain_fault(fault, self.shown) from fault


def sqlite_url(file: Path) -> str:
    """The URL of a database in a file; the file is made, readable by its owner alone, where it is missing."""
    try:
        os.close(os.open(file, os.O_RDWR | os.O_CREAT, 0o600))
    except OSError as fault:
        raise bad(str(file), f"cannot be written ({fault.strerror})", "name a folder that you may write in") from fault
    return sa.URL.create("sqlite", database=str(file)).render_as_string()


def _engine(url: str) -> sa.Engine:
    try:
        made = sa.make_url(url)
        engine = sa.create_engine(made, pool_pre_ping=made.get_backend_name() != "sqlite")
    except (ArgumentError, NoSuchModuleError, ImportError) as fault:
        raise _no_database(fault) from fault
    if engine.dialect.name not in ("sqlite", "postgresql"):
        engine.dispose()
        raise _no_database(engine.dialect.name)
    if _is_sqlite(engine):
        sa.event.listen(engine, "connect", _sqlite_opened)
    sa.event.listen(engine, "begin", _began)
    return engine


def _no_database(why: object) -> BadInput:
    told = "the driver for it is not installed" if isinstance(why, ImportError) else "is no database that can be used"
    return bad("database", told, "write postgresql+psycopg://user@host/name (with the 'postgres' extra), or a folder")


def _is_sqlite(engine: sa.Engine) -> bool:
    return engine.dialect.name == "sqlite"


def _sqlite_opened(connection: Any, _record: Any) -> None:
    """Whole transactions that are on the disk when they end, and none begun by the driver itself."""
    connection.isolation_level = None
    for said in (
        f"busy_timeout = {WAIT_S * 1000}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "fullfsync = ON",
        "foreign_keys = ON",
        "journal_size_limit = 67108864",
    ):
        connection.execute(f"PRAGMA {said}").close()


def _began(db: sa.Connection) -> None:
    writes = db.get_execution_options().get(_WRITES, False)
    if db.dialect.name == "sqlite":
        db.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
    elif writes:
        db.exec_driver_sql(f"SET LOCAL lock_timeout = '{WAIT_S}s'")
        db.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_TURN})")
    else:
        db.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def _step(db: sa.Connection) -> str | None:
    """The step of the migrations at which the database is; None where it is empty."""
    if not sa.inspect(db).has_table("alembic_version"):
        return None
    found = db.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    return None if found is None else str(found)


def _migrate(db: sa.Connection, shown: str) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.util.exc import CommandError

    config = Config()
    config.set_main_option("script_location", "ringwright.store:migrations")
    config.attributes["connection"] = db
    try:
        command.upgrade(config, NEWEST)
    except CommandError as fault:
        raise bad(shown, "was written by a newer Ringwright", "use that one, or another folder") from fault


def _plain_fault(fault: DBAPIError, shown: str) -> BadInput:
    said = " ".join(str(fault.orig).split())
    if "not a database" in said or "malformed" in said:
        return bad(shown, "is no database, or a damaged one", "put a copy of it back, or take it out of the folder")
    if "locked" in said or "lock timeout" in said:
        return bad(shown, f"another program has been writing to it for {WAIT_S} s", "end that program, then try again")
    if "readonly" in said or "read-only" in said:
        return bad(shown, "cannot be written", "mend its permissions")
    if "full" in said:
        return bad(shown, "the disk is full; nothing was saved", "make room on it")
    return bad(shown, f"the database answers: {said}", "see that it runs and that you may use it")
