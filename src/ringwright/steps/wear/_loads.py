"""Where a load case pushes, and what holds the ring meanwhile."""

from __future__ import annotations

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


def load_of(piece: Piece, mesh: Quadratic, case: LoadCaseFact) -> Load:
    """The load of a squeeze, a stretch or a knock on the whole ring, in balance with what the finger pushes back."""
    points, faces = mesh.points_mm, mesh.skin_faces
    middle = points[faces[:, :3]].mean(axis=1)
    if case.kind is LoadKind.STRETCH:
        return _pressure(piece, mesh), np.zeros(len(points), bool)
    newton = case.force_N or 0.0
    if case.kind is LoadKind.SQUEEZE:
        left, right = (middle[np.argmax(s * middle[:, 0] - 10.0 * np.abs(middle[:, 1]))] for s in (-1.0, 1.0))
        inward = np.array([newton, 0.0, 0.0])
        one, other = _push(mesh, left, inward, case.patch_mm), _push(mesh, right, -inward, case.patch_mm)
        squeeze = one[0] + other[0]
        return squeeze + _held_by_finger(piece, mesh, squeeze, below=False), one[1] | other[1]
    # A table's edge meets all that stands highest at once, not one claw.
    highest = middle[middle[:, 1] > middle[:, 1].max() - 0.5].mean(axis=0)
    slanting = np.array([-np.sqrt(0.5), -np.sqrt(0.5), 0.0])
    knock, near = _push(mesh, highest, newton * slanting, case.patch_mm)
    return knock + _held_by_finger(piece, mesh, knock, below=True), near


def snags_of(mesh: Quadratic, case: LoadCaseFact, tips: tuple[Point, ...]) -> list[Load]:
    """Outward and upward on each claw's tip in turn."""
    middle = mesh.points_mm[mesh.skin_faces[:, :3]].mean(axis=1)
    centre = np.mean([np.asarray(tip) for tip in tips], axis=0)
    made = []
    for tip in tips:
        at = middle[np.argmin(np.linalg.norm(middle - np.asarray(tip), axis=1))]
        out = (at - centre) * [1.0, 0.0, 1.0]
        size = float(np.linalg.norm(out))
        way = (out / size if size > 0.2 else np.array([1.0, 0.0, 0.0])) + np.array([0.0, 1.0, 0.0])
        made.append(_push(mesh, at, (case.force_N or 0.0) * way / np.linalg.norm(way), case.patch_mm))
    return made


def _push(mesh: Quadratic, at: Floats, force_N: Floats, patch_mm: float) -> Load:
    """A force on a round patch that fades toward its rim, so that it does not depend on where triangles end."""
    points, faces = mesh.points_mm, mesh.skin_faces
    away = np.linalg.norm(points[faces[:, :3]].mean(axis=1) - at, axis=1)
    reach = max(patch_mm, 1.5 * float(np.partition(away, 3)[3]))
    patch = away < reach
    load = face_forces(mesh, faces[patch], force_N, 1.0 - (away[patch] / reach) ** 2)
    return load, np.asarray(np.linalg.norm(points - at, axis=1) < reach)


def _held_by_finger(piece: Piece, mesh: Quadratic, load: Floats, *, below: bool) -> Floats:
    """What a soft finger pushes back on the inside (its lower half, where ``below``).

    A finger is far softer than metal: its push is taken to vary linearly over the wall, as that of an elastic
    bed under a stiff body does, with the six numbers that balance the load's force and moment.
    """
    wall = on_inside(piece, mesh)
    if below:
        wall = wall[mesh.points_mm[wall[:, :3]].mean(axis=1)[:, 1] < 0]
    if len(wall) == 0:
        raise bad("model", "no surface faces the finger", "a ring needs an inside")
    share = np.linalg.norm(face_forces(mesh, wall, np.array([1.0, 0.0, 0.0])), axis=1)
    x = mesh.points_mm
    arms = np.zeros((len(x), 3, 6))
    arms[:, :, :3] = np.eye(3)
    for axis in range(3):
        arms[:, :, 3 + axis] = np.cross(np.eye(3)[axis], x)
    system = np.einsum("n,nic,nid->cd", share, arms, arms)
    needed = -np.einsum("ni,nic->c", load, arms)
    push: Floats = share[:, None] * np.einsum("nic,c->ni", arms, np.linalg.solve(system, needed))
    return push


def _pressure(piece: Piece, mesh: Quadratic) -> Floats:
    """An even pressure on the inside, of 100 N in all; what openings leave out of balance the mandrel pushes back."""
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
    return total + _held_by_finger(piece, mesh, total, below=False)


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
