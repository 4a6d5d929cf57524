"""Solids that are given by their signed distance, as the voxels that the bricks are made from."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ringwright.science.bricks import Bricks, Voxels, within
from ringwright.science.fronts import factors
from ringwright.terms.body import Floats

_LINES = 3


def voxels(distance: Callable[[Floats], Floats], low: Floats, high: Floats, h: float) -> Voxels:
    """The share of each voxel of a box that lies where ``distance`` is positive, from 27 points in each."""
    shape = np.ceil((np.asarray(high) - low) / h - 1e-9).astype(int)
    axes = [low[i] + h / _LINES * (np.arange(shape[i] * _LINES) + 0.5) for i in range(3)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    share = np.clip(distance(points) / (h / _LINES) + 0.5, 0.0, 1.0)
    cut = share.reshape(shape[0], _LINES, shape[1], _LINES, shape[2], _LINES)
    return Voxels(np.asarray(low, float), h, cut.mean(axis=(1, 3, 5)).astype(np.float32))


def solved(
    bricks: Bricks, matrix: Floats, fixed: np.ndarray[tuple[int, int], np.dtype[np.bool_]], at: Floats, forces: Floats
) -> Floats:
    """(n, 3, k) the movements under forces (p, 3, k) at points."""
    load = within(bricks, at).nodal(forces, len(bricks.points_mm))
    return factors(bricks.cells, bricks.places, matrix, fixed).solve(load)
