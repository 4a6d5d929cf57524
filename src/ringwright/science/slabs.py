"""One kernel over slabs of its outer index, on all the processor's cores.

The kernels are compiled with ``nogil``, so plain threads run them side by side; each thread writes its own slab only,
so the result does not depend on the number of threads.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numba import config

# numba counts the processors that this process may use.
_settings: Any = config
CORES = max(1, min(8, int(_settings.NUMBA_DEFAULT_NUM_THREADS)))


def in_slabs(
    kernel: Callable[..., Any], n: int, *args: Any, bounds: tuple[int, ...] = (), pool: ThreadPoolExecutor | None = None
) -> list[Any]:
    """Call ``kernel(start, stop, *args)`` for slabs that together cover 0 to ``n``; the results in order.

    ``bounds`` gives the slabs' inner limits where equal shares would not be equal work; ``pool`` are threads that stay,
    for who calls often: they work beside the caller's own.
    """
    cuts = [0, *bounds, n] if bounds else [int(c) for c in np.linspace(0, n, CORES + 1)]
    slabs = [(a, b) for a, b in itertools.pairwise(cuts) if b > a]
    if len(slabs) < 2:
        return [kernel(a, b, *args) for a, b in slabs]
    if pool is not None:
        rest = [pool.submit(kernel, a, b, *args) for a, b in slabs[1:]]
        return [kernel(*slabs[0], *args), *(job.result() for job in rest)]
    with ThreadPoolExecutor(len(slabs)) as fresh:
        return [job.result() for job in [fresh.submit(kernel, a, b, *args) for a, b in slabs]]
