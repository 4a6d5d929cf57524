"""A process that works for this one: one task after another, within limits, stopped or ended when that is asked.

It is started as ``python -m ringwright.desk._working`` and spoken to through its standard input and output, in frames:
the length of a JSON text, the text, and the bytes that it says are attached. Nothing that comes from it is unpickled or
run, so a file that took it over could only answer wrongly. When this process ends, however it ends, the other one sees
its input close and ends too.
"""

from __future__ import annotations

import json
import os
import queue
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import IO, Any

from ringwright.terms.mistake import BadInput, ComputingFault, Mistake, Stopped

STOP_WAIT_S = 3.0
"""A task that was asked to stop has so long to do so; then its process is ended."""

_LONGEST_TEXT = 64 << 20
_HEAD = struct.Struct(">Q")

Frame = tuple[dict[str, Any], list[bytes]]


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What a process may have: address space, threads of computation, and how far it steps back for others."""

    memory_bytes: int | None = None
    threads: int | None = None
    nice: int = 0


class Ended(Exception):
    """The process ended before it answered. Says why, as far as that is known, in one sentence."""


class Late(Exception):
    """The process did not answer in its time and was ended."""


class Worker:
    """One such process, started when it is needed and ended when it was idle for ``idle_s``.

    Tasks are named ``module:function``; the function is called with the data, the attached bytes, and a function to
    tell what it does, and gives plain data and bytes back. Safe to call from several threads: they wait their turn.
    """

    def __init__(self, limits: Limits, *, idle_s: float = 300.0) -> None:
        self._limits = limits
        self._idle_s = idle_s
        self._turn = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._heard: queue.SimpleQueue[Frame | None] = queue.SimpleQueue()
        self._said = _at_once()
        self._timer: threading.Timer | None = None
        self._closed = False

    @property
    def pid(self) -> int | None:
        """The process's number while it lives."""
        process = self._process
        return process.pid if process is not None and process.poll() is None else None

    def ask(
        self,
        task: str,
        data: dict[str, Any],
        attached: Sequence[bytes] = (),
        *,
        seconds: float | None = None,
        tell: Callable[[dict[str, Any], list[bytes]], None] | None = None,
        stop: threading.Event | None = None,
    ) -> Frame:
        """Let the task be done; what it gives.

        ``tell`` is called with what it tells on the way; ``stop`` stops it when it is set. Raises what the task raises
        of ``BadInput``, ``ComputingFault``, ``Stopped`` and ``MemoryError``; :class:`Late` after ``seconds``;
        :class:`Ended` where the process ended or failed in any other way.
        """
        with self._turn:
            if self._closed:
                raise Stopped
            self._keep_alive()
            try:
                return self._asked(task, data, attached, seconds, tell, stop)
            except (BadInput, ComputingFault, Stopped):
                raise
            except BaseException as fault:
                self._end()
                if self._closed:
                    raise Stopped from fault
                raise
            finally:
                self._rest()

    def end(self) -> None:
        """End the process for good; a task that is being done is stopped there and then."""
        self._closed = True
        process = self._process
        if process is not None:
            process.kill()
        with self._turn:
            self._end()

    def _asked(
        self,
        task: str,
        data: dict[str, Any],
        attached: Sequence[bytes],
        seconds: float | None,
        tell: Callable[[dict[str, Any], list[bytes]], None] | None,
        stop: threading.Event | None,
    ) -> Frame:
        process = self._process
        assert process is not None and process.stdin is not None
        self._say(process, {"task": task, "data": data}, attached)
        begun, asked_to_stop = time.monotonic(), None
        while True:
            try:
                frame = self._heard.get(timeout=0.05)
            except queue.Empty:
                now = time.monotonic()
                if seconds is not None and now - begun > seconds:
                    self._end()
                    raise Late from None
                if stop is not None and stop.is_set():
                    if asked_to_stop is None:
                        asked_to_stop = now
                        self._say(process, {"stop": True})
                    elif now - asked_to_stop > STOP_WAIT_S:
                        self._end()
                        raise Stopped from None
                continue
            if frame is None:
                raise _ended(process, stop)
            said, parts = frame
            if said["kind"] != "told":
                return _answer(said, parts)
            if tell is not None:
                tell(said["data"], parts)

    def _say(self, process: subprocess.Popen[bytes], data: dict[str, Any], attached: Sequence[bytes] = ()) -> None:
        """Say something without waiting until it is heard; what is said first is heard first."""
        first, said = self._said, threading.Event()

        def speak() -> None:
            first.wait()
            with suppress(OSError, ValueError):  # that the process has ended is seen where it is heard
                assert process.stdin is not None
                send(process.stdin, data, attached)
            said.set()

        self._said = said
        threading.Thread(target=speak, daemon=True).start()

    def start(self) -> None:
        """Start the process where there is none, without waiting for it."""
        if self._turn.acquire(blocking=False):
            try:
                if not self._closed:
                    self._keep_alive()
                    self._rest()
            finally:
                self._turn.release()

    def _keep_alive(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        if self._process is not None and self._process.poll() is None:
            return
        self._end()
        told = {"memory_bytes": self._limits.memory_bytes, "threads": self._limits.threads, "nice": self._limits.nice}
        environment = dict(os.environ)
        if self._limits.threads is not None:
            for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
                environment[name] = str(self._limits.threads)
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "ringwright.desk._working", json.dumps(told)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=None if os.environ.get("RINGWRIGHT_TRACE") else subprocess.DEVNULL,
            env=environment,
            start_new_session=True,
        )
        self._heard = queue.SimpleQueue()
        self._said = _at_once()
        threading.Thread(target=_listen, args=(self._process.stdout, self._heard), daemon=True).start()

    def _rest(self) -> None:
        """Let the process live on for a while, in case that there is more to do."""
        self._timer = threading.Timer(self._idle_s, self._end_if_idle)
        self._timer.daemon = True
        self._timer.start()

    def _end_if_idle(self) -> None:
        if self._turn.acquire(blocking=False):
            try:
                self._end()
            finally:
                self._turn.release()

    def _end(self) -> None:
        process, self._process = self._process, None
        if self._timer is not None:
            self._timer.cancel()
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()


