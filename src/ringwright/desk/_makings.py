"""Makings in the background: one after the other, in one process beside this one, each told, stopped and ended by name.

One process and not two: a making uses every core by itself, and the second of two at once would only slow the first.
The process keeps what it worked, so that a change of the brief works only what depends on it.
"""

from __future__ import annotations

import datetime as dt
import json
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from ringwright.desk._worker import Ended, Limits, Worker
from ringwright.terms.mistake import BadInput, ComputingFault, Mistake, Stopped, bad
from ringwright.terms.order import STEPS
from ringwright.terms.remark import Level

KEPT_JOBS = 200
"""So many makings that are over are remembered."""


class Stage(StrEnum):
    """How far a making is."""

    WAITING = "waiting"
    WORKING = "working"
    WRITING = "writing"
    DONE = "done"
    STOPPED = "stopped"
    REFUSED = "refused"
    FAILED = "failed"

    @property
    def over(self) -> bool:
        """Whether nothing more will come."""
        return self in (Stage.DONE, Stage.STOPPED, Stage.REFUSED, Stage.FAILED)


@dataclass(frozen=True, kw_only=True)
class Status:
    """How a making goes.

    ``share`` (0 to 1) and ``doing`` ("wear: strength on a hand") are the last that was told; ``step`` is the step's
    name. ``worked`` and ``kept`` are the steps whose results were worked anew, and those that were kept from before.
    From the stage "writing" on the figures are there (:func:`ringwright.desk.shelf.making_figures`), before papers and
    solids are written. ``mistakes`` where it was refused (bad input), ``fault`` one sentence where it failed, ``note``
    what was in the way of writing the dossier's folder. ``seconds`` since it began to be worked.
    """

    job: str
    key: str
    version: int
    stage: Stage
    share: float = 0.0
    doing: str = ""
    step: str = ""
    worked: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    seconds: float = 0.0
    verdict: Level | None = None
    mistakes: tuple[Mistake, ...] = ()
    fault: str = ""
    note: str = ""


@dataclass(frozen=True)
class Order:
    """What a making needs: its fields as :func:`ringwright.desk._tasks.make` takes them, and its files."""

    key: str
    version: int
    data: dict[str, Any]
    attached: tuple[bytes, ...]


@dataclass
class _Job:
    """A making as it stands; only ever touched under the lock."""

    status: Status
    read: Callable[[], Order] | None
    stop: threading.Event = field(default_factory=threading.Event)
    begun: float | None = None
    figures: bytes | None = None

    def shown(self) -> Status:
        if self.begun is None or self.status.stage.over:
            return self.status
        return replace(self.status, seconds=time.monotonic() - self.begun)


