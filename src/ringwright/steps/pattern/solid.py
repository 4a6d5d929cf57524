"""The solid of the pattern: stock added where the ring is drawn finished, then scaled about the hole's centre."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ringwright.science.solids import face_areas, face_normals, from_manifold, part, shells, to_manifold, volume
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import bad

CELL_MM = 0.1
"""Cell for reading the stocked solid. A finger hole comes out within 0.003 mm; edges lose a bevel of half a cell."""

THINNED_MM = 0.001
"""Triangles are put together where the surface moves by no more than about this; all that follows works on the rest."""

_SURELY_HOLE_MM = 0.5
_SURELY_NOT_MM = 1.0


def stocked(ring: Mesh, hole_diameter_mm: float, inside_mm: float, outside_mm: float) -> Mesh:
    """The ring with stock on every surface: ``inside_mm`` on the finger hole, ``outside_mm`` elsewhere.

    The finger hole is what faces the axis within half a millimetre of it (a comfort profile included); up to a
    millimetre the stock goes over into the outer one. At the hole's rim the two stocks meet in a mitre, so that no lip
    stands into the hole.
    """
    most = max(inside_mm, outside_mm)
    if most == 0.0:
        return ring
    from ringwright.science.offset import grown
    from ringwright.science.surface import surface

    radius = hole_diameter_mm / 2.0
    of_hole = np.flatnonzero(faces_of_hole(ring, hole_diameter_mm))
    if not len(of_hole):
        raise bad("model", f"no finger hole of {hole_diameter_mm} mm about the axis", "a ring in its own frame")
    tree, normals, corner = surface(part(ring, of_hole)), face_normals(ring), ring.corners_mm[:, 0]
    in_hole = np.zeros(len(ring.faces), np.bool_)
    in_hole[of_hole] = True

    def level(points: Floats, at: Floats, which: Ints, direction: Floats, distance: Floats) -> Floats:
        away = np.hypot(at[:, 0], at[:, 1])
        share = np.clip((_SURELY_NOT_MM - (away - radius)) / (_SURELY_NOT_MM - _SURELY_HOLE_MM), 0.0, 1.0)
        heights: Floats = distance - outside_mm
        near = np.flatnonzero(share > 0.0)
        wall = which[near]
        beside = ~in_hole[wall]  # next to the rim: the ring is nearer elsewhere than in its hole
        wall[beside] = of_hole[tree.nearest(points[near[beside]])[1]]
        over = np.einsum("ij,ij->i", normals[wall], points[near] - corner[wall])
        facing = -np.einsum("ij,ij->i", at[near, :2], direction[near, :2]) / np.maximum(away[near], 1e-9)
        across = np.where(facing > 0.0, np.sqrt(np.clip(1.0 - facing**2, 0.0, 1.0)), 1.0)
        mitred = np.maximum(over - inside_mm, distance[near] * across - outside_mm)
        heights[near] = share[near] * mitred + (1.0 - share[near]) * heights[near]
        return heights

    return from_manifold(to_manifold(grown(ring, level, most, CELL_MM)).simplify(THINNED_MM))


def inscribed_hole_mm(ring: Mesh, about_mm: float) -> float:
    """Diameter of the largest cylinder about the finger axis that the finger hole leaves free.

    ``about_mm`` is the diameter that is roughly expected: what stands more than a tenth into it (a brace across the
    hole) is not the hole.
    """
    flat = ring.corners_mm[faces_of_hole(ring, about_mm), :, :2]
    flat = flat[np.hypot(flat[..., 0], flat[..., 1]).min(axis=1) > 0.45 * about_mm]
    if not len(flat):
        return 0.0
    return 2.0 * float(np.sqrt(min(_nearest2(flat[:, i], flat[:, (i + 1) % 3]) for i in range(3))))


def faces_of_hole(ring: Mesh, hole_diameter_mm: float) -> NDArray[np.bool_]:
    """Which triangles belong to the finger hole: they face the axis and lie within a millimetre of it."""
    middle, normal = ring.middles_mm, face_normals(ring)
    away = np.hypot(middle[:, 0], middle[:, 1])
    facing = -(middle[:, 0] * normal[:, 0] + middle[:, 1] * normal[:, 1]) / np.maximum(away, 1e-9)
    found: NDArray[np.bool_] = (facing > 0.5) & (away < hole_diameter_mm / 2 + _SURELY_NOT_MM)
    return found


def surfaces_mm2(ring: Mesh, hole_diameter_mm: float) -> tuple[float, float]:
    """Area of the finger hole and of all other surfaces."""
    area = face_areas(ring)
    hole = faces_of_hole(ring, hole_diameter_mm)
    return float(area[hole].sum()), float(area[~hole].sum())


def closed_cavities(mesh: Mesh) -> int:
    """How many hollows are shut in: shells that face inward."""
    return sum(volume(shell) < 0 for shell in shells(mesh))


def _nearest2(a: Floats, b: Floats) -> float:
    """The least squared distance of the origin to any of the segments a to b."""
    along = b - a
    length2 = np.einsum("ij,ij->i", along, along)
    t = np.clip(-np.einsum("ij,ij->i", a, along) / np.where(length2 > 0, length2, 1.0), 0.0, 1.0)
    foot = a + t[:, None] * along
    return float(np.einsum("ij,ij->i", foot, foot).min())
