"""How long the commands take, each as a process of its own, as a person would start it."""

from __future__ import annotations

import datetime as dt
import os
import re
import resource
import shutil
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Self

from benchmarks import Bar, Measured, benchmark

_RUNS = 7
_WARM_RUNS = 3


def timed(arguments: Sequence[str], environment: dict[str, str], folder: Path) -> tuple[float, float, int]:
    """Wall seconds, peak memory in GB and exit status of one run of ``ringwright``."""
    command = [str(Path(sys.executable).with_name("ringwright")), *arguments]
    start = time.perf_counter()
    with open(os.devnull, "wb") as nothing:  # noqa: PTH123
        child = os.posix_spawn(
            command[0],
            command,
            _environment(environment),
            file_actions=[
                (os.POSIX_SPAWN_DUP2, nothing.fileno(), 1),
                (os.POSIX_SPAWN_OPEN, 2, str(folder / "stderr"), os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600),
            ],
        )
        with _Watch(child) as watch:
            _, status, usage = os.wait4(child, 0)
    seconds = time.perf_counter() - start
    return seconds, max(_gigabytes(usage), watch.most_GB), os.waitstatus_to_exitcode(status)


def _environment(more: dict[str, str]) -> dict[str, str]:
    """This process's environment, with Python keeping its bytecode as it does where nobody forbids it."""
    return {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"} | more


class _Watch:
    """The most memory that a process and those that it forks hold together, each shared page counted once (Linux)."""

    def __init__(self, pid: int) -> None:
        self.most_GB = 0.0
        self._pid = pid
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _look(self) -> None:
        while not self._over.wait(0.1):
            kilobytes = 0
            waiting = [self._pid]
            while waiting:
                of = Path(f"/proc/{waiting.pop()}")
                with suppress(OSError):
                    waiting += map(int, (of / "task" / of.name / "children").read_text().split())
                    held = re.search(r"^Pss:\s+(\d+)", (of / "smaps_rollup").read_text(), re.MULTILINE)
                    kilobytes += int(held[1]) if held else 0
            self.most_GB = max(self.most_GB, kilobytes * 1.024e-6)


def _gigabytes(usage: resource.struct_rusage) -> float:
    """Peak memory; Linux tells it in kilobytes, macOS in bytes."""
    return usage.ru_maxrss / (1e9 if sys.platform == "darwin" else 1e6) * (1.0 if sys.platform == "darwin" else 1.024)


@benchmark(Bar("help", "s", 0.4))
def help_page() -> Iterator[Measured]:
    """The wait before the command line answers at all."""
    with tempfile.TemporaryDirectory() as name:
        runs = [timed(["--help"], {}, Path(name)) for _ in range(_RUNS)]
    assert all(status == 0 for _, _, status in runs)
    seconds = statistics.median(seconds for seconds, _, _ in runs)
    yield Measured("help", seconds, f"median wall time of {_RUNS} runs of `ringwright --help`")


@benchmark(
    Bar("plan-demo-first", "s", 40),
    Bar("plan-demo", "s", 10),
    Bar("plan-again", "s", None),
    Bar("plan-memory", "GB", 1.5),
)
def demo() -> Iterator[Measured]:
    """`ringwright plan` on each commission of the demo."""
    from ringwright.desk.demo import write_demo

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cache = folder / "cache"
        orders = write_demo(folder / "demo", dt.date.today())
        environment = {"RINGWRIGHT_CACHE": str(cache), "NUMBA_CACHE_DIR": str(cache / "compiled")}
        # A run before the first: an installer leaves the libraries' bytecode beside them, some other tools do not.
        _planned(orders[0], folder, {name: str(folder / "before" / name) for name in environment})
        first, peak = _planned(orders[0], folder, environment)
        yield Measured(
            "plan-demo-first", first, f"one run of `ringwright plan {orders[0].name}`, nothing compiled or kept"
        )
        peaks = [peak]
        warm: dict[str, list[float]] = {}
        for order in (orders[1], *orders * _WARM_RUNS):  # the first run of the second one compiles what it alone needs
            _forget_steps(cache / "kept")
            seconds, peak = _planned(order, folder, environment)
            warm.setdefault(order.name, []).append(seconds)
            peaks.append(peak)
        slowest = max(warm, key=lambda one: statistics.median(warm[one][-_WARM_RUNS:]))
        yield Measured(
            "plan-demo",
            statistics.median(warm[slowest][-_WARM_RUNS:]),
            f"median of {_WARM_RUNS} runs of `ringwright plan {slowest}`, the slower of the demo's two, no step kept",
        )
        again = [_planned(orders[-1], folder, environment)[0] for _ in range(_WARM_RUNS)]
        yield Measured("plan-again", statistics.median(again), f"the same for {orders[-1].name}, every result kept")
        yield Measured(
            "plan-memory", max(peaks), f"peak memory of the process and its fork together, worst of {len(peaks)} runs"
        )


def _forget_steps(kept: Path) -> None:
    """Drop every kept result of a step; the facts as they were read and checked stay, as for any next commission."""
    for folder in kept.iterdir():
        if folder.name != "facts":
            shutil.rmtree(folder)


def _planned(order: Path, folder: Path, environment: dict[str, str]) -> tuple[float, float]:
    """Seconds and GB of one run; a run that did not end well stops the benchmark."""
    seconds, memory, status = timed(["plan", str(order)], environment, folder)
    if status not in (0, 1):
        raise RuntimeError(f"`ringwright plan` ended with {status}: {(folder / 'stderr').read_text()}")
    return seconds, memory