class Makings:
    """The makings of a shelf. Safe to call from several threads."""

    def __init__(self, task: str = "ringwright.desk._tasks:make") -> None:
        self._task = task
        self._worker = Worker(Limits(nice=5), idle_s=900.0)
        self._lock = threading.Lock()
        self._jobs: OrderedDict[str, _Job] = OrderedDict()
        self._wake = threading.Condition(self._lock)
        self._thread: threading.Thread | None = None
        self._count = 0
        self._closed = False

    def begin(self, key: str, version: int, read: Callable[[], Order]) -> str:
        """Begin a making when those before it are over; its name. ``read`` gives what it needs, when its turn comes.

        A making of the same commission that is not over is stopped.
        """
        with self._lock:
            if self._closed:
                raise bad("making", "the shelf is closed", "open it again")
            for job in self._jobs.values():
                if job.status.key == key:
                    self._stop(job)
            self._count += 1
            name = str(self._count)
            status = Status(job=name, key=key, version=version, stage=Stage.WAITING, doing="waiting for its turn")
            self._jobs[name] = _Job(status, read)
            self._forget()
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="makings", daemon=True)
                self._thread.start()
            self._wake.notify_all()
        return name

    def status(self, job: str) -> Status:
        """How a making goes. Raises ``BadInput`` where there is none of that name."""
        with self._lock:
            return self._job(job).shown()

    def all(self) -> tuple[Status, ...]:
        """All makings that are remembered, the newest first."""
        with self._lock:
            return tuple(job.shown() for job in reversed(self._jobs.values()))

    def figures(self, job: str) -> dict[str, Any] | None:
        """The data of the dossier as soon as they are worked, before its files are written; None until then."""
        with self._lock:
            told = self._job(job).figures
        found: dict[str, Any] | None = None if told is None else json.loads(told)
        return found

    def stop(self, job: str) -> None:
        """Stop a making; returns at once."""
        with self._lock:
            self._stop(self._job(job))

    def wait(self, job: str, seconds: float) -> Status:
        """Wait until a making is over, at most so long; how it goes then."""
        with self._lock:
            found = self._job(job)
            self._wake.wait_for(lambda: found.status.stage.over, seconds)
            return found.shown()

    @property
    def pid(self) -> int | None:
        """The number of the process in which makings are worked, while it lives."""
        return self._worker.pid

    def warm_up(self) -> None:
        """Start the process, so that it is there when it is needed."""
        self._worker.start()

    def close(self) -> None:
        """Stop every making and end the process."""
        with self._lock:
            self._closed = True
            for job in self._jobs.values():
                self._stop(job)
            self._wake.notify_all()
            thread = self._thread
        self._worker.end()
        if thread is not None:
            thread.join(timeout=10.0)

    def _job(self, name: str) -> _Job:
        if name not in self._jobs:
            raise bad("making", f"there is no making {name}", "start one")
        return self._jobs[name]

    def _stop(self, job: _Job) -> None:
        job.stop.set()
        if job.status.stage is Stage.WAITING:
            self._over(job, Stage.STOPPED)

    def _over(self, job: _Job, stage: Stage, **more: Any) -> None:
        seconds = 0.0 if job.begun is None else time.monotonic() - job.begun
        job.status = replace(job.status, stage=stage, seconds=seconds, **more)
        job.read = None
        self._wake.notify_all()

    def _forget(self) -> None:
        over = [name for name, job in self._jobs.items() if job.status.stage.over]
        for name in over[: max(0, len(self._jobs) - KEPT_JOBS)]:
            del self._jobs[name]
        with_figures = [job for job in self._jobs.values() if job.figures is not None and job.status.stage.over]
        for job in with_figures[:-4]:
            job.figures = None

    def _next(self) -> _Job | None:
        """Wait for the next making that waits; None when there will be none."""
        with self._lock:
            while True:
                if self._closed:
                    return None
                for job in self._jobs.values():
                    if job.status.stage is Stage.WAITING:
                        job.begun = time.monotonic()
                        job.status = replace(job.status, stage=Stage.WORKING, doing="reading the files")
                        return job
                self._wake.wait()

    def _work(self) -> None:
        while (job := self._next()) is not None:
            try:
                self._worked(job)
            except Exception as fault:  # the thread must outlive whatever one making does
                with self._lock:
                    says = f"Ringwright itself failed ({type(fault).__name__}: {fault})"
                    self._over(job, Stage.FAILED, fault=says)

    def _worked(self, job: _Job) -> None:
        assert job.read is not None
        more: dict[str, Any] = {}
        try:
            order = job.read()
            answer, _ = self._worker.ask(
                self._task,
                order.data | {"now": dt.datetime.now(dt.UTC).isoformat()},
                order.attached,
                tell=lambda data, parts: self._told(job, data, parts),
                stop=job.stop,
            )
        except Stopped:
            stage = Stage.STOPPED
        except BadInput as fault:
            stage, more = Stage.REFUSED, {"mistakes": fault.mistakes}
        except ComputingFault as fault:
            stage, more = Stage.FAILED, {"fault": f"a computation failed its own check: {fault}"}
        except MemoryError:
            stage, more = Stage.FAILED, {"fault": "it needed more memory than there is"}
        except Ended as fault:
            stage, more = Stage.FAILED, {"fault": str(fault)}
        else:
            stage = Stage.DONE
            more = {"verdict": Level(answer["verdict"]), "note": answer["note"], "share": 1.0, "doing": "", "step": ""}
        with self._lock:
            self._over(job, stage, **more)

    def _told(self, job: _Job, data: dict[str, Any], parts: list[bytes]) -> None:
        with self._lock:
            if "figures" in data:
                job.figures = parts[0]
                job.status = replace(job.status, stage=Stage.WRITING)
            elif "worked" in data:
                job.status = replace(job.status, worked=tuple(data["worked"]), kept=tuple(data["kept"]))
            else:
                doing = data["doing"]
                said = doing.partition(":")[0]
                step = said if said in _NAMES else job.status.step
                job.status = replace(job.status, share=data["share"], doing=doing, step=step)


_NAMES = {step.name for step in STEPS}
