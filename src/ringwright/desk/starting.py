"""What a process of Ringwright sets before it computes: where compiled code is kept, and how many threads work."""

from __future__ import annotations

import gc
import os
import sys
from contextlib import suppress

from ringwright.desk.keeping import cache_folder


def prepare_process(threads: int | None = None) -> None:
    """Keep compiled code in the user's cache folder, and let ``threads`` threads work (all cores where None).

    Must be called before numba is first imported; what the environment already says stands.
    """
    # Loading makes hundreds of thousands of objects that stay: to search them again and again took 4 % of a plan.
    gc.set_threshold(100_000, 20, 20)
    # Products of small dense matrices: a second thread took twice the processor's time and made none of them faster.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if "numba" in sys.modules:
        return
    if "NUMBA_CACHE_DIR" not in os.environ:
        folder = cache_folder() / "compiled"
        with suppress(OSError):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            os.environ["NUMBA_CACHE_DIR"] = str(folder)
    if threads is not None:
        os.environ.setdefault("NUMBA_NUM_THREADS", str(threads))
