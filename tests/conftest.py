"""What all tests share: one core for compiled code, and the page "checked against the world"."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.agrees import CHECKS

ROOT = Path(__file__).parent.parent
WORLD = ROOT / "docs" / "checked-against-the-world.md"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--write-world", action="store_true", help="print docs/checked-against-the-world.md anew")


def pytest_sessionfinish(session: pytest.Session) -> None:
    if not session.config.getoption("--write-world") or not CHECKS:
        return
    lines = [
        "# Checked against the world",
        "",
        "Printed by `pytest --write-world` from the calls of `agrees` in the tests: every figure of Ringwright's that",
        "a test compares with one from outside the project.",
        "",
        "| what | ours | outside | allowed | source | test |",
        "|---|---|---|---|---|---|",
    ]
    seen = set()
    for c in CHECKS:
        line = (
            f"| {c.what} | {c.ours:.6g} | {c.published:.6g} | ±{c.within:.2g} | {c.source} "
            f"| `{c.test.removeprefix('tests/')}` |"
        )
        if line not in seen:
            seen.add(line)
            lines.append(line)
    WORLD.write_text("\n".join(lines) + "\n", encoding="utf-8")
