"""A store on each kind of database, and what the tests put into it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.store import Store
from tests.databases import (
    database,
    postgresql_ready,
    ready,
    ready_file,
    ready_template,
    server,
    sqlite_ready,
)

__all__ = ["database", "postgresql_ready", "ready", "ready_file", "ready_template", "server", "sqlite_ready"]


@pytest.fixture
def store(ready: str) -> Iterator[Store]:
    made = Store(ready)
    yield made
    made.close()
