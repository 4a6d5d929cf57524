"""Cells of a ring: inside or not, how far from the surface, how thick; each checked against a plain way."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

from benchmarks import Bar, Measured, benchmark, median_s

_H_MM = 0.1
_RUNS = 7
_PLACES = 200


@cache
def _ring() -> Any:
    """A round ring of 200,000 triangles, turned so that it lies along no axis."""
    from tests.science import shapes

    return shapes.turned(shapes.torus(9.0, 1.0, 1000, 100), 2)


@benchmark(Bar("voxels", "s", 0.05), Bar("distance", "s", 0.05), Bar("thickness", "s", 0.5))
def cells_of_a_ring() -> Iterator[Measured]:
    """The three fields of a ring of 200,000 triangles in cells of 0.1 mm."""
    import numpy as np
    from scipy.ndimage import distance_transform_edt

    from ringwright.science import solids
    from ringwright.science.distance import between_cells
    from ringwright.science.thickness import on_cells
    from ringwright.science.voxels import fill

    mesh = _ring()
    seconds = median_s(lambda: fill(mesh, _H_MM), _RUNS)
    grid = fill(mesh, _H_MM)
    off = 100 * (grid.volume_mm3 / solids.volume(mesh) - 1)
    size = f"{len(mesh.faces)} triangles, {' x '.join(str(n) for n in grid.shape)} cells of {_H_MM} mm"
    yield Measured("voxels", seconds, f"median of {_RUNS}: {size}; volume off by {off:.2f} %")

    seconds = median_s(lambda: between_cells(grid.inside, _H_MM), _RUNS)
    worst = float(np.abs(between_cells(grid.inside, _H_MM) - _H_MM * distance_transform_edt(grid.inside)).max())
    yield Measured(
        "distance", seconds, f"median of {_RUNS}: {size}; against scipy's transform off by {worst:.1e} mm at most"
    )

    seconds = median_s(lambda: on_cells(mesh, grid), _RUNS)
    ours, slow = on_cells(mesh, grid), _plain_thickness(mesh, grid)
    misses = np.array([ours[tuple(at)] - t for at, t in slow])
    yield Measured(
        "thickness", seconds,
        f"median of {_RUNS}: {size}; at {len(slow)} cells against all balls with their middles in cells of "
        f"{_H_MM / 2} mm: off by {misses.min():+.3f} to {misses.max():+.3f} mm",
    )  # fmt: skip


def _plain_thickness(mesh: Any, grid: Any) -> list[tuple[Any, float]]:
    """The largest ball that holds a cell's middle, tried one by one over all cells of a grid twice as fine."""
    import numpy as np

    from ringwright.science.distance import signed
    from ringwright.science.voxels import fill

    fine = fill(mesh, _H_MM / 2)
    radius = -signed(mesh, fine, 0.2)[fine.inside]
    middle = fine.centres_of(np.argwhere(fine.inside))
    cells = np.argwhere(grid.inside)
    some = cells[np.random.default_rng(4).choice(len(cells), _PLACES, replace=False)]
    found = []
    for at in some:
        away = ((middle - grid.centres_of(at)) ** 2).sum(axis=1)
        found.append((at, 2 * float(radius[away <= radius**2].max(initial=0.0))))
    return found
