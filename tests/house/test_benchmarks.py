"""Benchmarks are rows with a name, a bar, and whether it holds; a bar that is missed stays a row."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import benchmarks
from benchmarks import Bar, Measured

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def _own_register(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(benchmarks, "_REGISTERED", {})
    monkeypatch.setattr(benchmarks, "_load", lambda: None)


def test_a_missed_bar_stays_a_row() -> None:
    calls = []

    @benchmarks.benchmark(Bar("quick", "s", 1.0), Bar("ratio", "", 2.0, at_least=True), Bar("told", "GB/s", None))
    def measure() -> Iterator[Measured]:
        calls.append(1)
        yield Measured("quick", 1.5, "once")
        yield Measured("ratio", 2.5, "once")
        yield Measured("told", 38.0, "once")

    rows = {row.name: row for row in benchmarks.run()}
    assert (rows["quick"].holds, rows["ratio"].holds, rows["told"].holds) == (False, True, None)
    assert len(calls) == 1
    assert [row.name for row in benchmarks.run(["ratio"])] == ["ratio"]


def test_a_name_is_given_once() -> None:
    benchmarks.benchmark(Bar("quick", "s", 1.0))(list)
    with pytest.raises(ValueError, match="two benchmarks are called quick"):
        benchmarks.benchmark(Bar("quick", "s", 1.0))(list)


def test_the_command_lists_and_refuses() -> None:
    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "benchmarks", *arguments]
        return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)

    listed = run("--list")
    assert {"help", "plan-demo", "plan-demo-first", "plan-memory"} <= set(listed.stdout.split())
    refused = run("helpp")
    assert refused.returncode == 2
    assert "no benchmark is called helpp" in refused.stderr
    (row,) = json.loads(run("help", "--json").stdout)
    assert row.keys() == {"name", "value", "unit", "bar", "holds", "how"}
