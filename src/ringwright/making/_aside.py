"""Working one step beside the others, stopped when they are."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Thread
from typing import TypeVar

from ringwright.terms.progress import Progress

T = TypeVar("T")


class Told:
    """Progress of the whole, and ``quiet``: that of what is worked beside, which only passes on the wish to stop."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._stopped: BaseException | None = None

    def __call__(self, share: float, doing: str) -> None:
        try:
            self._progress(share, doing)
        except BaseException as wish:
            self._stopped = wish
            raise

    def quiet(self, share: float, doing: str) -> None:  # noqa: ARG002 - the protocol's names
        """Raise what stopped the whole, if anything did."""
        if self._stopped is not None:
            raise self._stopped


def alongside(work_it: Callable[[], T]) -> Future[T]:
    """Work something in a thread of its own; its result, or its fault, is had when it is asked for."""
    found: Future[T] = Future()

    def run() -> None:
        try:
            found.set_result(work_it())
        except BaseException as fault:  # raised again where the result is asked for
            found.set_exception(fault)

    Thread(target=run, daemon=True).start()
    return found
