"""The other side of :mod:`ringwright.desk._worker`: the process that does the tasks."""

from __future__ import annotations

import importlib
import json
import os
import queue
import sys
import threading
import time
from contextlib import suppress
from typing import Any, BinaryIO

from ringwright.desk._worker import Frame, receive, send
from ringwright.desk.starting import prepare_process
from ringwright.terms.mistake import BadInput, ComputingFault, Stopped

TELL_EVERY_S = 0.05
"""Progress within the same part of the work is told no more often than this."""


class Telling:
    """What a task is given: to tell how far it is, and to be stopped by that.

    Called as a :class:`~ringwright.terms.progress.Progress`, or with :meth:`say` for anything else.
    """

    def __init__(self, out: BinaryIO, stop: threading.Event) -> None:
        self._out = out
        self._stop = stop
        self._last = ("", 0.0)

    def __call__(self, share: float, doing: str) -> None:
        """Tell it; raises ``Stopped`` where that was asked."""
        if self._stop.is_set():
            raise Stopped
        now = time.monotonic()
        if doing != self._last[0] or now - self._last[1] >= TELL_EVERY_S:
            self._last = (doing, now)
            self.say({"share": share, "doing": doing})

    def say(self, data: dict[str, Any], *attached: bytes) -> None:
        """Tell plain data, and bytes with them."""
        send(self._out, {"kind": "told", "data": data}, attached)


def main(limits: dict[str, Any]) -> None:
    """Do the tasks that come in, one after another, until no more can come."""
    heard, out = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    with open(os.devnull, "r+b", buffering=0) as nothing:  # noqa: PTH123 - a device, not a file
        # What a library prints must not be taken for an answer.
        os.dup2(nothing.fileno(), 0)
        os.dup2(nothing.fileno(), 1)
    tasks: queue.SimpleQueue[Frame] = queue.SimpleQueue()
    stop = threading.Event()
    threading.Thread(target=_listen, args=(heard, tasks, stop), daemon=True).start()
    _limit(limits)
    prepare_process(limits["threads"])
    while True:
        said, attached = tasks.get()
        answer, parts = _done(said, attached, Telling(out, stop))
        send(out, answer, parts)


def _listen(heard: BinaryIO, tasks: queue.SimpleQueue[Frame], stop: threading.Event) -> None:
    """Hear tasks, and that the present one shall stop; the end of hearing is the end of all."""
    with suppress(BaseException):
        while (frame := receive(heard)) is not None:
            if "stop" in frame[0]:
                stop.set()
            else:
                stop.clear()
                tasks.put(frame)
    os._exit(1)


def _limit(limits: dict[str, Any]) -> None:
    with suppress(ImportError, AttributeError, OSError, ValueError):
        os.nice(limits["nice"])
    if limits["memory_bytes"] is not None:
        with suppress(ImportError):
            import resource

            resource.setrlimit(resource.RLIMIT_AS, (limits["memory_bytes"], limits["memory_bytes"]))
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _done(said: dict[str, Any], attached: list[bytes], telling: Telling) -> Frame:
    """The answer to a task, whatever happens in it."""
    try:
        module, name = said["task"].split(":")
        data, parts = getattr(importlib.import_module(module), name)(said["data"], attached, telling)
        return {"kind": "done", "data": data}, parts
    except BadInput as fault:
        return {"kind": "bad", "mistakes": [[one.where, one.what, one.right] for one in fault.mistakes]}, []
    except ComputingFault as fault:
        return {"kind": "computing", "says": str(fault)}, []
    except Stopped:
        return {"kind": "stopped"}, []
    except MemoryError:
        return {"kind": "memory"}, []
    except Exception as fault:
        if os.environ.get("RINGWRIGHT_TRACE"):
            import traceback

            traceback.print_exc()
        return {"kind": "failed", "says": f"Ringwright itself failed ({type(fault).__name__}: {fault})"}, []


if __name__ == "__main__":
    main(json.loads(sys.argv[1]))
