"""From files to a dossier: mistakes of all files at once, the folder before the work, an interrupted run harmless."""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk import planning
from ringwright.desk.planning import Ordered, dossier_folder, plan
from ringwright.terms.mistake import BadInput, ComputingFault, Stopped, bad
from ringwright.terms.progress import Keep, Progress
from tests.desk.texts import COMMISSION, WORKSHOP
from tests.papers.makings import MAKING

NOW = dt.datetime(2027, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
WITH_MODEL = COMMISSION.replace('[starter]\nshape = "solitaire"\nclaws = 4', '[model]\nfile = "parts/a.stl"')


@pytest.fixture
def order(tmp_path: Path) -> Path:
    path = tmp_path / "ring.commission.toml"
    path.write_text(COMMISSION, "utf-8")
    (tmp_path / "workshop.toml").write_text(WORKSHOP, "utf-8")
    return path


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> list[Ordered]:
    """The making is given, not worked; the orders that came are listed."""
    seen: list[Ordered] = []

    def given(ordered: Ordered, facts: Any, today: dt.date, keep: Keep, progress: Progress, aside: Any) -> Any:
        progress(0.5, "working")
        seen.append(ordered)
        return MAKING

    monkeypatch.setattr(planning, "_work", given)
    return seen


def mistakes(order: Path, **more: Any) -> list[str]:
    with pytest.raises(BadInput) as fault:
        plan(order, now=NOW, **more)
    return [str(mistake) for mistake in fault.value.mistakes]


def content(folder: Path) -> dict[str, bytes]:
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def test_a_commission_becomes_a_dossier_beside_it(order: Path, work: list[Ordered]) -> None:
    done = plan(order, now=NOW)
    assert done.folder == order.parent / "ring.dossier" == dossier_folder(order)
    assert sorted(content(done.folder)) == list(done.files)
    data = json.loads((done.folder / "dossier.json").read_bytes())
    assert data["made_at"] == "2027-01-02T03:04:05+00:00"
    assert data["verdict"] == done.verdict.value == "heed"
    assert work[0].model is None


def test_the_same_input_gives_the_same_bytes(order: Path, work: list[Ordered]) -> None:
    one = content(plan(order, now=NOW).folder)
    assert content(plan(order, out=order.parent / "other", now=NOW).folder) == one


def test_the_model_is_read_beside_the_commission(order: Path, work: list[Ordered]) -> None:
    order.write_text(WITH_MODEL, "utf-8")
    (order.parent / "parts").mkdir()
    (order.parent / "parts" / "a.stl").write_bytes(b"solid")
    plan(order, now=NOW)
    assert work[0].model == b"solid"


def test_mistakes_of_all_files_are_told_at_once(order: Path, work: list[Ordered]) -> None:
    order.write_text(WITH_MODEL.replace("due = 2027-04-30", "due = 2026-12-31"), "utf-8")
    (order.parent / "workshop.toml").write_text(WORKSHOP.replace('"45.00"', '"-45.00"'), "utf-8")
    one, two = mistakes(order)
    assert one.startswith(
        "ring.commission.toml:7: commission.due: the promised day 2026-12-31 is past; write 2027-01-02"
    )
    assert two.startswith("workshop.toml:4: shop.hour_rate: ")
    order.write_text(WITH_MODEL.replace('"GBP"', '"USD"'), "utf-8")
    (order.parent / "workshop.toml").write_text(WORKSHOP, "utf-8")
    one, two = mistakes(order)
    assert "model.file: there is no file" in one
    assert one.startswith(f"ring.commission.toml:{WITH_MODEL.splitlines().index('[model]') + 2}: ")
    assert "the commission is in USD, the workshop's prices are in GBP" in two
    assert not work


def test_a_workshop_is_needed(order: Path) -> None:
    (order.parent / "workshop.toml").unlink()
    (one,) = mistakes(order)
    assert "there is no workshop; name one with --workshop" in one
    (one,) = mistakes(order, workshop=order.parent / "w.toml")
    assert "there is no such file" in one


def test_a_mistake_that_a_step_finds_is_told_with_its_line(order: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any) -> Any:
        raise bad("metal.alloy", "no alloy is called '18k-3n'", "did you mean '18k-2n'?")

    monkeypatch.setattr(planning, "_work", refuse)
    line = COMMISSION.splitlines().index('alloy = "18k-3n"') + 1
    assert mistakes(order) == [
        f"ring.commission.toml:{line}: metal.alloy: no alloy is called '18k-3n'; did you mean '18k-2n'?"
    ]


def test_a_folder_that_cannot_be_written_is_told_before_the_work(order: Path, work: list[Ordered]) -> None:
    (order.parent / "file").write_text("")
    (one,) = mistakes(order, out=order.parent / "file" / "dossier")
    assert "the folder cannot be written" in one
    assert not work


@pytest.mark.parametrize("fault", [ComputingFault("no convergence"), Stopped(), KeyboardInterrupt(), MemoryError()])
def test_a_fault_leaves_the_former_dossier(
    order: Path, work: list[Ordered], monkeypatch: pytest.MonkeyPatch, fault: BaseException
) -> None:
    folder = plan(order, now=NOW).folder
    before = content(folder)

    def fail(*_: Any) -> Any:
        raise fault

    monkeypatch.setattr(planning, "_work", fail)
    with pytest.raises(type(fault)):
        plan(order, now=NOW.replace(year=2026))
    assert content(folder) == before
    assert {path.name for path in order.parent.iterdir()} == {"ring.commission.toml", "workshop.toml", "ring.dossier"}


SLOW = """
import sys, time
from ringwright.desk import planning
from tests.papers.makings import MAKING

def work(ordered, facts, today, keep, progress, aside):
    progress(0.1, "working")
    if "--slow" in sys.argv:
        print("in the middle", flush=True)
        time.sleep(60)
    return MAKING

planning._work = work
from ringwright.cli import run
sys.exit(run([argument for argument in sys.argv[1:] if argument != "--slow"]))
"""


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT, signal.SIGTERM])
def test_a_run_that_is_killed_in_the_middle_changes_nothing(
    order: Path, work: list[Ordered], how: signal.Signals
) -> None:
    folder = plan(order, now=NOW).folder
    before = content(folder)
    environment = {**os.environ, "RINGWRIGHT_CACHE": str(order.parent / "cache")}
    command = [sys.executable, "-c", SLOW, "plan", str(order)]
    child = subprocess.Popen(
        [*command, "--slow"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    )
    try:
        assert child.stdout is not None
        assert child.stdout.readline() == "in the middle\n"
        child.send_signal(how)
        _, err = child.communicate(timeout=20)
    finally:
        child.kill()
        child.wait()
    assert content(folder) == before
    left = [path.name for path in order.parent.iterdir() if path.name.startswith(".")]
    if how is signal.SIGKILL:
        assert child.returncode == -signal.SIGKILL
        assert len(left) == 1
        plan(order, now=NOW)
        assert not [path for path in order.parent.iterdir() if path.name.startswith(".")]
    else:
        assert child.returncode == 3
        assert "interrupted; nothing that was there before has been changed" in err
        assert "Traceback" not in err
        assert not left
