"""Working some steps beside the others, stopped when they are."""

from __future__ import annotations

from collections.abc import Callable
from queue import SimpleQueue
from threading import Thread
from typing import Any

from ringwright.terms.progress import Aside, Progress, Works


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


class _InAThread:
    """Steps in a thread of their own."""

    def __init__(self, works: Works) -> None:
        self._told: SimpleQueue[tuple[bool, Any]] = SimpleQueue()
        Thread(target=told_to, args=(works, self._told.put), daemon=True).start()

    def next(self) -> Any:
        """The next result, waited for. Raises what its step raised."""
        return told_of(self._told.get())


def told_to(works: Works, tell: Callable[[tuple[bool, Any]], object]) -> None:
    """Work and tell each result as (True, result); a fault, which ends the work, as (False, fault)."""
    try:
        for result in works():
            tell((True, result))
    except BaseException as fault:  # raised again where the result is asked for
        tell((False, fault))


def told_of(told: tuple[bool, Any]) -> Any:
    """The result that was told; a fault is raised."""
    well, result = told
    if not well:
        raise result
    return result


in_a_thread: Aside = _InAThread