def _at_once() -> threading.Event:
    event = threading.Event()
    event.set()
    return event


def _ended(process: subprocess.Popen[bytes], stop: threading.Event | None) -> Exception:
    if stop is not None and stop.is_set():
        return Stopped()
    with suppress(subprocess.TimeoutExpired):
        process.wait(timeout=2.0)
    status = process.returncode
    if status is not None and status < 0:
        return Ended(f"its process was ended from outside (signal {-status}), most likely for want of memory")
    return Ended(f"its process ended by itself (status {status})")


def _answer(said: dict[str, Any], parts: list[bytes]) -> Frame:
    if said["kind"] == "done":
        return said["data"], parts
    if said["kind"] == "bad":
        raise BadInput(*(Mistake(*one) for one in said["mistakes"]))
    if said["kind"] == "stopped":
        raise Stopped
    if said["kind"] == "computing":
        raise ComputingFault(said["says"])
    if said["kind"] == "memory":
        raise MemoryError
    raise Ended(said["says"])


def _listen(pipe: IO[bytes], heard: queue.SimpleQueue[Frame | None]) -> None:
    """Hear every frame; None when there will be no more."""
    with suppress(OSError, ValueError):
        while (frame := receive(pipe)) is not None:
            heard.put(frame)
    heard.put(None)


def send(pipe: IO[bytes], data: dict[str, Any], attached: Sequence[bytes] = ()) -> None:
    """Write one frame."""
    text = json.dumps({"data": data, "attached": [len(part) for part in attached]}).encode()
    pipe.write(_HEAD.pack(len(text)) + text)
    for part in attached:
        pipe.write(part)
    pipe.flush()


def receive(pipe: IO[bytes]) -> Frame | None:
    """Read one frame; None at the end, or where what comes is no frame."""
    head = pipe.read(_HEAD.size)
    if len(head) < _HEAD.size:
        return None
    (length,) = _HEAD.unpack(head)
    if length > _LONGEST_TEXT:
        return None
    text = pipe.read(length)
    if len(text) < length:
        return None
    told = json.loads(text)
    parts = [pipe.read(size) for size in told["attached"]]
    return told["data"], parts
