"""Databases of both kinds for the tests of the shelf."""

from __future__ import annotations

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
