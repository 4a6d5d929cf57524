"""Databases of both kinds for the tests of the shelf."""

from __future__ import annotations

from tests.databases import database, ready, ready_file, ready_template, server

__all__ = ["database", "ready", "ready_file", "ready_template", "server"]
