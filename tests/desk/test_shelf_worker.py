"""A process that works for this one: whatever a task does, this process stays and says what happened."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk import _worker
from ringwright.desk._worker import Ended, Late, Limits, Worker
from ringwright.terms.mistake import BadInput, ComputingFault, Mistake, Stopped

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def tests_are_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", str(ROOT))


@pytest.fixture
def worker() -> Iterator[Worker]:
    made = Worker(Limits(threads=1))
    yield made
    made.end()


def ask(worker: Worker, task: str, **more: Any) -> Any:
    return worker.ask(f"tests.desk.tasks:{task}", {"a": 1}, **more)


def gone(pid: int, seconds: float = 5.0) -> bool:
    """Whether a process ends within that time."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        try:
            os.kill(pid, 0)
            if Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
                return True
        except (ProcessLookupError, FileNotFoundError):
            return True
        time.sleep(0.02)
    return False


def test_a_task_is_told_answered_and_not_disturbed_by_what_is_printed(worker: Worker) -> None:
    told: list[Any] = []
    large = os.urandom(5_000_000)
    data, parts = ask(worker, "echo", attached=[large, b""], tell=lambda data, parts: told.append((data, parts)))
    assert data["a"] == 1 and data["pid"] == worker.pid != os.getpid()
    assert parts == [large[::-1], b""]
    assert told == [({"share": 0.25, "doing": "a quarter"}, []), ({"more": 1}, [b"told"])]
    again, _ = ask(worker, "echo")
    assert again["pid"] == data["pid"]


def test_what_a_task_raises_comes_back_as_what_it_is(worker: Worker) -> None:
    with pytest.raises(BadInput) as fault:
        ask(worker, "refuse")
    assert fault.value.mistakes == (Mistake("a", "b", "c"), Mistake("", "d", ""))
    pid = worker.pid
    with pytest.raises(ComputingFault, match=r"the residual is 0\.2"):
        ask(worker, "not_converge")
    assert worker.pid == pid
    with pytest.raises(Ended, match=r"Ringwright itself failed \(KeyError: 'nothing'\)"):
        ask(worker, "fail")
    assert worker.pid is None
    assert ask(worker, "echo")[0]["a"] == 1


def test_a_task_may_not_take_more_memory_than_it_has() -> None:
    worker = Worker(Limits(memory_bytes=1 << 30, threads=1, nice=3))
    with pytest.raises(MemoryError):
        ask(worker, "hog")
    assert ask(worker, "echo")[0]["nice"] == os.nice(0) + 3
    worker.end()


def test_a_task_may_not_take_more_time_than_it_has(worker: Worker) -> None:
    ask(worker, "echo")
    pid = worker.pid
    begun = time.monotonic()
    with pytest.raises(Late):
        ask(worker, "ignore", seconds=0.3)
    assert time.monotonic() - begun < 3
    assert pid is not None and gone(pid)


def when_told(worker: Worker, task: str, then: Callable[[], None], **more: Any) -> None:
    """Ask, and do something as soon as the task tells that it is at work."""
    ask(worker, task, tell=lambda *_: then(), **more)


def test_a_task_stops_when_it_is_asked_to(worker: Worker) -> None:
    stop = threading.Event()
    with pytest.raises(Stopped):
        when_told(worker, "obey", stop.set, stop=stop)
    pid = worker.pid
    assert ask(worker, "echo")[0]["pid"] == pid


def test_a_task_that_does_not_stop_is_ended(worker: Worker, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_worker, "STOP_WAIT_S", 0.3)
    stop = threading.Event()
    with pytest.raises(Stopped):
        when_told(worker, "ignore", stop.set, stop=stop)
    assert worker.pid is None
    assert ask(worker, "echo")[0]["a"] == 1


def test_a_process_that_is_ended_from_outside_or_crashes_is_told(worker: Worker) -> None:
    def kill() -> None:
        assert worker.pid is not None
        os.kill(worker.pid, signal.SIGKILL)

    with pytest.raises(Ended, match=r"ended from outside \(signal 9\), most likely for want of memory"):
        when_told(worker, "ignore", kill)
    with pytest.raises(Ended, match="signal 11"):
        ask(worker, "crash")
    assert ask(worker, "echo")[0]["a"] == 1


def test_several_threads_wait_their_turn(worker: Worker) -> None:
    found: list[Any] = []
    threads = [threading.Thread(target=lambda: found.append(ask(worker, "echo")[0]["pid"])) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert len(found) == 4 and len(set(found)) == 1


def test_an_idle_process_is_ended_and_a_closed_worker_works_no_more() -> None:
    worker = Worker(Limits(), idle_s=0.3)
    ask(worker, "echo")
    pid = worker.pid
    assert pid is not None and gone(pid)
    assert ask(worker, "echo")[0]["pid"] != pid
    with pytest.raises(Stopped):
        when_told(worker, "ignore", lambda: threading.Thread(target=worker.end).start())
    with pytest.raises(Stopped):
        ask(worker, "echo")


PARENT = """
import sys
from ringwright.desk._worker import Limits, Worker
worker = Worker(Limits())
worker.ask("tests.desk.tasks:ignore", {}, tell=lambda *_: print(worker.pid, flush=True))
"""


def test_when_this_process_is_killed_the_other_one_ends() -> None:
    parent = subprocess.Popen([sys.executable, "-c", PARENT], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    pid = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    parent.stdout.close()
    assert gone(pid)
