"""Makings in the background and looks at dropped models: told, stopped, killed, and never more than they may be."""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import struct
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk import _makings, _worker, shelf
from ringwright.desk._looking import Looking
from ringwright.desk._makings import Makings
from ringwright.desk._worker import Limits
from ringwright.desk.shelf import Shelf, Stage, Status, open_shelf
from ringwright.papers.meshfiles import stl
from ringwright.terms.mistake import BadInput
from ringwright.terms.remark import Level
from tests.desk.texts import COMMISSION, WORKSHOP
from tests.papers.makings import MAKING

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def tests_are_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", str(ROOT))


def titled(title: str, **change: str) -> str:
    text = COMMISSION.replace("Oval sapphire ring", title)
    for old, new in change.items():
        assert f'{old} = "' in text
        text = "\n".join(f'{old} = "{new}"' if line.startswith(f'{old} = "') else line for line in text.split("\n"))
    return text


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Shelf]:
    """A shelf whose makings are given, not worked."""
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "workshop.toml").write_text(WORKSHOP, "utf-8")
    (folder / "ring-a.commission.toml").write_text(COMMISSION, "utf-8")
    with open_shelf(folder) as made:
        shelf.take_up(made)
        made._makings = Makings("tests.desk.tasks:make_given")
        yield made


def until(made: Shelf, job: str, doing: str) -> None:
    end = time.monotonic() + 30
    while shelf.making_status(made, job).doing != doing:
        assert time.monotonic() < end and not shelf.making_status(made, job).stage.over
        time.sleep(0.01)


def made_of(made: Shelf, title: str, key: str = "ring-a", **change: str) -> Status:
    head = shelf.commission(made, key)
    shelf.save_commission(made, key, titled(title, **change), based_on=head.number, by="page")
    return shelf.wait_for_making(made, shelf.start_making(made, key), 30)


def test_a_making_puts_its_dossier_into_the_store_and_beside_the_file(bench: Shelf) -> None:
    job = shelf.start_making(bench, "ring-a")
    status = shelf.wait_for_making(bench, job, 30)
    assert (status.stage, status.verdict, status.fault, status.mistakes, status.note) == (
        Stage.DONE, Level.HEED, "", (), "",
    )  # fmt: skip
    assert (status.share, status.worked, status.kept) == (1.0, ("finger", "price"), ())
    (card,) = shelf.cards(bench)
    assert card.dossier is not None and card.stale == ""
    assert (card.dossier.verdict, card.dossier.halts, card.dossier.heeds) == (Level.HEED, 0, 1)
    assert card.dossier.worst is not None and card.dossier.worst["says"] == "It is hot."
    assert card.dossier.worst["step"] == "burnout"
    kept = shelf.dossier(bench, "ring-a")
    assert kept is not None and kept.made_at == card.dossier.made_at
    assert bench.folder is not None
    beside = bench.folder / "ring-a.dossier"
    for name, size in kept.files:
        data = shelf.dossier_file(bench, "ring-a", name)
        assert len(data) == size and (beside / name).read_bytes() == data
    told = shelf.dossier_data(bench, "ring-a")
    assert told["commission"]["commission"]["title"] == "Oval sapphire ring"
    figures = shelf.making_figures(bench, job)
    assert figures is not None and figures["steps"] == told["steps"]
    assert shelf.take_up(bench) == ()


def test_only_what_depends_on_a_change_is_worked_again(bench: Shelf) -> None:
    shelf.wait_for_making(bench, shelf.start_making(bench, "ring-a"), 30)
    status = made_of(bench, "Another title")
    assert (status.worked, status.kept) == (("price",), ("finger",))
    status = made_of(bench, "Another title", size="N")
    assert (status.worked, status.kept) == (("finger",), ("price",))
    told = shelf.difference(bench, "ring-a", 1, 3)
    assert told.worked and told.verdicts == (Level.HEED, Level.HEED)
    assert [one.where for one in told.fields] == ["commission.title", "finger.size"]


def test_bad_input_and_faults_are_told_and_keep_the_former_dossier(bench: Shelf) -> None:
    shelf.wait_for_making(bench, shelf.start_making(bench, "ring-a"), 30)
    status = made_of(bench, "past", currency="USD")
    assert status.stage is Stage.REFUSED
    (one,) = status.mistakes
    assert one.where.startswith("ring-a.commission.toml:") and "the workshop's prices are in GBP" in one.what
    status = made_of(bench, "a fault")
    assert (status.stage, status.fault) == (Stage.FAILED, "a computation failed its own check: the residual is 0.2")
    status = made_of(bench, "a crash")
    assert status.stage is Stage.FAILED and "signal 6" in status.fault
    (card,) = shelf.cards(bench)
    assert card.version == 4 and card.dossier is not None and card.dossier.version == 1
    assert card.stale == "the brief was changed since it was worked through"
    assert made_of(bench, "sound again").stage is Stage.DONE


