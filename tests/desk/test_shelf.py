"""The shelf: files and database say the same, savings never overwrite one another, and everything can be moved."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk import _shelf_folder, shelf
from ringwright.desk.planning import read_order
from ringwright.desk.shelf import Conflict, Shelf, Stage, State, open_shelf
from ringwright.terms.mistake import BadInput
from tests.desk.texts import COMMISSION, WORKSHOP

WITH_MODEL = COMMISSION.replace('[starter]\nshape = "solitaire"\nclaws = 4', '[model]\nfile = "a.stl"')
LOG = b"time,temperature,x,y,z\n0,951,0,-9.4,0\n1,900,0,-9.4,0\n"
LOGGED = f'{COMMISSION}\n[thermocouple]\nfile = "pour.csv"\n'
OTHER = COMMISSION.replace('"18k-3n"', '"9k-yellow"').replace('"M"', '"N"')


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "shop"
    made.mkdir()
    (made / "ring-a.commission.toml").write_text(COMMISSION, "utf-8")
    (made / "workshop.toml").write_text(WORKSHOP, "utf-8")
    return made


@pytest.fixture
def open_(folder: Path) -> Iterator[Shelf]:
    with open_shelf(folder) as made:
        shelf.take_up(made)
        yield made


SERVER = pytest.mark.postgres
WAYS = [
    "folder",
    "sqlite alone",
    pytest.param("postgresql alone", marks=SERVER),
    pytest.param("postgresql and folder", marks=SERVER),
]


@pytest.fixture(params=WAYS)
def each(request: pytest.FixtureRequest, folder: Path) -> Iterator[Shelf]:
    """A shelf with one commission, in each of the ways to keep it."""
    kind = request.param.split()[0]
    url = None if kind == "folder" else request.getfixturevalue(f"{kind}_ready")
    made = open_shelf(url) if request.param.endswith("alone") else open_shelf(folder, database=url)
    if made.folder is not None:
        shelf.take_up(made)
    else:
        shelf.save_workshop(made, WORKSHOP, based_on=None, by="me")
        shelf.create_commission(made, COMMISSION, by="me", key="ring-a")
    yield made
    made.close()


def mistakes(function: Any, *inputs: Any, **more: Any) -> list[str]:
    with pytest.raises(BadInput) as fault:
        function(*inputs, **more)
    return [str(one) for one in fault.value.mistakes]


def file_of(made: Shelf, name: str = "ring-a.commission.toml") -> Path:
    assert made.folder is not None
    return made.folder / name


def content(root: Path, *without: str) -> dict[str, bytes]:
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and not path.name.startswith(without or ("\0",))
    }


def test_what_stands_in_the_folder_is_on_the_shelf(open_: Shelf) -> None:
    (card,) = shelf.cards(open_)
    assert (card.key, card.order_number, card.title, card.version) == ("ring-a", "2027-014", "Oval sapphire ring", 1)
    assert card.due is not None and card.due.isoformat() == "2027-04-30"
    assert (card.mistakes, card.dossier, card.next_step) == ((), None, "work it through")
    found = shelf.commission(open_, "ring-a")
    assert (found.text, found.by, found.newest) == (COMMISSION, "hand in the file", True)
    assert shelf.workshop(open_).text == WORKSHOP
    assert shelf.take_up(open_) == ()


def test_a_saving_is_a_version_and_stands_in_the_file(each: Shelf) -> None:
    saved = shelf.save_commission(each, "ring-a", OTHER, based_on=1, by="the bench")
    assert (saved.number, saved.based_on, saved.by, saved.text) == (2, 1, "the bench", OTHER)
    if each.folder is not None:
        assert file_of(each).read_text("utf-8") == OTHER
        read_order(file_of(each))
    assert shelf.take_up(each) == ()
    assert [one.number for one in shelf.history(each, "ring-a")] == [2, 1]
    assert shelf.commission(each, "ring-a", 1).text == COMMISSION
    assert shelf.save_commission(each, "ring-a", OTHER, based_on=2, by="again").number == 2


def test_two_pages_do_not_overwrite_each_other(each: Shelf) -> None:
    shelf.save_commission(each, "ring-a", OTHER, based_on=1, by="one page")
    third = COMMISSION.replace("claws = 4", "claws = 6")
    with pytest.raises(Conflict) as fault:
        shelf.save_commission(each, "ring-a", third, based_on=1, by="another page")
    assert fault.value.head.number == 2
    assert fault.value.changed == ("finger.size from 'M' to 'N'", "metal.alloy from '18k-3n' to '9k-yellow'")
    assert "was changed by one page at" in str(fault.value)
    assert shelf.commission(each, "ring-a").text == OTHER
    assert shelf.save_commission(each, "ring-a", third, based_on=2, by="another page").number == 3


def test_many_who_save_at_once_make_one_version_each_or_are_told(each: Shelf) -> None:
    said: list[str] = []

    def save(name: str) -> None:
        text = COMMISSION.replace("Oval sapphire ring", f"Ring of {name}")
        try:
            shelf.save_commission(each, "ring-a", text, based_on=1, by=name)
            said.append(name)
        except Conflict as fault:
            said.append(f"not {fault.head.by}")

    threads = [threading.Thread(target=save, args=(name,)) for name in "abcdef"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    (won,) = [one for one in said if not one.startswith("not ")]
    assert sorted(said) == sorted([won, *[f"not {won}"] * 5])
    assert shelf.commission(each, "ring-a").title == f"Ring of {won}"
    if each.folder is not None:
        assert f"Ring of {won}" in file_of(each).read_text("utf-8")


def test_a_file_changed_by_hand_counts_as_saved_before(open_: Shelf) -> None:
    file_of(open_).write_text(OTHER, "utf-8")
    with pytest.raises(Conflict) as fault:
        shelf.save_commission(open_, "ring-a", COMMISSION.replace("claws = 4", "claws = 6"), based_on=1, by="page")
    assert (fault.value.head.number, fault.value.head.by) == (2, "hand in the file")
    assert file_of(open_).read_text("utf-8") == OTHER
    assert shelf.commission(open_, "ring-a").text == OTHER
    file_of(open_, "workshop.toml").write_text(WORKSHOP.replace("45.00", "46.00"), "utf-8")
    with pytest.raises(Conflict, match="the workshop was changed by hand in the file"):
        shelf.save_workshop(open_, WORKSHOP.replace("45.00", "47.00"), based_on=1, by="page")
    assert "46.00" in shelf.workshop(open_).text


def test_a_file_changed_within_the_same_tick_and_of_the_same_size_is_seen(open_: Shelf) -> None:
    file = file_of(open_)
    for size in "NOPQ":
        stamp = file.stat()
        file.write_text(COMMISSION.replace('"M"', f'"{size}"'), "utf-8")
        os.utime(file, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
        assert shelf.take_up(open_) == ("ring-a",)
    assert shelf.commission(open_, "ring-a").number == 5


def test_only_what_changed_is_read_again(open_: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    file = file_of(open_)
    for path in (file, file_of(open_, "workshop.toml")):
        os.utime(path, ns=(1_800_000_000_000_000_000 - 10**18, 1_700_000_000_000_000_000))
    shelf.take_up(open_)
    read: list[str] = []
    before = Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda path: (read.append(path.name), before(path))[1])
    assert shelf.take_up(open_) == () and read == []
    file.write_text(OTHER, "utf-8")
    assert shelf.take_up(open_) == ("ring-a",)
    assert set(read) == {"ring-a.commission.toml"}


def test_a_file_that_goes_takes_its_commission_off_the_bench_and_brings_it_back(open_: Shelf) -> None:
    file_of(open_).unlink()
    assert shelf.cards(open_) == ()
    (card,) = shelf.cards(open_, State.ABSENT)
    assert card.key == "ring-a"
    shelf.set_state(open_, "ring-a", State.OPEN)
    assert file_of(open_).read_text("utf-8") == COMMISSION
    assert [card.key for card in shelf.cards(open_)] == ["ring-a"]
    file_of(open_).rename(file_of(open_, "away"))
    assert shelf.take_up(open_) == ("ring-a",)
    file_of(open_, "away").rename(file_of(open_))
    assert shelf.take_up(open_) == ("ring-a",)
    assert [card.key for card in shelf.cards(open_)] == ["ring-a"]
    assert shelf.commission(open_, "ring-a").number == 1
    shelf.set_state(open_, "ring-a", State.CLOSED)
    assert shelf.cards(open_) == () and file_of(open_).is_file()
    assert mistakes(shelf.set_state, open_, "ring-a", State.ABSENT) == [
        "state: a commission is absent when its file is taken away; take the file out of the folder"
    ]


def test_a_text_with_mistakes_is_taken_up_from_a_file_but_not_saved_from_a_page(each: Shelf) -> None:
    wrong = COMMISSION.replace('"7 mm"', '"7 grams"').replace('cut = "oval"', "cut = 3")
    told = mistakes(shelf.save_commission, each, "ring-a", wrong, based_on=1, by="page")
    assert len(told) == 2 and all(one.startswith("ring-a.commission.toml:") for one in told)
    assert shelf.commission(each, "ring-a").number == 1
    if each.folder is None:
        return
    for text in (wrong.encode(), wrong.encode() + b"\xff", b"= not TOML", b""):
        file_of(each).write_bytes(text)
        (card,) = shelf.cards(each)
        assert card.mistakes and card.next_step == "mend the brief: it cannot be read"
        assert shelf.commission(each, "ring-a").content == text
    assert card.version == 5
    assert shelf.difference(each, "ring-a", 1, 5).fields == ()


def test_a_new_commission_gets_a_name_of_its_own(each: Shelf) -> None:
    first = shelf.create_commission(each, COMMISSION, by="page")
    second = shelf.create_commission(each, OTHER, by="page")
    assert (first.key, second.key, second.number, second.based_on) == ("2027-014", "2027-014-2", 1, None)
    strange = COMMISSION.replace('"2027-014"', '"../../etc/Ümlaut"')
    assert shelf.create_commission(each, strange, by="page").key == "etc-mlaut"
    assert (
        "there is a commission 'ring-a' already"
        in mistakes(shelf.create_commission, each, OTHER, by="page", key="ring-a")[0]
    )
    if each.folder is not None:
        assert file_of(each, "2027-014-2.commission.toml").read_text("utf-8") == OTHER
    assert len(shelf.cards(each)) == 4


@pytest.mark.parametrize(
    "key", ["../ring-a", "a/b", "..", "", ".hidden", "a\\b", "a\0b", "x" * 101, " a", "C:a", "a\n"]
)
def test_a_name_that_is_no_file_s_is_refused(open_: Shelf, key: str) -> None:
    for told in (
        mistakes(shelf.create_commission, open_, COMMISSION, by="page", key=key),
        mistakes(shelf.save_commission, open_, key, COMMISSION, based_on=1, by="page"),
    ):
        assert len(told) == 1 and "is no name of a commission" in told[0]
    assert "there is no commission" in mistakes(shelf.commission, open_, key)[0]


def test_what_is_not_there_is_told(open_: Shelf) -> None:
    assert mistakes(shelf.commission, open_, "ring-b") == [
        "commission: there is no commission 'ring-b'; open one of the first page"
    ]
    assert "'ring-a' has no version 7" in mistakes(shelf.commission, open_, "ring-a", 7)[0]
    assert "there is no commission" in mistakes(shelf.history, open_, "ring-b")[0]
    assert "has no file dossier.json" in mistakes(shelf.dossier_data, open_, "ring-a")[0]
    assert "nothing is kept under 000000000000" in mistakes(shelf.picture, open_, "0" * 64)[0]
    assert "there is no making 9" in mistakes(shelf.making_status, open_, "9")[0]
    assert "there is no commission" in mistakes(shelf.start_making, open_, "ring-b")[0]
    assert shelf.dossier(open_, "ring-b") is None
    file_of(open_, "workshop.toml").unlink()


def test_a_dropped_model_goes_with_its_commission(each: Shelf) -> None:
    kept = shelf.keep_model(each, b"solid one", "C:\\my rings\\a.STL")
    assert (kept.name, kept.size) == ("a.stl", 9)
    saved = shelf.save_commission(each, "ring-a", WITH_MODEL, based_on=1, by="page", model=kept)
    assert saved.model == kept and saved.model_file == "a.stl"
    assert shelf.model_bytes(each, kept.digest) == b"solid one"
    later = shelf.save_commission(each, "ring-a", WITH_MODEL + "# more\n", based_on=2, by="page")
    assert later.model == kept
    if each.folder is not None:
        assert file_of(each, "a.stl").read_bytes() == b"solid one"
        assert read_order(file_of(each)).model == b"solid one"
    assert shelf.take_up(each) == ()


def test_no_model_is_ever_written_over(each: Shelf) -> None:
    first = shelf.keep_model(each, b"solid one", "a.stl")
    shelf.save_commission(each, "ring-a", WITH_MODEL, based_on=1, by="page", model=first)
    assert shelf.keep_model(each, b"solid one", "a.stl").name == "a.stl"
    second = shelf.keep_model(each, b"solid two", "a.stl")
    assert second.name == "a-2.stl"
    text = WITH_MODEL.replace("a.stl", "a-2.stl")
    assert (
        "the text names 'a.stl', the model is 'a-2.stl'"
        in mistakes(shelf.save_commission, each, "ring-a", WITH_MODEL, based_on=2, by="page", model=second)[0]
    )
    shelf.save_commission(each, "ring-a", text, based_on=2, by="page", model=second)
    other = shelf.create_commission(each, WITH_MODEL, by="page", model=first)
    assert other.model == first
    if each.folder is not None:
        assert file_of(each, "a.stl").read_bytes() == b"solid one"
        assert file_of(each, "a-2.stl").read_bytes() == b"solid two"
        file_of(each, "a-3.stl").write_bytes(b"put there by hand")
        assert shelf.keep_model(each, b"solid three", "a.stl").name == "a-4.stl"


def test_a_model_changed_or_taken_away_by_hand(open_: Shelf) -> None:
    file_of(open_, "a.stl").write_bytes(b"solid one")
    file_of(open_).write_text(WITH_MODEL, "utf-8")
    assert shelf.take_up(open_) == ("ring-a",)
    one = shelf.commission(open_, "ring-a")
    file_of(open_, "a.stl").write_bytes(b"solid two")
    assert shelf.take_up(open_) == ("ring-a",)
    two = shelf.commission(open_, "ring-a")
    assert (two.number, two.content) == (one.number + 1, one.content)
    assert one.model is not None and two.model is not None and one.model.digest != two.model.digest
    assert shelf.difference(open_, "ring-a", 2, 3).model == (one.model.digest, two.model.digest)
    file_of(open_, "a.stl").unlink()
    assert shelf.take_up(open_) == ()
    assert shelf.commission(open_, "ring-a").model == two.model
    assert shelf.model_bytes(open_, one.model.digest) == b"solid one"


def test_a_model_that_comes_later_is_found(open_: Shelf) -> None:
    file_of(open_).write_text(WITH_MODEL, "utf-8")
    shelf.take_up(open_)
    assert shelf.commission(open_, "ring-a").model is None
    assert (
        "there is no model 'a.stl'"
        in mistakes(shelf.save_commission, open_, "ring-a", WITH_MODEL + "# more\n", based_on=2, by="page")[0]
    )
    status = shelf.wait_for_making(open_, shelf.start_making(open_, "ring-a"), 20)
    assert [str(one) for one in status.mistakes] == [
        "model.file: there is no model 'a.stl'; drop the model's file, or put it into the folder"
    ]
    file_of(open_, "a.stl").write_bytes(b"solid one")
    assert shelf.take_up(open_) == ("ring-a",)
    assert shelf.commission(open_, "ring-a").model is not None


def test_a_making_of_a_text_with_mistakes_tells_them_all(open_: Shelf) -> None:
    file_of(open_).write_text(COMMISSION.replace('"7 mm"', '"7 grams"').replace('"M"', "4"), "utf-8")
    shelf.take_up(open_)
    status = shelf.wait_for_making(open_, shelf.start_making(open_, "ring-a"), 20)
    assert status.stage is Stage.REFUSED
    assert [one.where.rpartition(": ")[2] for one in status.mistakes] == ["finger.size", "stone[1].length"]
    assert open_._makings.pid is None


@pytest.mark.parametrize("name", ["../secret.stl", "/etc/hostname", "parts/../../secret.stl", "link.stl", "dir/x.stl"])
def test_no_file_outside_the_folder_is_ever_read(open_: Shelf, name: str) -> None:
    assert open_.folder is not None
    secret = open_.folder.parent / "secret.stl"
    secret.write_bytes(b"solid secret")
    (open_.folder / "link.stl").symlink_to(secret)
    (open_.folder.parent / "else").mkdir()
    (open_.folder.parent / "else" / "x.stl").write_bytes(b"solid secret")
    (open_.folder / "dir").symlink_to(open_.folder.parent / "else")
    text = WITH_MODEL.replace("a.stl", name)
    told = mistakes(shelf.save_commission, open_, "ring-a", text, based_on=1, by="page")
    assert told == [f"model.file: '{name}' is not in the workshop's folder; put the model beside the commission"]
    file_of(open_).write_text(text, "utf-8")
    (card,) = shelf.cards(open_)
    assert card.mistakes == tuple(told)
    assert shelf.commission(open_, "ring-a").model is None
    status = shelf.wait_for_making(open_, shelf.start_making(open_, "ring-a"), 20)
    assert [str(one) for one in status.mistakes] == told
    kept = shelf.keep_model(open_, b"solid", name)
    assert "/" not in kept.name and not kept.name.startswith(".")


def test_a_wrong_size_is_refused(open_: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    assert mistakes(shelf.keep_model, open_, b"", "a.stl") == ["a.stl: the file is empty; export the model again"]
    monkeypatch.setattr(shelf, "LARGEST_UPLOAD_BYTES", 2 << 20)
    assert "it has 3 MiB; at most 2 MiB are taken" in mistakes(shelf.keep_model, open_, bytes(3 << 20), "a.stl")[0]
    assert "it has 3 MiB; at most 2 MiB are taken" in mistakes(shelf.look_at_model, open_, bytes(3 << 20), "a.stl")[0]
    assert open_._looking.pid is None


def test_links_to_commissions_are_left_alone(open_: Shelf) -> None:
    assert open_.folder is not None
    elsewhere = open_.folder.parent / "other.toml"
    elsewhere.write_text(OTHER, "utf-8")
    (open_.folder / "linked.commission.toml").symlink_to(elsewhere)
    (open_.folder / "folder.commission.toml").mkdir()
    assert [card.key for card in shelf.cards(open_)] == ["ring-a"]


def test_a_file_that_cannot_be_written_saves_nothing(open_: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(_shelf_folder.os, "fsync", full)
    told = mistakes(shelf.save_commission, open_, "ring-a", OTHER, based_on=1, by="page")
    assert len(told) == 1 and "cannot be written (No space left on device)" in told[0]
    monkeypatch.undo()
    assert shelf.commission(open_, "ring-a").number == 1
    assert open_.folder is not None
    assert file_of(open_).read_text("utf-8") == COMMISSION
    assert not [path for path in open_.folder.iterdir() if ".new-" in path.name]


SAVING = """
import os, sys
from ringwright.desk import _shelf_folder, shelf

