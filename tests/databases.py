"""Fresh databases for tests: SQLite in a file, and a real PostgreSQL server that is started for the session.

A test that takes ``database`` (empty) or ``ready`` (in today's form) runs on both. Where no server is installed those
on PostgreSQL are skipped, but not where RINGWRIGHT_CI says that everything must run.
"""

from __future__ import annotations

import getpass
import itertools
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

import pytest
import sqlalchemy as sa

from ringwright.store import Store, sqlite_url

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[4]))


def _server_user() -> str | None:
    """Who runs the server: root may not. None where this user does."""
    return "postgres" if os.name == "posix" and os.geteuid() == 0 else None


def _run(*command: str) -> None:
    user = _server_user()
    before = ["runuser", "-u", user, "--"] if user else []
    done = subprocess.run([*before, *command], capture_output=True, text=True, check=False, cwd="/")
    if done.returncode:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stdout}{done.stderr}")


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """A server of this session's own, on a socket in a folder of its own; the URL of its first database."""
    if not PROGRAMS:
        if os.environ.get("RINGWRIGHT_CI"):
            pytest.fail("no PostgreSQL server is installed, and RINGWRIGHT_CI says that everything must run")
        pytest.skip("no PostgreSQL server is installed (apt install postgresql)")
    programs = PROGRAMS[-1].parent
    folder = Path(tempfile.mkdtemp(prefix="rw-pg-"))
    user = _server_user()
    if user:
        shutil.chown(folder, user)
    try:
        data = str(folder / "data")
        _run(str(programs / "initdb"), "-D", data, "-A", "trust", "-N", "-E", "UTF8", "--locale=C.UTF-8")
        # A test server need not outlive the machine; what a killed client leaves is the same without fsync.
        settings = f"-F -k {folder} -c listen_addresses='' -c max_connections=60 -c shared_buffers=16MB"
        _run(str(programs / "pg_ctl"), "-D", data, "-o", settings, "-l", str(folder / "log"), "-w", "-s", "start")
        try:
            name = user or getpass.getuser()
            yield f"postgresql+psycopg://{name}@/postgres?host={quote(str(folder), safe='')}"
        finally:
            _run(str(programs / "pg_ctl"), "-D", data, "-m", "immediate", "-w", "-s", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.fixture(params=KINDS)
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The URL of an empty database, once of each kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite'}"
    else:
        with _database(request.getfixturevalue("server"), "template0") as url:
            yield url


@pytest.fixture(params=KINDS)
def ready(request: pytest.FixtureRequest) -> str:
    """The URL of a database in today's form with nothing in it, once of each kind."""
    url: str = request.getfixturevalue(f"{request.param}_ready")
    return url


@pytest.fixture
def sqlite_ready(ready_file: Path, tmp_path: Path) -> str:
    """A SQLite file in today's form with nothing in it."""
    shutil.copyfile(ready_file, tmp_path / "shelf.sqlite")
    return f"sqlite:///{tmp_path / 'shelf.sqlite'}"


@pytest.fixture
def postgresql_ready(ready_template: tuple[str, str]) -> Iterator[str]:
    """A database of the server in today's form with nothing in it."""
    with _database(*ready_template) as url:
        yield url


@pytest.fixture(scope="session")
def ready_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file in today's form, to be copied."""
    file = tmp_path_factory.mktemp("ready") / "ready.sqlite"
    Store(sqlite_url(file)).close()
    return file


@pytest.fixture(scope="session")
def ready_template(server: str) -> Iterator[tuple[str, str]]:
    """The server, and the name of a database in today's form, to be copied."""
    with _database(server, "template0") as url:
        Store(url).close()
        name = sa.make_url(url).database
        assert name is not None
        yield server, name


_COUNT = itertools.count(1)


@contextmanager
def _database(server: str, template: str) -> Iterator[str]:
    name = f"t{next(_COUNT)}"
    engine = sa.create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as db:
        db.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE {template}")
    try:
        yield sa.make_url(server).set(database=name).render_as_string(hide_password=False)
    finally:
        with engine.connect() as db:
            db.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
        engine.dispose()
