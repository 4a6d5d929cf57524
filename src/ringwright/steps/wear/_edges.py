"""Sharp edges: those that press on the finger, and those that snag."""

from __future__ import annotations

import numpy as np

from ringwright.terms.body import Floats, Mesh
from ringwright.terms.piece import Piece

# An edge counts as sharp where its two triangles turn by more than this: a rounding drawn with several
# facets turns by less at each.
_SHARP_DEG = 40.0
_TOWARD_FINGER_MM = 0.35


def sharp_lengths(piece: Piece) -> tuple[float, float]:
    """Length in mm of convex sharp edges near the finger, and of those elsewhere."""
    middle, length = _sharp_edges(piece.metal)
    near = np.hypot(middle[:, 0], middle[:, 1]) < piece.hole.diameter_mm / 2 + _TOWARD_FINGER_MM
    return float(length[near].sum()), float(length[~near].sum())


def _sharp_edges(mesh: Mesh) -> tuple[Floats, Floats]:
    """Middle (k, 3) and length (k,) of each convex edge that is sharp."""
    corners = mesh.corners_mm
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    edges = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    face = np.repeat(np.arange(len(mesh.faces)), 3)
    low, high = edges.min(axis=1), edges.max(axis=1)
    order = np.lexsort((high, low))
    low, high, face = low[order], high[order], face[order]
    pair = np.flatnonzero((low[1:] == low[:-1]) & (high[1:] == high[:-1]))
    a, b = face[pair], face[pair + 1]
    turn = np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", normal[a], normal[b]), -1.0, 1.0)))
    # Convex where the other triangle lies below this one's plane.
    away = corners[b].mean(axis=1) - corners[a].mean(axis=1)
    sharp = (turn > _SHARP_DEG) & (np.einsum("ij,ij->i", normal[a], away) < 0)
    p, q = mesh.vertices_mm[low[pair][sharp]], mesh.vertices_mm[high[pair][sharp]]
    return (p + q) / 2, np.asarray(np.linalg.norm(q - p, axis=1))
