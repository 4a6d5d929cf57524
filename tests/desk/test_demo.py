"""The demo for real: its dossier is what its schema says, and the same input gives the same bytes."""

from __future__ import annotations

import datetime as dt
import json
import sys
from pathlib import Path

import jsonschema
import pytest

from ringwright.desk._rehearsal import rehearse
from ringwright.desk.asking import dossier_schema
from ringwright.desk.demo import COMMISSIONS, write_demo
from ringwright.desk.keeping import Keeping
from ringwright.desk.planning import plan, read_order
from ringwright.terms.commission import SeatBrief
from ringwright.terms.mistake import BadInput
from ringwright.terms.order import STEPS

TODAY = dt.date(2027, 1, 2)
NOW = dt.datetime(2027, 1, 2, 3, 4, 5, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def orders(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ...]:
    return write_demo(tmp_path_factory.mktemp("demo"), TODAY)


def _compiled() -> set[tuple[str, str]]:
    """Every kernel of science that this process has, with the types for which it has it."""
    from numba.core.dispatcher import Dispatcher

    modules = [module for name, module in sys.modules.items() if name.startswith("ringwright.science")]
    kernels = {one for module in modules for one in vars(module).values() if isinstance(one, Dispatcher)}
    return {(kernel.py_func.__qualname__, str(types)) for kernel in kernels for types in kernel.signatures}


def content(folder: Path) -> dict[str, bytes]:
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def test_the_demo_is_read_without_a_mistake(orders: tuple[Path, ...]) -> None:
    assert [path.name for path in orders] == list(COMMISSIONS)
    stone, band = (read_order(path, today=TODAY) for path in orders)
    assert stone.model is not None
    assert isinstance(stone.commission.stone[0].seat, SeatBrief)
    assert band.model is None
    (own,) = band.commission.metal.own_g
    (lot,) = [lot for lot in band.workshop.stock if lot.name == own]
    assert lot.belongs_to == band.commission.commission.number
    assert stone.commission.commission.due == TODAY + dt.timedelta(days=63)


def test_the_demo_is_written_again_over_itself(orders: tuple[Path, ...]) -> None:
    before = content(orders[0].parent)
    write_demo(orders[0].parent, TODAY)
    assert content(orders[0].parent) == before


def test_a_demo_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(BadInput, match="the folder cannot be written"):
        write_demo(tmp_path / "file" / "demo", TODAY)


@pytest.mark.slow
def test_the_dossier_is_as_its_schema_says_and_the_same_each_time(orders: tuple[Path, ...], tmp_path: Path) -> None:
    """Three times: worked, given from the kept results, and worked anew by a keep that knows nothing."""
    told: list[tuple[float, str]] = []
    first = plan(
        orders[1],
        out=tmp_path / "first",
        now=NOW,
        keep=Keeping(tmp_path / "kept"),
        progress=lambda share, doing: told.append((share, doing)),
    )
    shares = [share for share, _ in told]
    assert shares == sorted(shares), "the progress goes back"
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    files = content(first.folder)
    data = json.loads(files["dossier.json"])
    jsonschema.validate(data, dossier_schema(), cls=jsonschema.Draft202012Validator)
    assert set(data["steps"]) <= {step.name for step in STEPS}
    assert {"pattern.stl", "pattern.3mf", "ring.glb"} <= set(data["files"])
    assert sorted(files) == sorted([*data["files"], "dossier.json"])

    again = Keeping(tmp_path / "kept")
    assert content(plan(orders[1], out=tmp_path / "second", now=NOW, keep=again).folder) == files
    assert again.hits >= 5

    # What a first plan compiles ahead is what this plan has compiled, and all of it is wanted by the process itself.
    had = _compiled()
    assert had
    rehearse()
    assert _compiled() == had

    anew = plan(orders[1], out=tmp_path / "third", now=NOW.replace(hour=22), keep=Keeping())
    later = content(anew.folder)
    assert {name for name in files if files[name] != later[name]} == {"dossier.json"}
    assert data | {"made_at": "2027-01-02T22:04:05+00:00"} == json.loads(later["dossier.json"])
