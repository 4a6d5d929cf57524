"""A direct solution for the stiffness of cells: Cholesky's factors by fronts.

Nested dissection (A. George, "Nested dissection of a regular finite element mesh", 1973): the cells are halved and
halved again by the plane that the fewest lie on; each half's inner nodes are eliminated before those that the halves
share. Each elimination is a dense front (multifrontal method, I. S. Duff, J. K. Reid, 1983). A ring is thin, so its
fronts are small, and any number of load cases costs hardly more than one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault

# So many cells are eliminated at once: fewer would be more fronts than the smaller ones save.
_TOGETHER = 24
# A half may be this small a share of the whole.
_LEAST = 0.3
_HELD = 1e9


@dataclass(frozen=True, eq=False)
class _Front:
    """One elimination: its own degrees of freedom, those that it leaves, and its factors."""

    own: Ints
    later: Ints
    lower: Any
    across: Any


@dataclass(frozen=True, eq=False)
class Factors:
    """The factors of a stiffness."""

    fronts: tuple[_Front, ...]

    def solve(self, forces: Floats) -> Floats:
        """(n, 3, k) movements under nodal forces (n, 3, k)."""
        from scipy.linalg import blas

        x = forces.reshape(3 * len(forces), -1).copy()
        for front in self.fronts:
            y = blas.dtrsm(1.0, front.lower, x[front.own], lower=1)
            x[front.own] = y
            x[front.later] -= front.across @ y
        for front in reversed(self.fronts):
            y = x[front.own] - front.across.T @ x[front.later]
            x[front.own] = blas.dtrsm(1.0, front.lower, y, lower=1, trans_a=1)
        return x.reshape(forces.shape)


def factors(cells: Ints, places: Ints, stiffness: Floats, fixed: NDArray[np.bool_]) -> Factors:
    """Factor the stiffness (m, 3 a, 3 a) of cells (m, a nodes) that lie at ``places`` (m, 3) of a grid.

    The (n, 3) degrees of freedom ``fixed`` are held, by a stiffness a thousand million times that of the cells. Raises
    :class:`ComputingFault` where the rest can move freely.
    """
    return Factors(tuple(_Elimination(cells, places, stiffness, fixed).fronts))


@dataclass(frozen=True, eq=False)
class _Part:
    """Some cells: their two halves, the nodes of their front, and those of them that cells elsewhere touch."""

    cells: Ints
    halves: tuple[_Part, ...]
    nodes: Ints
    left: Ints


class _Elimination:
    """The recursion and what all its steps need."""

    def __init__(self, cells: Ints, places: Ints, stiffness: Floats, fixed: NDArray[np.bool_]) -> None:
        self.cells, self.places, self.stiffness = cells, places, stiffness
        self.held = np.where(fixed.ravel(), _HELD * stiffness.diagonal(axis1=1, axis2=2).max(), 0.0)
        self.seen = np.bincount(cells.ravel(), minlength=len(fixed))
        # When each node goes, by the number of its front: in every front the nodes stand in the order in which they go,
        # so that what is below the diagonal stays below it.
        self.goes = np.full(len(fixed), -1, np.int64)
        self.where = np.empty(len(fixed), np.int64)
        self.fronts: list[_Front] = []
        self.steps = 0
        self.worked(self.halved(np.arange(len(cells))))

    def halved(self, mine: Ints) -> _Part:
        """Halve the cells until few are together, and number the nodes that each part is the first to enclose."""
        halves: tuple[_Part, ...] = ()
        if len(mine) > _TOGETHER:
            low = _low_half(self.places[mine])
            halves = (self.halved(mine[low]), self.halved(mine[~low]))
            nodes = np.union1d(halves[0].left, halves[1].left)
            count = np.bincount(self.cells[mine].ravel(), minlength=len(self.seen))[nodes]
        else:
            nodes, count = np.unique(self.cells[mine], return_counts=True)
        inner = count == self.seen[nodes]
        self.goes[nodes[inner]] = self.steps
        self.steps += 1
        return _Part(mine, halves, nodes, nodes[~inner])

    def worked(self, part: _Part) -> tuple[Ints, Any]:
        """Eliminate all that only these cells touch; the nodes that are left, and the lower triangle of the stiffness
        between them."""
        below = [self.worked(half) for half in part.halves]
        nodes = part.nodes[np.argsort(self.goes[part.nodes], kind="stable")]
        self.where[nodes] = np.arange(len(nodes))
        size = 3 * len(nodes)
        if below:
            front: Any = np.zeros((size, size), order="F")
            for left, rest in below:
                at = _freedoms(self.where[left])
                front.T[at[:, None], at] += rest.T
        else:
            at = _freedoms(self.where[self.cells[part.cells]].ravel()).reshape(len(part.cells), -1)
            key = at[:, :, None] * size + at[:, None, :]
            front = np.bincount(key.ravel(), self.stiffness[part.cells].ravel(), size * size).reshape(size, size).T
        return self.eliminated(nodes, len(nodes) - len(part.left), front)

    def eliminated(self, nodes: Ints, inner: int, front: Any) -> tuple[Ints, Any]:
        """Eliminate the first nodes of a front; the other nodes and what is left between them."""
        from scipy.linalg import blas, lapack

        if not inner:
            return nodes, front
        freedoms, own = _freedoms(nodes), 3 * inner
        at = np.arange(own)
        front[at, at] += self.held[freedoms[:own]]
        lower, fault = lapack.dpotrf(front[:own, :own], lower=1, clean=0)
        if fault:
            raise ComputingFault("elasticity: the stiffness is not positive, part of the metal hangs on nothing")
        across = blas.dtrsm(1.0, lower, front[own:, :own], side=1, lower=1, trans_a=1)
        self.fronts.append(_Front(freedoms[:own], freedoms[own:], lower, across))
        if len(nodes) == inner:
            return nodes[inner:], np.zeros((0, 0))
        return nodes[inner:], blas.dsyrk(-1.0, across, beta=1.0, c=front[own:, own:], lower=1)


def _freedoms(nodes: Ints) -> Ints:
    """The three degrees of freedom of each node."""
    return np.asarray((3 * nodes[:, None] + np.arange(3)).ravel())


def _low_half(places: Ints) -> NDArray[np.bool_]:
    """Which cells make the first of two parts: below the plane between layers that the fewest cells lie on."""
    best, chosen = len(places) + 1, np.arange(len(places)) < len(places) // 2
    for axis in range(3):
        at = places[:, axis]
        layers = np.bincount(at - at.min())
        below = np.cumsum(layers) - layers
        for layer in np.flatnonzero((below >= _LEAST * len(at)) & (below <= (1.0 - _LEAST) * len(at)) & (below > 0)):
            if layers[layer] < best and layers[layer] > 0:
                best, chosen = int(layers[layer]), at - at.min() < layer
    return np.asarray(chosen)