where = sys.argv[2]
write = _shelf_folder.write

def killed(db, folder, name, data):
    if where == "before the file":
        os.kill(os.getpid(), 9)
    write(db, folder, name, data)
    os.kill(os.getpid(), 9)

_shelf_folder.write = killed
made = shelf.open_shelf(sys.argv[1])
shelf.save_commission(made, "ring-a", sys.stdin.read(), based_on=1, by="page")
"""


@pytest.mark.parametrize(("where", "versions"), [("before the file", 1), ("after the file", 2)])
def test_a_saving_that_is_killed_leaves_one_text_in_both(folder: Path, where: str, versions: int) -> None:
    with open_shelf(folder) as made:
        shelf.take_up(made)
    child = subprocess.run([sys.executable, "-c", SAVING, str(folder), where], input=OTHER.encode(), check=False)
    assert child.returncode == -9
    with open_shelf(folder) as made:
        shelf.take_up(made)
        found = shelf.commission(made, "ring-a")
        assert found.number == versions
        assert found.content == file_of(made).read_bytes() == (COMMISSION if versions == 1 else OTHER).encode()
        assert shelf.save_commission(made, "ring-a", OTHER + "#\n", based_on=versions, by="page").number == versions + 1


def test_two_programs_on_the_same_folder_see_each_other(folder: Path) -> None:
    with open_shelf(folder) as one, open_shelf(folder) as two:
        shelf.take_up(one)
        shelf.save_commission(one, "ring-a", OTHER, based_on=1, by="one")
        assert shelf.cards(two)[0].version == 2
        with pytest.raises(Conflict):
            shelf.save_commission(two, "ring-a", COMMISSION + "#\n", based_on=1, by="two")


def test_a_database_that_was_lost_is_made_again_from_the_files(folder: Path) -> None:
    with open_shelf(folder) as made:
        shelf.take_up(made)
        shelf.save_commission(made, "ring-a", OTHER, based_on=1, by="page")
    for file in folder.glob("ringwright.sqlite*"):
        file.unlink()
    with open_shelf(folder) as made:
        (card,) = shelf.cards(made)
        assert card.version == 1 and shelf.commission(made, "ring-a").text == OTHER


def test_a_folder_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert "cannot be used as a folder" in mistakes(open_shelf, tmp_path / "file")[0]
    assert "cannot be used as a folder" in mistakes(open_shelf, tmp_path / "file" / "in it")[0]
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "ringwright.sqlite").write_text("no database " * 100)
    assert "is no database, or a damaged one" in mistakes(open_shelf, tmp_path / "shop")[0]


def test_what_differs_is_told_field_by_field(open_: Shelf) -> None:
    changed = (
        COMMISSION.replace('length = "7 mm"', 'length = "7.2 mm"')
        .replace('width = "0.2 in"', 'width = "5.08 mm"')
        .replace("due = 2027-04-30\n", "")
        .replace('budget = "2400"', 'budget = "2500"\ndeposit = "40 %"')
    )
    shelf.save_commission(open_, "ring-a", changed, based_on=1, by="page")
    told = shelf.difference(open_, "ring-a", 1, 2)
    assert {(one.where, str(one.before), str(one.after)) for one in told.fields} == {
        ("commission.due", "2027-04-30", "None"),
        ("stone 'centre', length", "7 mm", "7.2 mm"),
        ("price.budget", "2400", "2500"),
        ("price.deposit", "None", "40 %"),
    }
    assert (told.worked, told.figures, told.verdicts) == (False, (), (None, None))
    assert shelf.difference(open_, "ring-a", 1, 1).fields == ()


def logs_of(made: Shelf, key: str, number: int | None = None) -> list[bytes]:
    """What a making of the commission is given as its log."""
    order = shelf._order(made, key, number or shelf.commission(made, key).number)
    return [] if order.data["log"] is None else [order.attached[-1]]


def test_a_thermocouple_log_is_kept_with_its_commission_with_and_without_a_folder(each: Shelf) -> None:
    kept = shelf.keep_log(each, LOG, "pour.csv")
    assert shelf.model_bytes(each, kept.digest) == LOG
    saved = shelf.save_commission(each, "ring-a", LOGGED, based_on=1, by="page", log=kept)
    assert saved.log == kept and saved.log_file == "pour.csv" and saved.model is None
    assert logs_of(each, "ring-a") == [LOG] and logs_of(each, "ring-a", 1) == []
    if each.folder is not None:
        assert file_of(each, "pour.csv").read_bytes() == LOG
    again = shelf.save_commission(each, "ring-a", LOGGED, based_on=2, by="page")
    assert again.number == 2 and again.log == kept, "the same text and log is no new version"
    titled = LOGGED.replace("market", "# a note\nmarket", 1)
    assert shelf.save_commission(each, "ring-a", titled, based_on=2, by="page").log == kept
    without = shelf.save_commission(each, "ring-a", COMMISSION, based_on=3, by="page")
    assert without.log is None and without.log_file is None


def test_a_log_that_changed_in_the_folder_is_a_new_version_and_one_taken_away_is_still_kept(open_: Shelf) -> None:
    file_of(open_, "pour.csv").write_bytes(LOG)
    file_of(open_).write_text(LOGGED, "utf-8")
    assert shelf.take_up(open_) == ("ring-a",)
    assert logs_of(open_, "ring-a") == [LOG]
    longer = LOG + b"2,870,0,-9.4,0\n"
    file_of(open_, "pour.csv").write_bytes(longer)
    assert shelf.take_up(open_) == ("ring-a",)
    head = shelf.commission(open_, "ring-a")
    assert head.number == 3 and logs_of(open_, "ring-a") == [longer] and logs_of(open_, "ring-a", 2) == [LOG]
    file_of(open_, "pour.csv").unlink()
    assert shelf.take_up(open_) == () and logs_of(open_, "ring-a") == [longer]


def test_logs_that_are_none_are_told(each: Shelf) -> None:
    assert mistakes(shelf.keep_log, each, LOG.replace(b"900", b"hot"), "pour.csv")[0].startswith("pour.csv:3: 'hot' is")
    told = mistakes(shelf.save_commission, each, "ring-a", LOGGED, based_on=1, by="page")
    assert told == ["thermocouple.file: there is no log 'pour.csv'; put the log's file into the folder"]
    outside = LOGGED.replace("pour.csv", "../pour.csv")
    (told_,) = mistakes(shelf.save_commission, each, "ring-a", outside, based_on=1, by="page")
    assert "thermocouple.file" in told_
    kept = shelf.keep_log(each, LOG, "pour.csv")
    (unnamed,) = mistakes(shelf.save_commission, each, "ring-a", COMMISSION, based_on=1, by="page", log=kept)
    assert unnamed == "thermocouple.file: the text does not name the log 'pour.csv'; write its name there"


def filled(made: Shelf) -> None:
    """Everything that a shelf can hold."""
    model = shelf.keep_model(made, bytes(range(256)) * 5000, "a.stl")
    shelf.save_commission(made, "ring-a", WITH_MODEL, based_on=1, by="page – ü", model=model)
    other = shelf.keep_model(made, b"solid two", "a.stl")
    text = WITH_MODEL.replace("a.stl", other.name)
    shelf.save_commission(made, "ring-a", text, based_on=2, by="page", model=other)
    shelf.create_commission(made, OTHER.replace("\n", "\r\n"), by="page", key="ring-b")
    log = shelf.keep_log(made, LOG, "pour.csv")
    shelf.create_commission(made, LOGGED, by="page", key="ring-c", log=log)
    shelf.set_state(made, "ring-b", State.CLOSED)
    shop = shelf.workshop(made)
    shelf.save_workshop(made, WORKSHOP.replace("45.00", "46.00"), based_on=shop.number, by="page")
    from tests.store.put import worked

    with made._store.writing() as db:
        for number in (1, 2, 3):
            worked(db, "ring-a", number, 2, minutes=number, picture=b"picture %d" % number)
        worked(db, "ring-a", 3, 1, minutes=4, worst=None, next_step="", picture=None)


def test_everything_goes_to_plain_files_and_comes_back(each: Shelf, tmp_path: Path, database: str) -> None:
    filled(each)
    shelf.export_to(each, tmp_path / "out")
    out = content(tmp_path / "out")
    assert out["ring-a.commission.toml"] == WITH_MODEL.replace("a.stl", "a-2.stl").encode()
    assert out["ring-b.commission.toml"] == OTHER.replace("\n", "\r\n").encode()
    assert out["a-2.stl"] == b"solid two" and out["pour.csv"] == LOG
    assert {"workshop.toml", "ring-a.dossier/dossier.json", "history/commissions/ring-a/0001.toml"} <= set(out)
    assert bytes(range(256)) * 5000 in out.values()
    read_order(tmp_path / "out" / "ring-a.commission.toml")

    with open_shelf(tmp_path / "back", database=database) as back:
        shelf.import_from(back, tmp_path / "out")
        assert shelf.take_up(back) == ()
        states = list(State)
        assert shelf.cards(back, *states) == shelf.cards(each, *states)
        for key in ("ring-a", "ring-b", "ring-c"):
            assert shelf.history(back, key) == shelf.history(each, key)
            assert shelf.dossier(back, key) == shelf.dossier(each, key)
        assert shelf.workshop_history(back) == shelf.workshop_history(each)
        shelf.export_to(back, tmp_path / "again")
        beside = content(tmp_path / "back", "ringwright.sqlite")
    assert content(tmp_path / "again") == out
    assert beside == {name: data for name, data in out.items() if not name.startswith("history/")}


def test_what_cannot_be_moved_is_told_and_nothing_is_taken(open_: Shelf, tmp_path: Path) -> None:
    filled(open_)
    out = tmp_path / "out"
    shelf.export_to(open_, out)
    assert "the folder is not empty" in mistakes(shelf.export_to, open_, out)[0]
    assert "the shelf is not empty" in mistakes(shelf.import_from, open_, out)[0]
    (tmp_path / "file").write_text("")
    assert "cannot be written" in mistakes(shelf.export_to, open_, tmp_path / "file" / "out")[0]

    def refused(change: Any) -> str:
        broken = tmp_path / "broken"
        shutil.rmtree(broken, ignore_errors=True)
        shutil.copytree(out, broken)
        change(broken)
        with open_shelf(tmp_path / "new") as new:
            (told,) = mistakes(shelf.import_from, new, broken)
            assert shelf.cards(new, *State) == ()
        return told

    def manifest(change: Any) -> Any:
        def changed(broken: Path) -> None:
            file = broken / "history" / "shelf.json"
            data = json.loads(file.read_bytes())
            change(data)
            file.write_text(json.dumps(data))

        return changed

    (model,) = {path.name for path in (out / "history" / "models").iterdir()} - {
        shelf.commission(open_, "ring-a").model.digest
    }  # type: ignore[union-attr]
    assert "cannot be read" in refused(lambda broken: (broken / "history" / "shelf.json").unlink())
    assert "cannot be read" in refused(
        lambda broken: (broken / "history" / "commissions" / "ring-a" / "0002.toml").unlink()
    )
    assert "is not the model that it was" in refused(
        lambda broken: (broken / "history" / "models" / model).write_bytes(b"x")
    )
    assert "is not whole" in refused(lambda broken: (broken / "history" / "shelf.json").write_text("{"))
    assert "is of another form" in refused(manifest(lambda data: data.update(format="other")))
    assert "is not whole" in refused(manifest(lambda data: data["commissions"][0].pop("versions")))
    assert "is no name of a commission" in refused(manifest(lambda data: data["commissions"][0].update(key="../x")))
    assert "is not whole" in refused(
        manifest(lambda data: data["commissions"][0]["dossiers"][0].update(files=["../../../../etc/hostname"]))
    )
    assert "is not whole" in refused(
        manifest(lambda data: data["commissions"][0]["versions"][1].update(model="../../secret"))
    )
    assert "is not whole" in refused(
        manifest(lambda data: data["commissions"][0]["versions"][1].update(model_file="../../a.stl"))
    )
