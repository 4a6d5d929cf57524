"""Commissions, the workshop, contents and dossiers, on both databases."""

from __future__ import annotations

import datetime as dt
import random

import pytest
import sqlalchemy as sa

from ringwright.store import Store, blobs, commissions, dossiers, seen, workshops
from ringwright.store.kept import Conflict, ModelKept, State
from ringwright.store.seen import Look
from ringwright.terms.mistake import BadInput
from tests.store.put import NOW, add, later, worked

DUE = dt.date(2027, 4, 30)


def test_versions_are_kept_as_written(store: Store) -> None:
    content = '[commission]\r\ntitle = "Ünïcode"\r\n'.encode() + b"\xff\x00"
    with store.writing() as db:
        model = blobs.put(db, b"solid", NOW)
        add(db, "ring-a", b"one", order_number="1", title="Ring", due=DUE)
        add(db, "ring-a", content, 1, minutes=1, mistakes=("a", "b"), model_digest=model, model_name="a.stl")
    with store.reading() as db:
        two, one = commissions.versions(db, "ring-a")
        assert commissions.version(db, "ring-a") == two
        assert commissions.version(db, "ring-a", 1) == one
        assert commissions.version(db, "ring-a", 3) is None
        assert commissions.version(db, "ring-b") is None
    assert (one.number, one.based_on, one.saved_at, one.by, one.content) == (1, None, NOW, "this page", b"one")
    assert (one.order_number, one.title, one.due, one.model) == ("1", "Ring", DUE, None)
    assert (two.number, two.based_on, two.saved_at, two.content) == (2, 1, later(1), content)
    assert (two.mistakes, two.model_file, two.model) == (
        ("a", "b"),
        "a.stl",
        ModelKept(digest=model, size=5, name="a.stl"),
    )
    assert (one.newest, two.newest) == (False, True)


def test_the_same_text_and_model_is_no_new_version(store: Store) -> None:
    with store.writing() as db:
        first = add(db, "ring-a", b"one")
        assert add(db, "ring-a", b"one", 1, minutes=5) == first
        model = blobs.put(db, b"solid", NOW)
        assert add(db, "ring-a", b"one", 1, model_digest=model, model_name="a.stl").number == 2


def test_two_who_began_from_the_same_version_do_not_overwrite_each_other(store: Store) -> None:
    with store.writing() as db:
        add(db, "ring-a", b"one")
        add(db, "ring-a", b"two", 1, minutes=7)
    with pytest.raises(Conflict) as fault, store.writing() as db:
        add(db, "ring-a", b"other", 1, minutes=9)
    assert (fault.value.based_on, fault.value.head.number, fault.value.head.content) == (1, 2, b"two")
    assert str(fault.value) == (
        "commission 'ring-a': commission 'ring-a' was changed by this page at 2027-01-02 03:11 (version 2; yours began"
        " from 1); look at both, and save yours upon the newer one"
    )
    assert isinstance(fault.value, BadInput)
    with store.writing() as db:
        assert [one.content for one in commissions.versions(db, "ring-a")] == [b"two", b"one"]
        assert add(db, "ring-a", b"other", 2).number == 3