def test_a_making_is_stopped(bench: Shelf) -> None:
    shelf.save_commission(bench, "ring-a", titled("slow"), based_on=1, by="page")
    job = shelf.start_making(bench, "ring-a")
    until(bench, job, "waiting")
    status = shelf.making_status(bench, job)
    assert (status.stage, status.share, status.step, status.worked) == (
        Stage.WORKING,
        0.6,
        "price",
        ("finger", "price"),
    )
    assert status.seconds > 0
    pid = bench._makings.pid
    shelf.stop_making(bench, job)
    assert shelf.wait_for_making(bench, job, 10).stage is Stage.STOPPED
    assert bench._makings.pid == pid
    assert shelf.dossier(bench, "ring-a") is None
    assert shelf.making_figures(bench, job) is None


def test_makings_wait_their_turn_and_a_new_one_of_the_same_ring_stops_the_old(bench: Shelf) -> None:
    shelf.save_commission(bench, "ring-a", titled("slow"), based_on=1, by="page")
    shelf.create_commission(bench, COMMISSION, by="page", key="ring-b")
    shelf.create_commission(bench, COMMISSION, by="page", key="ring-c")
    first = shelf.start_making(bench, "ring-a")
    until(bench, first, "waiting")
    second, third = shelf.start_making(bench, "ring-b"), shelf.start_making(bench, "ring-c")
    assert shelf.making_status(bench, second).stage is Stage.WAITING
    shelf.stop_making(bench, second)
    assert shelf.making_status(bench, second).stage is Stage.STOPPED
    fourth = shelf.start_making(bench, "ring-a", 1)
    assert shelf.wait_for_making(bench, fourth, 30).stage is Stage.DONE
    stages = {one.job: (one.key, one.version, one.stage) for one in shelf.makings(bench)}
    assert stages == {
        first: ("ring-a", 2, Stage.STOPPED),
        second: ("ring-b", 1, Stage.STOPPED),
        third: ("ring-c", 1, Stage.DONE),
        fourth: ("ring-a", 1, Stage.DONE),
    }
    assert [one.job for one in shelf.makings(bench)] == [fourth, third, second, first]


def test_a_process_that_is_killed_fails_its_making_only(bench: Shelf) -> None:
    shelf.save_commission(bench, "ring-a", titled("slow"), based_on=1, by="page")
    job = shelf.start_making(bench, "ring-a")
    until(bench, job, "waiting")
    assert bench._makings.pid is not None
    os.kill(bench._makings.pid, signal.SIGKILL)
    status = shelf.wait_for_making(bench, job, 10)
    assert status.stage is Stage.FAILED and "ended from outside (signal 9)" in status.fault
    assert shelf.dossier(bench, "ring-a") is None
    assert made_of(bench, "sound").stage is Stage.DONE


def test_a_closed_shelf_leaves_no_process(bench: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_worker, "STOP_WAIT_S", 0.3)
    shelf.save_commission(bench, "ring-a", titled("slow"), based_on=1, by="page")
    job = shelf.start_making(bench, "ring-a")
    until(bench, job, "waiting")
    pid = bench._makings.pid
    bench.close()
    assert bench._makings.status(job).stage is Stage.STOPPED
    with pytest.raises(ProcessLookupError):
        os.kill(pid or 0, 0)
    with pytest.raises(BadInput, match="the shelf is closed"):
        bench._makings.begin("ring-a", 1, lambda: pytest.fail("read"))


def test_a_folder_in_the_way_is_told_and_the_store_has_the_dossier(bench: Shelf) -> None:
    assert bench.folder is not None
    (bench.folder / "ring-a.dossier").mkdir()
    (bench.folder / "ring-a.dossier" / "letter.txt").write_text("to a client")
    status = shelf.wait_for_making(bench, shelf.start_making(bench, "ring-a"), 30)
    assert status.stage is Stage.DONE and "the folder holds other things than a dossier" in status.note
    assert shelf.dossier(bench, "ring-a") is not None
    assert [path.name for path in (bench.folder / "ring-a.dossier").iterdir()] == ["letter.txt"]


