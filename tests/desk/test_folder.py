"""A dossier is there whole or not at all, and nothing of anybody else's is lost."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from ringwright.desk import _folder
from ringwright.desk._folder import new_folder
from ringwright.terms.mistake import BadInput


def files(version: int, more: tuple[str, ...] = ("fields/a.glb",)) -> dict[str, bytes]:
    found = dict.fromkeys(more, b"%d" % version)
    found["dossier.json"] = json.dumps(
        {"format": "ringwright dossier 1", "files": sorted(found), "v": version}
    ).encode()
    return found


def content(folder: Path) -> dict[str, bytes]:
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def write(place: Path, version: int, more: tuple[str, ...] = ("fields/a.glb",)) -> None:
    with new_folder(place) as put:
        put(files(version, more))


@pytest.fixture(params=["exchange", "renames"], autouse=True)
def _way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if request.param == "renames":
        monkeypatch.setattr(_folder, "_exchanged", lambda *_: False)


def test_a_new_dossier_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    place = tmp_path / "deep" / "ring.dossier"
    write(place, 1, ("fields/a.glb", "old.stl"))
    assert content(place) == files(1, ("fields/a.glb", "old.stl"))
    write(place, 2)
    assert content(place) == files(2), "a file that is no longer made goes"
    assert [child.name for child in place.parent.iterdir()] == ["ring.dossier"]


@pytest.mark.parametrize("fault", [KeyboardInterrupt, RuntimeError, SystemExit])
def test_a_fault_leaves_the_former_dossier_as_it_was(tmp_path: Path, fault: type[BaseException]) -> None:
    place = tmp_path / "ring.dossier"
    write(place, 1)
    with pytest.raises(fault), new_folder(place):
        raise fault
    assert content(place) == files(1)
    assert [child.name for child in tmp_path.iterdir()] == ["ring.dossier"]


def test_a_fault_while_writing_leaves_the_former_dossier(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "ring.dossier"
    write(place, 1)

    def full(folder: Path, name: str, data: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(_folder, "_write", full)
    with pytest.raises(BadInput, match=r"cannot be written \(No space left on device\)"):
        write(place, 2)
    assert content(place) == files(1)
    assert [child.name for child in tmp_path.iterdir()] == ["ring.dossier"]


def test_what_a_person_put_there_is_kept(tmp_path: Path) -> None:
    place = tmp_path / "ring.dossier"
    write(place, 1)
    (place / "photo.jpg").write_bytes(b"photo")
    (place / "fields" / "note.txt").write_bytes(b"note")
    (place / "mine" / "empty").mkdir(parents=True)
    write(place, 2, ("b.stl",))
    assert content(place) == files(2, ("b.stl",)) | {"photo.jpg": b"photo", "fields/note.txt": b"note"}
    assert (place / "mine" / "empty").is_dir()


def test_a_folder_with_other_things_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "a.txt").write_text("dear")
    for place, says in (
        ("letters", "holds other things than a dossier"),
        ("letters/a.txt", "there is a file of that name"),
    ):
        with pytest.raises(BadInput, match=says):
            write(tmp_path / place, 1)
    assert content(tmp_path) == {"letters/a.txt": b"dear"}
    (tmp_path / "empty").mkdir()
    write(tmp_path / "empty", 1)


def test_a_folder_that_cannot_be_written_is_told_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    worked = False
    with pytest.raises(BadInput, match="the folder cannot be written") as fault, new_folder(tmp_path / "file" / "out"):
        worked = True
    assert not worked
    assert len(fault.value.mistakes) == 1
    assert "\n" not in str(fault.value)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_permission_is_told_before_the_work(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(BadInput, match="Permission denied"):
            write(tmp_path / "out", 1)
    finally:
        tmp_path.chmod(0o700)


def test_what_a_killed_run_left_is_removed_and_what_a_living_run_writes_is_not(tmp_path: Path) -> None:
    place = tmp_path / "ring.dossier"
    code = (
        "import os, sys; from pathlib import Path; from ringwright.desk._folder import new_folder, _write\n"
        "with new_folder(Path(sys.argv[1])) as put: print('ready', flush=True); sys.stdin.read()"
    )
    living = subprocess.Popen(
        [sys.executable, "-c", code, str(place)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    try:
        assert living.stdout is not None
        assert living.stdout.readline() == "ready\n"
        write(place, 1)
        hidden = [child.name for child in tmp_path.iterdir() if child != place]
        assert len(hidden) == 1, "the folder of the living run is gone"
        living.kill()
        living.wait()
        write(place, 2)
        assert [child.name for child in tmp_path.iterdir()] == ["ring.dossier"]
    finally:
        living.kill()
        living.communicate()
    assert content(place) == files(2)


def test_a_run_killed_between_two_renames_is_mended(tmp_path: Path) -> None:
    place = tmp_path / "ring.dossier"
    write(place, 1)
    place.rename(tmp_path / ".ring.dossier.former-0000")
    with pytest.raises(KeyboardInterrupt), new_folder(place):
        raise KeyboardInterrupt
    assert content(place) == files(1)
    shutil.copytree(place, tmp_path / ".ring.dossier.former-0001")
    write(place, 2)
    assert content(place) == files(2)
    assert [child.name for child in tmp_path.iterdir()] == ["ring.dossier"]


@pytest.mark.parametrize("name", ["../a", "/a", ""])
def test_a_file_stays_within_its_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="no name within a folder"), new_folder(tmp_path / "out") as put:
        put({name: b""})