def test_a_fault_undoes_the_whole_transaction(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.writing() as db:
        add(db, "ring-a", b"one")
        blobs.put(db, b"solid", NOW)
        raise ZeroDivisionError
    with store.reading() as db:
        assert commissions.version(db, "ring-a") is None
        assert blobs.size(db, blobs.digest_of(b"solid")) is None


def test_rules_of_the_tables_are_kept_by_the_database(store: Store) -> None:
    with pytest.raises(sa.exc.IntegrityError), store.writing() as db:
        add(db, "ring-a", b"one", model_digest="0" * 64, model_name="a.stl")
    with store.writing() as db:
        add(db, "ring-a", b"one")
    with pytest.raises(sa.exc.IntegrityError), store.writing() as db:
        db.exec_driver_sql("UPDATE commission SET state = 'lost'")
    with pytest.raises(sa.exc.IntegrityError), store.writing() as db:
        commissions.begin(db, "ring-a", State.OPEN, 1)


def test_a_moment_without_a_zone_is_refused(store: Store) -> None:
    with pytest.raises(sa.exc.StatementError, match="has no zone"), store.writing() as db:
        workshops.add(db, b"shop", based_on=None, by="x", now=dt.datetime(2027, 1, 1))


def test_the_workshop_has_versions_too(store: Store) -> None:
    with store.writing() as db:
        assert workshops.version(db) is None
        workshops.add(db, b"one", based_on=None, by="a", now=NOW)
        workshops.add(db, b"two", based_on=1, by="b", now=later(1), mistakes=("wrong",))
    with pytest.raises(Conflict, match="the workshop was changed by b"), store.writing() as db:
        workshops.add(db, b"three", based_on=1, by="a", now=later(2))
    with store.reading() as db:
        assert [(one.number, one.content, one.mistakes) for one in workshops.versions(db)] == [
            (2, b"two", ("wrong",)),
            (1, b"one", ()),
        ]


def test_cards_are_one_query_and_in_the_order_of_the_promise(store: Store) -> None:
    with store.writing() as db:
        workshops.add(db, b"shop", based_on=None, by="a", now=NOW)
        add(db, "none", b"1", order_number="1")
        add(db, "late", b"2", order_number="2", due=DUE)
        add(db, "soon", b"3", order_number="3", due=dt.date(2027, 2, 1), title="First", mistakes=("wrong",))
        add(db, "shut", b"4", order_number="4", due=DUE)
        commissions.set_state(db, "shut", State.CLOSED)
        worked(db, "late", 1, 1, minutes=1)
        worked(db, "none", 1, 1, minutes=2)
        worked(db, "none", 1, None, minutes=1, next_step="older")
    said: list[str] = []
    with store.reading() as db:
        sa.event.listen(db, "before_cursor_execute", lambda *a: said.append(a[2]))
        cards = commissions.cards(db, [State.OPEN])
        assert len([one for one in said if not one.startswith(("BEGIN", "SET"))]) == 1
        assert [card.key for card in commissions.cards(db, list(State))] == ["soon", "late", "shut", "none"]
    assert [card.key for card in cards] == ["soon", "late", "none"]
    soon, late, none = cards
    assert (soon.title, soon.due, soon.mistakes, soon.dossier) == ("First", dt.date(2027, 2, 1), ("wrong",), None)
    assert soon.stale == "not worked through yet"
    assert soon.next_step == "mend the brief: it cannot be read"
    assert late.dossier is not None and late.stale == "" and late.next_step == "Print the pattern"
    assert late.dossier.worst == {"step": "wear", "says": "thin – 0.8 mm"}
    assert none.dossier is not None and none.dossier.made_at == later(2)


def test_a_card_says_what_changed_since_it_was_worked(store: Store) -> None:
    def stale() -> str:
        with store.reading() as db:
            (card,) = commissions.cards(db, [State.OPEN])
        assert card.stale == "" or card.next_step == "work it through"
        return card.stale

    with store.writing() as db:
        workshops.add(db, b"shop", based_on=None, by="a", now=NOW)
        add(db, "ring-a", b"1")
        worked(db, "ring-a", 1, 1)
    assert stale() == ""
    with store.writing() as db:
        workshops.add(db, b"other shop", based_on=1, by="a", now=NOW)
    assert stale() == "the workshop was changed since it was worked through"
    with store.writing() as db:
        worked(db, "ring-a", 1, 2)
        add(db, "ring-a", b"2", 1)
    assert stale() == "the brief was changed since it was worked through"


def test_contents_of_every_size_come_back_and_stand_once(store: Store) -> None:
    chance = random.Random(1)
    many = [b"", b"x", b"abc" * 700_000, chance.randbytes(blobs.PART_BYTES), chance.randbytes(2 * blobs.PART_BYTES + 7)]
    with store.writing() as db:
        digests = [blobs.put(db, data, NOW) for data in many]
        assert [blobs.put(db, data, later(1)) for data in many] == digests
    with store.reading() as db:
        assert [blobs.get(db, digest) for digest in digests] == many
        assert [blobs.size(db, digest) for digest in digests] == [len(data) for data in many]
        assert [len(part) for part in blobs.parts(db, digests[4])] == [blobs.PART_BYTES, blobs.PART_BYTES, 7]
        packed = db.exec_driver_sql("SELECT sum(length(data)) FROM blob_part").scalar_one()
        assert packed < sum(len(data) for data in many) - 2_000_000
        with pytest.raises(KeyError):
            blobs.get(db, "0" * 64)


def test_what_nothing_refers_to_is_removed_when_it_is_old(store: Store) -> None:
    with store.writing() as db:
        model, other, fresh = (blobs.put(db, data, NOW) for data in (b"model", b"other", b"fresh"))
        add(db, "ring-a", b"1", model_digest=model, model_name="a.stl")
        worked(db, "ring-a", 1)
        blobs.put(db, b"fresh", later(20))
        assert not blobs.unused(db, NOW)
        assert blobs.unused(db, later(10))
        assert blobs.sweep(db, later(10)) == 1
        assert blobs.size(db, other) is None
        assert blobs.get(db, model) == b"model" and blobs.get(db, fresh) == b"fresh"
        assert dossiers.newest(db, "ring-a") is not None
        assert db.exec_driver_sql("SELECT count(*) FROM blob_part").scalar() == 6  # model, fresh, picture, three files


def test_a_dossier_takes_the_place_of_the_former_one(store: Store) -> None:
    with store.writing() as db:
        add(db, "ring-a", b"1")
        worked(db, "ring-a", 1, 1)
        kept = worked(db, "ring-a", 1, 1, minutes=1, files={"dossier.json": b"{ }"}, picture=None)
        assert kept.files == (("dossier.json", 3),) and kept.picture is None
        assert dossiers.newest(db, "ring-a") == kept
        assert dossiers.file_digest(db, "ring-a", "ring.glb") is None
        assert blobs.get(db, dossiers.file_digest(db, "ring-a", "dossier.json") or "") == b"{ }"
        with pytest.raises(KeyError):
            worked(db, "ring-a", 2)
        assert dossiers.newest(db, "ring-a", 2) is None and dossiers.newest(db, "ring-b") is None


def test_older_dossiers_keep_figures_and_papers_but_no_solids(store: Store) -> None:
    with store.writing() as db:
        for number in (1, 2, 3):
            add(db, "ring-a", b"%d" % number, number - 1 or None)
            worked(db, "ring-a", number, files={f"v{number}.STL.glb": b"x", "pattern.stl": b"y", "a.pdf": b"z"})
        names = [[name for name, _ in kept.files] for n in (1, 2, 3) if (kept := dossiers.newest(db, "ring-a", n))]
        newest = dossiers.newest(db, "ring-a")
        assert newest is not None and newest.version == 3
        assert [list(files) for _, files in dossiers.all_of(db, "ring-a")] == names
    assert names == [["a.pdf"], ["a.pdf", "pattern.stl", "v2.STL.glb"], ["a.pdf", "pattern.stl", "v3.STL.glb"]]


def test_looks_at_files_are_noted_for_each_folder(store: Store) -> None:
    with store.writing() as db:
        seen.note(db, "", "a", Look(1, 2, 3, "d"))
        seen.note(db, "", "a", Look(4, 2**62, 6, "e"))
        seen.note(db, "other", "a", Look(1, 2, 3, "d"))
        assert seen.looks(db, "") == {"a": Look(4, 2**62, 6, "e")}
        seen.forget(db, "", "a")
        assert seen.looks(db, "") == {} and len(seen.looks(db, "other")) == 1