def test_an_older_version_does_not_replace_the_folder_of_the_newest(bench: Shelf) -> None:
    assert bench.folder is not None
    shelf.save_commission(bench, "ring-a", titled("newest"), based_on=1, by="page")
    for version in (2, 1):
        assert shelf.wait_for_making(bench, shelf.start_making(bench, "ring-a", version), 30).stage is Stage.DONE
    data = json.loads((bench.folder / "ring-a.dossier" / "dossier.json").read_bytes())
    assert data["commission"]["commission"]["title"] == "newest"
    kept = shelf.dossier(bench, "ring-a")
    assert kept is not None and kept.version == 2
    assert shelf.dossier_data(bench, "ring-a", 1)["commission"]["commission"]["title"] == "Oval sapphire ring"


def test_a_dossier_of_the_command_line_is_taken_up(bench: Shelf, tmp_path: Path) -> None:
    assert bench.folder is not None
    shelf.wait_for_making(bench, shelf.start_making(bench, "ring-a"), 30)
    other = tmp_path / "other"
    other.mkdir()
    for name in ("workshop.toml", "ring-a.commission.toml"):
        shutil.copy(bench.folder / name, other / name)
    shutil.copytree(bench.folder / "ring-a.dossier", other / "ring-a.dossier")
    with open_shelf(other) as made:
        (card,) = shelf.cards(made)
        assert card.dossier is not None and (card.stale, card.dossier.verdict) == ("", Level.HEED)
        one, two = shelf.dossier(made, "ring-a"), shelf.dossier(bench, "ring-a")
        assert one is not None and two is not None and one.files == two.files
        # One of another brief, one with a file missing and one that is none are left alone.
        (other / "ring-a.commission.toml").write_text(titled("other"), "utf-8")
        manifest = other / "ring-a.dossier" / "dossier.json"
        manifest.write_bytes(manifest.read_bytes() + b" ")
        assert shelf.take_up(made) == ("ring-a",)
        assert shelf.cards(made)[0].stale == "the brief was changed since it was worked through"
        (other / "ring-a.commission.toml").write_text(COMMISSION, "utf-8")
        manifest.write_text("{")
        assert shelf.take_up(made) == ("ring-a",)
        manifest.write_bytes(json.dumps(two_data(bench) | {"files": ["../workshop.toml"]}).encode())
        assert shelf.take_up(made) == ()
        manifest.write_bytes(json.dumps(two_data(bench) | {"files": []}).encode())
        assert shelf.take_up(made) == ("ring-a",)
        kept = shelf.dossier(made, "ring-a")
        assert kept is not None and kept.version == 3 and [name for name, _ in kept.files] == ["dossier.json"]


def two_data(made: Shelf) -> dict[str, Any]:
    return shelf.dossier_data(made, "ring-a")


def test_what_is_remembered_of_makings_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_makings, "KEPT_JOBS", 3)
    made = Makings("tests.desk.tasks:make_given")

    def refused() -> Any:
        raise BadInput

    for number in range(6):
        assert made.wait(made.begin(f"ring-{number}", 1, refused), 10).stage is Stage.REFUSED
    assert [one.key for one in made.all()] == ["ring-5", "ring-4", "ring-3"]
    made.close()


SERVING = """
import sys
from ringwright.desk import shelf
from ringwright.desk._makings import Makings

made = shelf.open_shelf(sys.argv[1])
made._makings = Makings("tests.desk.tasks:make_given")
job = shelf.start_making(made, "ring-a")
while shelf.making_status(made, job).doing != "waiting":
    pass
print(made._makings.pid, flush=True)
shelf.wait_for_making(made, job, 60)
"""


