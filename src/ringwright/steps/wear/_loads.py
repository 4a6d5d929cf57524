"""Where a load case pushes, and what holds the ring meanwhile."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ringwright.science.elastic import Quadratic, face_forces
from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import bad
from ringwright.terms.piece import Piece
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, LoadKind

Bools = NDArray[np.bool_]
Load = tuple[Floats, Bools]
"""Nodal forces (n, 3) in N, and the nodes too near to them for their stress to count (Saint-Venant)."""


def loads_of(piece: Piece, mesh: Quadratic, case: LoadCaseFact, snag_at: tuple[Point, ...]) -> list[Load]:
    """The loads of a case: one, or one a claw that can be caught."""
    points, faces = mesh.points_mm, mesh.skin_faces
    middle = points[faces[:, :3]].mean(axis=1)

    def push(at: Floats, force: Floats) -> Load:
        """A force on a round patch that fades toward its rim, so that it does not depend on where triangles end."""
        away = np.linalg.norm(middle - at, axis=1)
        reach = max(case.patch_mm, 1.5 * float(np.partition(away, 3)[3]))
        patch = away < reach
        force_N = face_forces(mesh, faces[patch], force, 1.0 - (away[patch] / reach) ** 2)
        return force_N, np.asarray(np.linalg.norm(points - at, axis=1) < reach)

    if case.kind is LoadKind.STRETCH:
        return [(_pressure(piece, mesh), np.zeros(len(points), bool))]
    newton = case.force_N or 0.0
    if case.kind is LoadKind.SQUEEZE:
        left, right = (middle[np.argmax(s * middle[:, 0] - 10.0 * np.abs(middle[:, 1]))] for s in (-1.0, 1.0))
        inward = np.array([newton, 0.0, 0.0])
        one, other = push(left, inward), push(right, -inward)
        return [(one[0] + other[0], one[1] | other[1])]
    if case.kind is LoadKind.SNAG:
        tips = snag_at or (middle[np.argmax(middle[:, 1])],)
        centre = np.mean([np.asarray(tip) for tip in tips], axis=0)
        return [_snag(middle, np.asarray(tip), centre, newton, push) for tip in tips]
    slanting = np.array([-np.sqrt(0.5), -np.sqrt(0.5), 0.0])
    return [push(middle[np.argmax(middle[:, 1])], newton * slanting)]


def _snag(middle: Floats, tip: Floats, centre: Floats, newton: float, push: Callable[[Floats, Floats], Load]) -> Load:
    """Outward and upward on a claw's tip."""
    at = middle[np.argmin(np.linalg.norm(middle - tip, axis=1))]
    out = (at - centre) * [1.0, 0.0, 1.0]
    size = float(np.linalg.norm(out))
    way = (out / size if size > 0.2 else np.array([1.0, 0.0, 0.0])) + np.array([0.0, 1.0, 0.0])
    return push(at, newton * way / np.linalg.norm(way))


def _pressure(piece: Piece, mesh: Quadratic) -> Floats:
    """An even pressure on the inside, of 100 N in all; what openings leave out of balance is taken off evenly."""
    wall = on_inside(piece, mesh)
    if len(wall) == 0:
        raise bad("model", "no surface faces the finger", "a ring needs an inside")
    p = mesh.points_mm[wall[:, :3]]
    area = 0.5 * np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
    out = p.mean(axis=1) * [1.0, 1.0, 0.0]
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    force = out * (100.0 * area / area.sum())[:, None]
    total = np.zeros_like(mesh.points_mm)
    for corner in range(3, 6):
        np.add.at(total, wall[:, corner], force / 3.0)
    balanced: Floats = total - total.sum(axis=0) / len(total)
    return balanced


def on_inside(piece: Piece, mesh: Quadratic) -> Ints:
    """(k, 6) the skin triangles that touch the finger."""
    points, faces = mesh.points_mm, mesh.skin_faces
    p = points[faces[:, :3]]
    middle = p.mean(axis=1)
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    radius = np.hypot(middle[:, 0], middle[:, 1])
    inward = -np.einsum("ij,ij->i", normal[:, :2], middle[:, :2]) / np.maximum(radius, 1e-300)
    close = radius < piece.hole.diameter_mm / 2 + 0.3 * piece.band_thickness_mm
    return np.asarray(faces[close & (inward > 0.5)])


def on_finger(piece: Piece, mesh: Quadratic) -> Bools:
    """(n, 3) what the finger holds: the nodes of the inside below the middle of the hole."""
    wall = on_inside(piece, mesh)
    below = mesh.points_mm[wall[:, :3]].mean(axis=1)[:, 1] < 0
    fixed = np.zeros((len(mesh.points_mm), 3), bool)
    fixed[np.unique(wall[below])] = True
    return fixed
