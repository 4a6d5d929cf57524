"""Steps worked in a process of their own, which shares neither the interpreter's lock nor the compiler's.

Only where a process can be forked, as it begins with all that its parent has loaded; elsewhere a thread does it.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import get_context
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any, Self

from ringwright.making._aside import in_a_thread, told_of, told_to
from ringwright.terms.mistake import ComputingFault
from ringwright.terms.progress import Beside, Works

_PARENT_DEATH_SIGNAL = 1


class Apart:
    """An ``Aside`` that forks; when left, what is still at work is ended."""

    def __init__(self) -> None:
        self._forks: list[_Fork] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        for fork in self._forks:
            fork.end()

    def __call__(self, works: Works) -> Beside:
        """Set steps going beside the caller."""
        if sys.platform != "linux":
            return in_a_thread(works)
        self._forks.append(_Fork(works))
        return self._forks[-1]


class _Fork:
    def __init__(self, works: Works) -> None:
        context = get_context("fork")
        self._told, tell = context.Pipe(duplex=False)
        self._process = context.Process(target=_work_there, args=(works, tell, os.getpid()), daemon=True)
        self._process.start()
        tell.close()

    def next(self) -> Any:
        """The next result, waited for. Raises what its step raised, ``ComputingFault`` where the process is gone."""
        try:
            return told_of(self._told.recv())
        except EOFError:
            self._process.join()
            raise ComputingFault(f"a process that worked beside has ended ({self._process.exitcode})") from None

    def end(self) -> None:
        """Stop it, if it is still at work."""
        self._process.terminate()
        self._process.join()
        self._told.close()


def _work_there(works: Works, tell: Connection, parent: int) -> None:
    """What the process does. A thread sends, so that no step waits until the one before it is wanted."""
    # Where the parent is killed it cannot end what it has forked: the kernel does (Linux, prctl(2)).
    ctypes.CDLL(None).prctl(_PARENT_DEATH_SIGNAL, signal.SIGKILL)
    if os.getppid() != parent:
        return
    with ThreadPoolExecutor(1) as sender:
        told_to(works, lambda told: sender.submit(tell.send, told))
