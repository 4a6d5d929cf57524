"""The command line: exit status, plain words on the error stream, JSON alone on the other."""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from ringwright import cli
from ringwright.desk import planning
from ringwright.papers.meshfiles import stl
from ringwright.terms.mistake import ComputingFault, Stopped
from tests.desk.texts import COMMISSION, WORKSHOP
from tests.papers.makings import MAKING, MESH


@pytest.fixture(autouse=True)
def _cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RINGWRIGHT_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(cli, "_stop_on_terminate", lambda: None)


@pytest.fixture
def order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "ring.commission.toml"
    path.write_text(COMMISSION.replace("due = 2027-04-30", "due = 9999-01-01"), "utf-8")
    (tmp_path / "workshop.toml").write_text(WORKSHOP, "utf-8")
    monkeypatch.setattr(planning, "_work", lambda *_: MAKING)
    return path


def run(capfd: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = cli.run(list(arguments))
    out, err = capfd.readouterr()
    assert "Traceback" not in err
    return status, out, err


def answer(capfd: pytest.CaptureFixture[str], *arguments: str) -> Any:
    status, out, err = run(capfd, *arguments, "--json")
    assert (status, err) == (0, "")
    return json.loads(out)


def test_plan_tells_the_verdict_and_where_the_dossier_is(order: Path, capfd: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capfd, "plan", str(order))
    assert status == cli.DONE
    assert "! heed" in out or "heed" in out
    assert "It is hot." in out
    assert "change: cool it" in out
    data = json.loads(run(capfd, "plan", str(order), "--json")[1])
    assert data["verdict"] == "heed"
    assert Path(data["folder"]).is_dir()


def test_a_halt_is_told_by_the_status(
    order: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from dataclasses import replace

    from ringwright.terms.remark import Level

    remark = replace(MAKING.burnout.remarks[0], level=Level.HALT)
    worse = replace(MAKING, burnout=replace(MAKING.burnout, remarks=(remark,)))
    monkeypatch.setattr(planning, "_work", lambda *_: worse)
    status, out, _ = run(capfd, "plan", str(order))
    assert status == cli.HALT
    assert "halt" in out


def test_bad_input_is_plain_lines(order: Path, capfd: pytest.CaptureFixture[str]) -> None:
    order.write_text(order.read_text("utf-8").replace('"7 mm"', "7").replace('"uk"', '"uk"\nsze = 1', 1), "utf-8")
    status, out, err = run(capfd, "plan", str(order))
    assert status == cli.BAD_INPUT
    assert out == ""
    assert [line.split(": ")[0] for line in err.splitlines()] == ["ringwright"] * 2
    assert 'write "7 mm"' in err


@pytest.mark.parametrize(
    ("fault", "status", "says"),
    [
        (ComputingFault("residual 3e-2"), cli.FAILED, "the computation failed, and nothing was written: residual 3e-2"),
        (KeyboardInterrupt(), cli.INTERRUPTED, "interrupted"),
        (Stopped(), cli.INTERRUPTED, "interrupted"),
        (ZeroDivisionError("x"), cli.FAILED, "Ringwright itself failed (ZeroDivisionError: x)"),
    ],
)
def test_every_fault_has_its_status(
    order: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    fault: BaseException,
    status: int,
    says: str,
) -> None:
    def fail(*_: Any) -> Any:
        raise fault

    monkeypatch.setattr(planning, "_work", fail)
    found, _, err = run(capfd, "plan", str(order))
    assert found == status
    assert says in err


@pytest.mark.parametrize("arguments", [["plan"], ["nothing"], ["size", "--foo", "5"], ["plan", "a", "b"]])
def test_a_command_that_is_not_understood(arguments: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    status, _, err = run(capfd, *arguments)
    assert status == cli.BAD_INPUT
    assert err


def test_size(capfd: pytest.CaptureFixture[str]) -> None:
    data = answer(capfd, "size", "54", "--system", "iso")
    assert data["inner_circumference_mm"] == 54
    assert data["inner_diameter_mm"] == pytest.approx(17.188734, abs=1e-5)
    assert {"iso", "us", "uk", "jp", "ch"} <= data["labels"].keys()
    assert data["labels"]["iso"] | {"label": "54", "residual_mm": 0.0} == data["labels"]["iso"]
    wide = answer(capfd, "size", "54", "--system", "iso", "--band-width", "8 mm")
    assert wide["inner_diameter_mm"] > data["inner_diameter_mm"]
    assert "17.19 mm" in run(capfd, "size", "ISO 8653-54")[1]


def test_recipe(capfd: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    data = answer(capfd, "recipe", "--alloy", "18k-3n", "--mass", "12 g", "--scrap", "4 g")
    assert data["fineness_permille"] >= 750
    assert sum(part["mass_g"] for part in data["parts"]) == pytest.approx(data["mass_g"])
    assert data["mass_g"] >= 12
    (tmp_path / "w.toml").write_text(WORKSHOP, "utf-8")
    data = answer(capfd, "recipe", "--alloy", "18k-3n", "--mass", "8 dwt", "--stock", str(tmp_path / "w.toml"))
    assert "grain" in {part["material"] for part in data["parts"]}
    assert "fineness, guaranteed" in run(capfd, "recipe", "--alloy", "18k-3n", "--mass", "12 g")[1]


def test_stone(capfd: pytest.CaptureFixture[str]) -> None:
    given = ("stone", "--cut", "round brilliant", "--size", "6.5 x 6.5 x 3.95 mm", "--material", "diamond")
    data = answer(capfd, *given, "--stated", "1.00 ct")
    assert data["mass_ct"] == pytest.approx(1.0, abs=0.05)
    assert data.keys() >= {"mass_ct", "volume_mm3", "rule_mass_ct", "stated_ct", "plausible"}
    assert data["plausible"] is True
    status, out, _ = run(capfd, *given, "--stated", "2 ct")
    assert status == cli.HALT
    assert "does not fit the size" in out


def test_burnout(capfd: pytest.CaptureFixture[str]) -> None:
    data = answer(capfd, "burnout", "--flask", "80 x 100 mm", "--pattern", "resin")
    assert data["total_h"] > 8
    for hold in data["holds"]:
        assert hold.keys() >= {"to_C", "ramp_C_per_h", "hold_h", "core_there_after_h"}
        assert hold["hold_h"] >= hold["core_there_after_h"]


def test_mark(capfd: pytest.CaptureFixture[str]) -> None:
    data = answer(capfd, "mark", "--market", "uk", "--alloy", "18k-3n", "--mass", "4.2 g")
    assert data["fineness_permille"] == 750
    assert data["exempt"] is False
    assert data["must"]
    assert data.keys() >= {"may", "never", "source"}
    assert answer(capfd, "mark", "--market", "uk", "--alloy", "18k-3n", "--mass", "0.9 g")["exempt"] is True


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["size", "zz", "--system", "iso"], "no size of"),
        (["size", "54", "--system", "is"], "no ring size system is called 'is'"),
        (["size", "54", "--system", "iso", "--band-width", "8"], "--band-width: '8' has no unit; write \"8 mm\""),
        (["recipe", "--alloy", "18k-9n", "--mass", "12 g"], "no alloy is called '18k-9n'; did you mean"),
        (["recipe", "--alloy", "18k-3n", "--mass", "0 g"], "--mass: '0 g' cannot be; write more than 0 g"),
        (["recipe", "--alloy", "18k-3n", "--mass", "12 mm"], "--mass: '12 mm' is not in g"),
        (
            ["stone", "--cut", "oval", "--size", "7 x 5 mm", "--material", "sapphire"],
            "--size: '7 x 5 mm' is not 3 lengths",
        ),
        (["stone", "--cut", "ovl", "--size", "7 x 5 x 3 mm", "--material", "sapphire"], "did you mean"),
        (["burnout", "--flask", "80 x 100", "--pattern", "wax"], "--flask"),
        (["burnout", "--flask", "80 x 100 mm", "--pattern", "clay"], "no pattern material is called 'clay'"),
        (["burnout", "--flask", "80 x 100 mm", "--pattern", "wax", "--kiln", "x"], "--kiln: no kiln is called 'x'"),
        (["mark", "--market", "mars", "--alloy", "18k-3n", "--mass", "4 g"], "no market is called 'mars'"),
        (["weigh", "nothing.stl"], "nothing.stl: there is no such file"),
        (["weigh", __file__], "is no kind of model that is read"),
        (["facts", "alloyz"], "there is no table 'alloyz'; did you mean 'alloys'?"),
        (["facts", "alloys", "18k"], "no row of alloys is called '18k'"),
    ],
)
def test_a_mistake_is_one_sentence(arguments: list[str], says: str, capfd: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capfd, *arguments)
    assert (status, out) == (cli.BAD_INPUT, "")
    assert says in err
    assert err.count("\n") == 1


def test_weigh(capfd: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from ringwright.desk.demo import write_demo

    write_demo(tmp_path, dt.date(2027, 1, 1))
    data = answer(capfd, "weigh", str(tmp_path / "sapphire-ring.stl"))
    assert data.keys() >= {"units", "closed", "mended", "volume_mm3", "area_mm2", "mass_g", "hole"}
    assert (data["units"], data["closed"], data["mended"]) == ("mm", True, [])
    assert data["hole"]["diameter_mm"] == pytest.approx(
        answer(capfd, "size", "M", "--system", "uk")["inner_diameter_mm"], abs=0.02
    )
    assert data["hole"].keys() >= {"roundness_mm", "axis", "centre_mm"}
    assert data["mass_g"]["18k-3n"] == pytest.approx(data["volume_mm3"] * 15.45e-3, rel=1e-3)
    assert data["mass_g"].keys() == {row["key"] for row in answer(capfd, "facts", "alloys")}
    assert "finger hole" in run(capfd, "weigh", str(tmp_path / "sapphire-ring.stl"))[1]


def test_a_model_without_a_finger_hole_is_weighed_all_the_same(
    capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "corner.stl").write_bytes(stl(MESH.scaled(5.0)))
    data = answer(capfd, "weigh", str(tmp_path / "corner.stl"), "--units", "mm")
    assert data["volume_mm3"] == pytest.approx(125 / 6)
    assert data["hole"] is None
    assert [remark["kind"] for remark in data["remarks"] if remark["kind"] == "no-hole"] == ["no-hole"]


def test_the_version_is_told(capfd: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capfd, "--version")
    assert status == cli.DONE
    assert out.startswith("ringwright 0.")


def test_facts(capfd: pytest.CaptureFixture[str]) -> None:
    tables = answer(capfd, "facts")
    assert {"alloys", "cuts"} <= {row["table"] for row in tables}
    rows = answer(capfd, "facts", "alloys", "18k-3n")
    assert {row["key"] for row in rows} == {"18k-3n"}
    assert all(row["source"] and row["basis"] for row in rows)
    out = run(capfd, "facts", "alloys", "18k-3n")[1]
    assert "source: " in out
    assert "density_g_cm3: 15.45" in out


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from ringwright.cli import run; run(['--help']);"
        "heavy = {'numpy', 'pydantic', 'rich', 'pint', 'scipy', 'numba', 'trimesh', 'tomlkit', 'ringwright.facts'};"
        "sys.exit(','.join(heavy & sys.modules.keys()) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "plan" in done.stdout


def test_a_reader_that_goes_away_is_no_fault() -> None:
    command = f"{sys.executable} -m ringwright facts alloys | head -1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert "Traceback" not in done.stderr
    assert "BrokenPipe" not in done.stderr


def test_a_terminal_without_unicode(tmp_path: Path) -> None:
    import os

    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "RINGWRIGHT_CACHE": str(tmp_path)}
    command = [sys.executable, "-m", "ringwright", "stone", "--cut", "oval", "--size", "7x5x3.4 mm", "--material"]
    done = subprocess.run([*command, "sapphire", "--stated", "2 ct"], capture_output=True, env=environment, check=False)
    assert done.returncode == cli.HALT
    assert b"X halt" in done.stdout
    assert b"Traceback" not in done.stderr
