"""A process that is killed leaves the store whole: what was told as saved is there, what was not finished is not."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from ringwright.store import Store, commissions
from tests.store.put import add, worked

HALFWAY = """
import sys, time
from ringwright.store import Store
from tests.store.put import add, worked

store = Store(sys.argv[1])
with store.writing() as db:
    add(db, "ring-a", b"never", 1)
    worked(db, "ring-a", 2, files={f"{n}.stl": bytes([n]) * 3_000_000 for n in range(8)})
    add(db, "ring-b", b"never")
    print("halfway", flush=True)
    time.sleep(60)
"""

AGAIN_AND_AGAIN = """
import sys
from ringwright.store import Store
from tests.store.put import add

store = Store(sys.argv[1])
number = 1
while True:
    with store.writing() as db:
        add(db, "ring-a", b"%d" % (number + 1), number)
    number += 1
    print(number, flush=True)
"""


@contextmanager
def running(program: str, url: str) -> Iterator[subprocess.Popen[str]]:
    child = subprocess.Popen([sys.executable, "-c", program, url], stdout=subprocess.PIPE, text=True)
    try:
        yield child
    finally:
        child.kill()
        child.wait()


@pytest.fixture
def with_ring(ready: str) -> str:
    store = Store(ready)
    with store.writing() as db:
        add(db, "ring-a", b"1")
        worked(db, "ring-a", 1)
    store.close()
    return ready


def test_killed_in_the_middle_of_a_transaction(with_ring: str) -> None:
    with running(HALFWAY, with_ring) as child:
        assert child.stdout is not None and child.stdout.readline() == "halfway\n"
        child.send_signal(signal.SIGKILL)
        child.wait()
    store = Store(with_ring)
    with store.writing() as db:
        if with_ring.startswith("sqlite"):
            assert db.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
            assert db.exec_driver_sql("PRAGMA foreign_key_check").all() == []
        assert [one.content for one in commissions.versions(db, "ring-a")] == [b"1"]
        assert commissions.version(db, "ring-b") is None
        assert db.exec_driver_sql("SELECT count(*) FROM dossier_file").scalar() == 3
        assert add(db, "ring-a", b"2", 1).number == 2
    store.close()


def test_what_was_told_as_saved_is_there_after_a_kill(with_ring: str) -> None:
    with running(AGAIN_AND_AGAIN, with_ring) as child:
        assert child.stdout is not None
        told = [int(child.stdout.readline()) for _ in range(25)]
        child.send_signal(signal.SIGKILL)
        child.wait()
        told += [int(line) for line in child.stdout if line.endswith("\n")]
    store = Store(with_ring)
    with store.reading() as db:
        found = [one.content for one in reversed(commissions.versions(db, "ring-a"))]
    store.close()
    # The last one may have been saved and its process killed before it could say so.
    assert len(found) in (told[-1], told[-1] + 1)
    assert found == [b"%d" % (number + 1) for number in range(len(found))]
