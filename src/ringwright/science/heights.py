"""Lows of a height over the surface of a mesh, and how deep each is before it runs over into a lower one.

Vertices are taken from the lowest up. A vertex with no lower neighbour begins a basin; where two basins meet, the
one that began higher ends, and its depth is the height of the meeting less that of its low (persistence of sublevel
sets). A basin that never meets a lower one has infinite depth: there is one for each shell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from ringwright.terms.body import Floats, Ints, Mesh


@dataclass(frozen=True, eq=False)
class Neighbours:
    """The vertices next to each vertex: those of ``v`` are ``others[start[v] : start[v + 1]]``."""

    start: Ints
    others: Ints


def neighbours(mesh: Mesh) -> Neighbours:
    """The neighbours of every vertex along the edges of the mesh."""
    from scipy.sparse import coo_array

    f = mesh.faces
    begin, end = f.ravel(), f[:, [1, 2, 0]].ravel()
    n = len(mesh.vertices_mm)
    beside = coo_array((np.ones(2 * len(begin), np.int8), (np.r_[begin, end], np.r_[end, begin])), shape=(n, n)).tocsr()
    return Neighbours(beside.indptr.astype(np.int64), beside.indices.astype(np.int64))


def lows(beside: Neighbours, height: Floats) -> tuple[Ints, Floats]:
    """The vertices where a basin begins, and the depth of each basin (infinite for the lowest of a shell)."""
    order = np.argsort(height, kind="stable")
    depth = np.full(len(height), -1.0)
    n = len(height)
    _flood(order, np.ascontiguousarray(height), beside.start, beside.others, depth, np.full(n, -1), np.arange(n))
    begun = np.flatnonzero(depth > 0)
    return begun, depth[begun]


@njit(cache=True, nogil=True)
def _root(parent: Ints, v: int) -> int:
    while parent[v] != v:
        parent[v] = parent[parent[v]]
        v = parent[v]
    return v


@njit(cache=True, nogil=True)
def _flood(order: Ints, height: Floats, start: Ints, others: Ints, depth: Floats, parent: Ints, low: Ints) -> None:
    """Union of basins, each named by the vertex where it began; ``depth`` is set where a basin began."""
    for n in range(order.size):
        v = order[n]
        mine = -1
        for e in range(start[v], start[v + 1]):
            u = others[e]
            if parent[u] < 0:
                continue
            theirs = _root(parent, u)
            if mine < 0:
                mine = theirs
                parent[v] = mine
            elif theirs != mine:
                if height[low[theirs]] < height[low[mine]]:
                    mine, theirs = theirs, mine
                depth[low[theirs]] = height[v] - height[low[theirs]]
                parent[theirs] = mine
        if mine < 0:
            parent[v] = v
            depth[v] = np.inf
