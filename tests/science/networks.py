"""Networks that are made by hand, for the tests of filling and feeding."""

from __future__ import annotations

import numpy as np

from ringwright.science.network import Network, linked, of_shares


def wire(length_mm: float, radius_mm: float, h_mm: float = 0.1) -> Network:
    """A straight round channel along x, one cell after the other."""
    n = round(length_mm / h_mm) + 1
    centre = np.column_stack([np.arange(n) * h_mm, np.zeros(n), np.zeros(n)])
    i = np.arange(n - 1)
    return linked(
        centre,
        np.full(n, np.pi * radius_mm**2 * h_mm),
        np.full(n, 2 * np.pi * radius_mm * h_mm),
        np.concatenate([i, i + 1]),
        np.concatenate([i + 1, i]),
    )


def block(n: int = 12, h_mm: float = 0.5) -> Network:
    """A cube of n^3 cells with its low corner at the origin."""
    share = np.zeros((n + 2, n + 2, n + 2), np.float32)
    share[1:-1, 1:-1, 1:-1] = 1
    return of_shares(share, h_mm, (-h_mm, -h_mm, -h_mm), 6 * (n * h_mm) ** 2)
