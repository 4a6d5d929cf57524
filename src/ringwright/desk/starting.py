"""What a process of Ringwright sets before it computes: where compiled code is kept, and how many threads work.

It must come before numpy, so nothing is imported here that imports numpy.
"""

from __future__ import annotations

import ctypes
import gc
import os
import sys
from contextlib import suppress

_TRIM_FROM, _MAP_FROM = -1, -3


def prepare_process(threads: int | None = None) -> None:
    """Keep compiled code in the user's cache folder, and let ``threads`` threads work (all cores where None).

    Must be called before numpy and numba are first imported; what the environment already says stands.
    """
    # Its own threads wait for work by spinning, and take the processor from those that have some: two thirds of the
    # strength's processor time and two fifths of its wall time were that.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Loading makes hundreds of thousands of objects that stay: to search them again and again took 4 % of a plan.
    gc.set_threshold(500_000, 20, 20)
    if "numba" in sys.modules:
        return
    if "NUMBA_CACHE_DIR" not in os.environ:
        from ringwright.desk.keeping import cache_folder

        folder = cache_folder() / "compiled"
        with suppress(OSError):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            os.environ["NUMBA_CACHE_DIR"] = str(folder)
    if threads is not None:
        os.environ.setdefault("NUMBA_NUM_THREADS", str(threads))


def hold_memory() -> None:
    """Let this process keep the memory of large arrays for the next ones, where its C library can be told so.

    For work that ends soon: given back and asked for again, each array is cleared anew by the system, which took 7 % of
    a plan. Up to half a gigabyte stays with the process.
    """
    with suppress(AttributeError, OSError):  # only glibc knows mallopt(3)
        library = ctypes.CDLL(None)
        library.mallopt(_MAP_FROM, 1 << 28)
        library.mallopt(_TRIM_FROM, 1 << 29)
