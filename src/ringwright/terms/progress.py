"""How a long computation tells how far it is, how it is stopped, how its result is kept, and what works beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Protocol, TypeVar

T = TypeVar("T")


class Progress(Protocol):
    """Called with a share done (0 to 1) and what is being done; raises ``Stopped`` when the user wants to stop."""

    def __call__(self, share: float, doing: str) -> None:
        """Tell that ``share`` is done and what comes now."""


def silent(share: float, doing: str) -> None:
    """Progress that tells nobody."""


def part_of(progress: Progress, start: float, end: float) -> Progress:
    """The progress of a part: its 0 to 1 is ``start`` to ``end`` of the whole."""

    def part(share: float, doing: str) -> None:
        progress(start + (end - start) * share, doing)

    return part


class Keep(Protocol):
    """Works ``function(*inputs)``, or gives its kept result where the same inputs were worked before.

    ``function`` is a verb of a step (a plain function at the top of its module), or a ``functools.partial`` of
    one; a keyword ``progress`` of the partial does not count as an input. Inputs and result are frozen values.
    """

    def __call__(self, step: str, function: Callable[..., T], *inputs: Any) -> T:
        """The result of the function for these inputs."""


def anew(step: str, function: Callable[..., T], *inputs: Any) -> T:  # noqa: ARG001 - the protocol's names
    """A :class:`Keep` that keeps nothing: every call works the function."""
    return function(*inputs)


Works = Callable[[], Iterator[Any]]
"""Work whose parts follow each other; the result of each is yielded."""


class Beside(Protocol):
    """Work that goes on beside the one who set it going."""

    def next(self) -> Any:
        """The next result, waited for. Raises what its part raised."""


Aside = Callable[[Works], Beside]
"""Sets work going beside the caller: in a thread, in a process, or (see :class:`InTurn`) not before it is asked for."""


class InTurn:
    """An :data:`Aside` that works each part when its result is asked for."""

    def __init__(self, works: Works) -> None:
        self._parts = works()

    def next(self) -> Any:
        """The next result."""
        return next(self._parts)
