"""Stress at the surface of a solid, linearised over a small length, so that it holds still as the mesh gets finer.

At a drawn corner of no radius the stress of linear elasticity grows without bound as the cells shrink, so its maximum
means nothing. What a section bears does not grow: designers of welds and vessels therefore take the part of the stress
that is even and the part that varies linearly over a length, and leave out the peak (structural stress: E. Niemi,
W. Fricke, S. J. Maddox, "Structural Hot-Spot Stress Approach to Fatigue Analysis of Welded Components"; linearised
stress: W. C. Kroenke, 1974). Here each component is fitted linearly, by volume, over the integration points
within a distance of the place, as superconvergent patch recovery does over the elements about a node
(O. C. Zienkiewicz, J. Z. Zhu, 1992), but over a length that does not change with the mesh. Pure bending is met exactly.
"""

from __future__ import annotations

from typing import Any, cast

import numpy as np

from ringwright.terms.body import Floats

# Beside a wall that is one cell thick the points lie nearly in a plane: across it the fit is held level by this share.
_LEVEL = 1e-3
_FEWEST = 12


def mises(stress: Floats) -> Floats:
    """(p,) the equivalent stress after von Mises of stresses (p, 6) as xx yy zz xy yz zx."""
    xx, yy, zz, xy, yz, zx = stress.T
    return cast(
        Floats, np.sqrt(0.5 * ((xx - yy) ** 2 + (yy - zz) ** 2 + (zz - xx) ** 2) + 3.0 * (xy**2 + yz**2 + zx**2))
    )


def fitting(places: Floats, volumes: Floats, at: Floats, over_mm: float) -> Any:
    """The sparse matrix (p, n) that takes values at ``places`` (n, 3) to their linear fit at each of ``at`` (p, 3)
    (moving least squares, first degree).

    Each place counts by its volume and by a weight that falls to nothing at ``over_mm``.
    """
    weights, found = _weights(places, volumes, at, over_mm)
    origin = places.mean(axis=0)
    x, p = places - origin, at - origin
    basis = np.column_stack([np.ones(len(x)), x])
    # Moments about the origin, brought to each place: with y = x - p, sum w y y' = sum w x x' - p s' - s p' + w p p'.
    pairs = [(a, b) for a in range(4) for b in range(a, 4)]
    sums = weights @ np.column_stack([basis[:, a] * basis[:, b] for a, b in pairs])
    moments = np.empty((len(at), 4, 4))
    for n, (a, b) in enumerate(pairs):
        moments[:, a, b] = moments[:, b, a] = sums[:, n]
    shift = np.broadcast_to(np.eye(4), (len(at), 4, 4)).copy()
    shift[:, 1:, 0] = -p
    gram = shift @ moments @ shift.transpose(0, 2, 1)
    gram[:, [1, 2, 3], [1, 2, 3]] += _LEVEL * found[:, None] ** 2 * gram[:, :1, 0]
    first = np.linalg.solve(gram, np.broadcast_to(np.eye(4)[:, :1], (len(at), 4, 1)))
    share = (shift.transpose(0, 2, 1) @ first)[:, :, 0]  # what 1, x, y and z of each place weigh at this one
    row = np.repeat(np.arange(len(at)), np.diff(weights.indptr))
    weights.data *= np.einsum("nc,nc->n", share[row], basis[weights.indices])
    return weights


def _weights(places: Floats, volumes: Floats, at: Floats, over_mm: float) -> tuple[Any, Floats]:
    """How much each place counts at each of ``at`` (sparse), and how far was looked."""
    from scipy.sparse import csr_matrix
    from scipy.spatial import cKDTree

    tree = cKDTree(places)
    near = cKDTree(at).sparse_distance_matrix(tree, over_mm, output_type="coo_matrix")
    row, column, away = near.row, near.col, near.data
    reach = np.full(len(at), over_mm)
    few = np.flatnonzero(np.bincount(row, minlength=len(at)) < _FEWEST)
    if len(few):  # cells larger than the length: the nearest points stand in
        found = tree.query(at[few], k=np.arange(1, min(_FEWEST, len(places)) + 1))
        distance, nearest = np.asarray(found[0]), np.asarray(found[1])
        reach[few] = np.maximum(1.1 * distance.max(axis=1), over_mm)
        keep = ~np.isin(row, few)
        row = np.concatenate([row[keep], np.repeat(few, nearest.shape[1])])
        column = np.concatenate([column[keep], nearest.ravel()])
        away = np.concatenate([away[keep], distance.ravel()])
    weight = volumes[column] * (1.0 - (away / reach[row]) ** 2)
    return csr_matrix((weight, (row, column)), shape=(len(at), len(places))), reach
