"""How long the commands take, each as a process of its own, as a person would start it."""

from __future__ import annotations

import os
import resource
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

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
        _, status, usage = os.wait4(child, 0)
    seconds = time.perf_counter() - start
    return seconds, _gigabytes(usage), os.waitstatus_to_exitcode(status)


def _environment(more: dict[str, str]) -> dict[str, str]:
    """This process's environment, with Python keeping its bytecode as it does where nobody forbids it."""
    return {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"} | more


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


@benchmark(Bar("plan-demo-first", "s", 40), Bar("plan-demo", "s", 10), Bar("plan-memory", "GB", 1.5))
def demo() -> Iterator[Measured]:
    """Both commissions of the demo, written and planned."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cache = folder / "cache"
        environment = {"RINGWRIGHT_CACHE": str(cache)}
        environment["NUMBA_CACHE_DIR"] = str(cache / "compiled")
        # A run before the first: an installer leaves the libraries' bytecode beside them, some other tools do not.
        _demo(folder, {name: str(folder / "before" / name) for name in environment})
        first, memory = _demo(folder, environment)
        yield Measured(
            "plan-demo-first", first, "one run of `ringwright demo`, both commissions, nothing compiled or kept"
        )
        warm = []
        for _ in range(_WARM_RUNS):
            shutil.rmtree(cache / "kept", ignore_errors=True)
            seconds, peak = _demo(folder, environment)
            warm.append(seconds)
            memory = max(memory, peak)
        how = f"median of {_WARM_RUNS} runs of `ringwright demo`, both commissions, compiled, no result kept"
        yield Measured("plan-demo", statistics.median(warm), how)
        yield Measured("plan-memory", memory, f"peak resident memory of the process, worst of {_WARM_RUNS + 1} runs")


def _demo(folder: Path, environment: dict[str, str]) -> tuple[float, float]:
    """Seconds and GB of one run; a run that did not end well stops the benchmark."""
    seconds, memory, status = timed(["demo", str(folder / "demo")], environment, folder)
    if status not in (0, 1):
        raise RuntimeError(f"`ringwright demo` ended with {status}: {(folder / 'stderr').read_text()}")
    return seconds, memory
