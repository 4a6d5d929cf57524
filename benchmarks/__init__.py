"""The project's benchmarks: ``python -m benchmarks [NAME ...] [--json]``.

Each is a function in a module of this package, registered under the names of the rows that it yields::

    @benchmark(Bar("help", "s", 0.4))
    def command_line() -> Iterator[Measured]:
        yield Measured("help", seconds, "median of 7 runs of `ringwright --help`")

A bar that is not reached stays a row, with ``holds`` false. Heavy libraries are imported inside the functions.
"""

from __future__ import annotations

import importlib
import pkgutil
import statistics
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True)
class Bar:
    """A row's name and unit, and the value that it must keep: at most ``bar``, or at least where ``at_least``.

    ``bar`` None is a row that only tells (a machine's bandwidth, a ratio to another program).
    """

    name: str
    unit: str
    bar: float | None
    at_least: bool = False

    def holds(self, value: float) -> bool | None:
        """Whether the value keeps the bar; None where there is none."""
        if self.bar is None:
            return None
        return value >= self.bar if self.at_least else value <= self.bar


@dataclass(frozen=True)
class Measured:
    """What was measured for one row, and how, in words."""

    name: str
    value: float
    how: str


@dataclass(frozen=True)
class Row:
    """One row as it is printed."""

    name: str
    value: float
    unit: str
    bar: float | None
    holds: bool | None
    how: str


Function = Callable[[], Iterable[Measured]]

_REGISTERED: dict[str, tuple[Bar, Function]] = {}


def median_s(work: Callable[[], object], runs: int) -> float:
    """The median wall time of some runs, after one that compiles and is not counted."""
    work()
    took = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return statistics.median(took)


def benchmark(*bars: Bar) -> Callable[[Function], Function]:
    """Register a function that measures the rows of these bars; a name that is taken already is refused."""

    def register(function: Function) -> Function:
        for bar in bars:
            if bar.name in _REGISTERED:
                raise ValueError(f"two benchmarks are called {bar.name}")
            _REGISTERED[bar.name] = (bar, function)
        return function

    return register


def names() -> list[str]:
    """The names of all rows, in the order of the modules."""
    _load()
    return list(_REGISTERED)


def run(wanted: Iterable[str] = ()) -> Iterator[Row]:
    """Measure the wanted rows (all where none is named), each function once; ``KeyError`` for an unknown name."""
    _load()
    chosen = list(wanted) or list(_REGISTERED)
    done: set[Function] = set()
    for name in chosen:
        function = _REGISTERED[name][1]
        if function in done:
            continue
        done.add(function)
        for found in function():
            bar, owner = _REGISTERED[found.name]
            assert owner is function, f"{found.name} belongs to another benchmark"
            if found.name in chosen:
                yield Row(bar.name, found.value, bar.unit, bar.bar, bar.holds(found.value), found.how)


def _load() -> None:
    """Import every module of this package once."""
    for module in pkgutil.iter_modules(__path__):
        if module.name != "__main__":
            importlib.import_module(f"{__name__}.{module.name}")
