"""A look at a model that someone dropped: in a process of its own, with limits of memory and time."""

from __future__ import annotations

import threading
from contextlib import suppress
from typing import Any

from ringwright.desk._worker import Ended, Late, Limits, Worker
from ringwright.terms.mistake import ComputingFault, Stopped, bad

LARGEST_UPLOAD_BYTES = 128 * 2**20
"""A binary STL of this size has 2.7 million triangles: a ring drawn to 0.005 mm has a tenth of that."""

MEMORY_BYTES = 3 << 30
"""Address space of the process that reads a dropped file."""

LONGEST_LOOK_S = 30.0
"""A file that needs longer is refused."""


class Looking:
    """The process that looks, kept ready for a while. Safe to call from several threads: they wait their turn."""

    def __init__(
        self,
        limits: Limits | None = None,
        seconds: float = LONGEST_LOOK_S,
        task: str = "ringwright.desk._tasks:look",
    ) -> None:
        self._worker = Worker(limits or Limits(memory_bytes=MEMORY_BYTES, threads=1), idle_s=300.0)
        self._seconds = seconds
        self._task = task
        self._warming: threading.Thread | None = None

    def look(self, data: bytes, name: str, units: str | None) -> dict[str, Any]:
        """The figures of :func:`ringwright.desk._tasks.look`. Raises ``BadInput`` with one sentence for any file."""
        try:
            told, parts = self._worker.ask(self._task, {"name": name, "units": units}, [data], seconds=self._seconds)
        except Late as fault:
            why = f"it was not read within {self._seconds:.0f} s"
            raise bad(name, why, "export the model with fewer triangles") from fault
        except MemoryError as fault:
            raise bad(name, "reading it needs too much memory", "export the model with fewer triangles") from fault
        except (Ended, ComputingFault) as fault:
            raise bad(name, "it cannot be read as a model", "export it again, as STL or STEP") from fault
        return told | {"picture": parts[0] if parts else None}

    def warm_up(self) -> None:
        """Load and compile what a look needs, in the background."""
        if self._warming is None or not self._warming.is_alive():
            self._warming = threading.Thread(target=self._warm, daemon=True)
            self._warming.start()

    def _warm(self) -> None:
        # Compiling takes a minute when a machine does it for the first time; a look that comes meanwhile waits.
        with suppress(Stopped, Ended, Late, MemoryError, ComputingFault):
            self._worker.ask("ringwright.desk._tasks:warm", {}, seconds=600.0)

    @property
    def pid(self) -> int | None:
        """The number of the process, while it lives."""
        return self._worker.pid

    def close(self) -> None:
        """End the process."""
        self._worker.end()