def test_a_server_that_is_killed_leaves_the_shelf_whole(bench: Shelf) -> None:
    shelf.save_commission(bench, "ring-a", titled("slow"), based_on=1, by="page")
    server = subprocess.Popen([sys.executable, "-c", SERVING, str(bench.folder)], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    worker = int(server.stdout.readline())
    server.kill()
    server.wait()
    server.stdout.close()
    end = time.monotonic() + 10
    while Path(f"/proc/{worker}").exists() and "Z" not in Path(f"/proc/{worker}/stat").read_text().split():
        assert time.monotonic() < end, "the process that worked for it goes on"
        time.sleep(0.02)
    (card,) = shelf.cards(bench)
    assert (card.version, card.dossier, card.next_step) == (2, None, "work it through")
    assert bench.folder is not None
    assert {path.name for path in bench.folder.iterdir() if "sqlite" not in path.name} == {
        "workshop.toml", "ring-a.commission.toml",
    }  # fmt: skip


@pytest.fixture(scope="module")
def looking() -> Iterator[Looking]:
    made = Looking()
    yield made
    made.close()


def refused(looking: Looking, data: bytes, name: str) -> str:
    with pytest.raises(BadInput) as fault:
        looking.look(data, name, None)
    (one,) = fault.value.mistakes
    assert one.where == name
    return str(one)


def test_the_first_figures_of_a_dropped_model(looking: Looking) -> None:
    from tests.steps.solids import band

    mesh = band()
    found = looking.look(stl(mesh), "band.stl", "mm")
    assert (found["format"], found["units"], found["closed"], found["mended"]) == ("STL, binary", "mm", True, [])
    assert found["triangles"] == len(mesh.faces)
    from ringwright.science import solids

    volume = solids.volume(mesh)
    assert found["volume_mm3"] == pytest.approx(volume, rel=1e-5)
    assert found["mass_g"]["18k-3n"] == pytest.approx(volume * 15.45e-3, rel=0.02)
    assert found["mass_spread_g"].keys() == found["mass_g"].keys()
    assert found["hole"]["diameter_mm"] > 10
    assert sorted(found["extent_mm"]) == pytest.approx(
        sorted(mesh.vertices_mm.max(axis=0) - mesh.vertices_mm.min(axis=0)), rel=1e-3
    )
    assert found["picture"].startswith(b"\x89PNG")


def test_what_is_no_ring_is_weighed_all_the_same(looking: Looking) -> None:
    found = looking.look(stl(MAKING.pattern.bodies[0].mesh), "corner.stl", "cm")
    assert (found["hole"], found["picture"][:4]) == (None, b"\x89PNG")
    assert found["volume_mm3"] == pytest.approx(1000 / 6)
    assert [one["kind"] for one in found["remarks"] if one["level"] == "heed"] == ["no-hole"]


def test_a_wrong_file_gets_one_sentence(looking: Looking) -> None:
    assert "no kind of model" in refused(looking, b"hello", "letter.txt")
    assert refused(looking, b"Dear goldsmith, " * 100, "letter.stl")
    assert refused(looking, struct.pack("<80xI", 2**32 - 1) + bytes(50), "long.stl")
    assert refused(looking, b"solid nothing\nendsolid nothing\n", "empty.stl")
    assert refused(looking, os.urandom(5000), "noise.3mf")
    assert refused(looking, os.urandom(5000), "noise.glb")
    assert refused(looking, b"ISO-10303-21;\nnonsense", "part.step")


def bomb(size: int) -> bytes:
    """A small archive that unfolds to a large model."""
    file = io.BytesIO()
    with (
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("3D/3dmodel.model", "w", force_zip64=True) as part,
    ):
        for _ in range(size >> 24):
            part.write(bytes(1 << 24))
    return file.getvalue()


def test_an_archive_that_unfolds_without_end_is_refused_within_limits() -> None:
    data = bomb(1200 << 20)
    assert len(data) < 8 << 20
    looking = Looking(Limits(memory_bytes=3 << 30, threads=1), seconds=20.0)
    assert refused(looking, data, "bomb.3mf")
    # The same with a head that lies about its size.
    directory = data.rindex(b"PK\x01\x02")
    lying = bytearray(data)
    lying[directory + 24 : directory + 28] = struct.pack("<I", 1000)
    assert refused(looking, bytes(lying), "lying.3mf")
    looking.close()


@pytest.mark.parametrize(
    ("task", "told"),
    [
        ("hog", "reading it needs too much memory; export the model with fewer triangles"),
        ("ignore", "it was not read within 2 s; export the model with fewer triangles"),
        ("crash", "it cannot be read as a model; export it again, as STL or STEP"),
        ("fail", "it cannot be read as a model; export it again, as STL or STEP"),
        ("not_converge", "it cannot be read as a model; export it again, as STL or STEP"),
    ],
)
def test_a_look_that_goes_wrong_is_told_in_one_sentence(task: str, told: str) -> None:
    seconds = 2.0 if task == "ignore" else 30.0
    looking = Looking(Limits(memory_bytes=1 << 30, threads=1), seconds, f"tests.desk.tasks:{task}")
    assert refused(looking, b"x", "a.stl") == f"a.stl: {told}"
    looking.close()
