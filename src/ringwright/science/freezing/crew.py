"""Threads that stay, for a solver that calls short kernels many thousand times."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from queue import SimpleQueue
from types import TracebackType
from typing import Any

from ringwright.science.slabs import CORES


class Crew:
    """A call costs some 25 microseconds more than a plain one. Used as a context: the threads end with it.

    The kernels are compiled with ``nogil``; each thread writes its own slab only, and sums come back slab by slab and
    are added in their order, so the result does not depend on which thread was quicker.
    """

    def __init__(self, hands: int = CORES) -> None:
        self._jobs: list[SimpleQueue[Any]] = []
        self._done: list[SimpleQueue[Any]] = []
        self._pool = ThreadPoolExecutor(max(1, hands - 1))
        for _ in range(hands - 1):
            jobs: SimpleQueue[Any] = SimpleQueue()
            done: SimpleQueue[Any] = SimpleQueue()
            self._pool.submit(_hand, jobs, done)
            self._jobs.append(jobs)
            self._done.append(done)

    @property
    def hands(self) -> int:
        """Number of threads, the caller's own among them."""
        return len(self._jobs) + 1

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        for jobs in self._jobs:
            jobs.put(None)
        self._pool.shutdown()

    def __call__(self, kernel: Callable[..., Any], cuts: Sequence[int], *args: Any) -> list[Any]:
        """Call ``kernel(cuts[i], cuts[i + 1], *args)`` for every slab between the cuts; the results in order.

        There are no more slabs than hands.
        """
        last = len(cuts) - 2
        for i in range(last):
            self._jobs[i].put((kernel, (cuts[i + 1], cuts[i + 2], *args)))
        own = kernel(cuts[0], cuts[1], *args)
        rest = [self._done[i].get() for i in range(last)]
        for one in rest:
            if isinstance(one, BaseException):
                raise one
        return [own, *rest]


def _hand(jobs: SimpleQueue[Any], done: SimpleQueue[Any]) -> None:
    while (job := jobs.get()) is not None:
        try:
            done.put(job[0](*job[1]))
        except BaseException as fault:  # handed to the caller, who raises it
            done.put(fault)
