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
PUSH_N = 100.0


def load_of(piece: Piece, mesh: Quadratic, case: LoadCaseFact) -> Load:
    """The load of a squeeze or a knock on the whole ring, in balance with what the finger pushes back.

    Where it pushes is read from the drawn metal, not from the cells, so that every mesh is pushed at the same place.
    """
    newton = case.force_N or 0.0
    drawn = piece.metal.vertices_mm
    if case.kind is LoadKind.SQUEEZE:
        left, right = (drawn[np.argmax(s * drawn[:, 0] - 10.0 * np.abs(drawn[:, 1]))] for s in (-1.0, 1.0))
        inward = np.array([newton, 0.0, 0.0])
        one, other = _push(mesh, left, inward, case.patch_mm), _push(mesh, right, -inward, case.patch_mm)
        squeeze = one[0] + other[0]
        return squeeze + _held_by_finger(piece, mesh, squeeze, below=False), one[1] | other[1]
    # A table's edge meets all that stands highest at once, not one claw.
    highest = _middle_of(piece, drawn[:, 1].max() - 0.5)
    slanting = np.array([-np.sqrt(0.5), -np.sqrt(0.5), 0.0])
    knock, near = _push(mesh, highest, newton * slanting, case.patch_mm)
    return knock + _held_by_finger(piece, mesh, knock, below=True), near


def _middle_of(piece: Piece, above_mm: float) -> Floats:
    """The middle, by area, of the drawn surface that stands above a height."""
    corners = piece.metal.corners_mm
    middle = corners.mean(axis=1)
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    weight = np.where(middle[:, 1] > above_mm, area, 0.0)
    if weight.sum() <= 0:
        highest: Floats = piece.metal.vertices_mm[np.argmax(piece.metal.vertices_mm[:, 1])]
        return highest
    return np.asarray(np.average(middle, axis=0, weights=weight))


def snags_of(mesh: Quadratic, case: LoadCaseFact, tips: tuple[Point, ...]) -> list[Load]:
    """Outward and upward on each claw's tip in turn."""
    centre = np.mean([np.asarray(tip) for tip in tips], axis=0)
    made = []
    for tip in tips:
        at = np.asarray(tip)
        out = (at - centre) * [1.0, 0.0, 1.0]
        size = float(np.linalg.norm(out))
        way = (out / size if size > 0.2 else np.array([1.0, 0.0, 0.0])) + np.array([0.0, 1.0, 0.0])
        made.append(_push(mesh, at, (case.force_N or 0.0) * way / np.linalg.norm(way), case.patch_mm))
    return made


def _push(mesh: Quadratic, at: Floats, force_N: Floats, patch_mm: float) -> Load:
    """A force on a round patch that fades toward its rim, so that it does not depend on where triangles end.

    Force and moment are exactly those of the force at ``at``: the push varies linearly over the patch by what that
    takes. Else a patch of few triangles would push a tenth of a millimetre beside the place, another in every mesh.
    """
    points, faces = mesh.points_mm, mesh.skin_faces
    away = np.linalg.norm(points[faces[:, :3]].mean(axis=1) - at, axis=1)
    reach = max(patch_mm, 1.5 * float(np.partition(away, 3)[3]))
    patch = away < reach
    share = np.linalg.norm(
        face_forces(mesh, faces[patch], np.array([1.0, 0.0, 0.0]), 1.0 - (away[patch] / reach) ** 2), axis=1
    )
    wanted = np.concatenate([force_N, np.cross(at, force_N)])
    return _spread(points, share, wanted, at), np.asarray(np.linalg.norm(points - at, axis=1) < reach)


def _spread(points: Floats, share: Floats, wanted: Floats, about: Floats) -> Floats:
    """(n, 3) nodal forces that vary linearly over the nodes of a share, with the force and moment (6,) that are
    wanted."""
    among = np.flatnonzero(share)
    x = points[among] - about
    arms = np.zeros((len(x), 3, 6))
    arms[:, :, :3] = np.eye(3)
    for axis in range(3):
        arms[:, :, 3 + axis] = np.cross(np.eye(3)[axis], x)
    system = np.einsum("n,nic,nid->cd", share[among], arms, arms)
    # The moment about the middle of the patch.
    right = np.concatenate([wanted[:3], wanted[3:] - np.cross(about, wanted[:3])])
    made = np.zeros_like(points)
    made[among] = share[among, None] * np.einsum("nic,c->ni", arms, np.linalg.solve(system, right))
    return made


def _held_by_finger(piece: Piece, mesh: Quadratic, load: Floats, *, below: bool) -> Floats:
    """What a soft finger pushes back on the inside (its lower half, where ``below``).

    A finger is far softer than metal: its push is taken to vary linearly over the wall, as that of an elastic
    bed under a stiff body does, with the six numbers that balance the load's force and moment.
    """
    wall, touch = on_inside(piece, mesh)
    if below:
        half = mesh.points_mm[wall[:, :3]].mean(axis=1)[:, 1] < 0
        wall, touch = wall[half], touch[half]
    if len(wall) == 0:
        raise bad("model", "no surface faces the finger", "a ring needs an inside")
    share = np.linalg.norm(face_forces(mesh, wall, np.array([1.0, 0.0, 0.0]), touch), axis=1)
    needed = -np.concatenate([load.sum(axis=0), np.cross(mesh.points_mm, load).sum(axis=0)])
    return _spread(mesh.points_mm, share, needed, np.zeros(3))


def mandrel_of(piece: Piece, mesh: Quadratic) -> list[Load]:
    """What a mandrel pushes: evenly from inside, and more at head and bottom than at the sides; ``PUSH_N`` each.

    A mandrel is round and hard: how much of the second goes with the first follows from the hole staying round
    (:func:`stretched`).
    """
    wall, touch = on_inside(piece, mesh)
    if len(wall) == 0:
        raise bad("model", "no surface faces the finger", "a ring needs an inside")
    area, out = _areas(mesh.points_mm[wall[:, :3]], touch)
    drawn, drawn_touch = _touching(piece, piece.metal.corners_mm)
    drawn_area, drawn_out = _areas(drawn, drawn_touch)
    drawn_at = drawn.mean(axis=1)

    def pushed(pattern: Floats) -> Floats:
        total = np.zeros_like(mesh.points_mm)
        for corner in range(3, 6):
            np.add.at(total, wall[:, corner], out * (PUSH_N * area * pattern / (3.0 * area.sum()))[:, None])
        return total

    waves = [pushed(wave) for wave in _waves(out).T]
    # A ring gives so easily to an uneven push that a percent of it shows tenfold. What cells make uneven is put right:
    # the work of the push on each way of bending is that of the same push on the surface as drawn.
    gives = np.stack([_work(mesh.points_mm, wave) for wave in waves], axis=1)
    made: list[Load] = []
    for sign, of in ((1.0, 0), (-1.0, 1)):
        pattern, wanted = (np.ones(len(out)), np.ones(len(drawn_out))) if of == 0 else (_oval(out), _oval(drawn_out))
        total = sign * pushed(pattern)
        push = drawn_out * (sign * PUSH_N * drawn_area * wanted / drawn_area.sum())[:, None]
        right = np.linalg.solve(gives, _work(drawn_at, push) - _work(mesh.points_mm, total))
        total = total + sum(much * wave for much, wave in zip(right, waves, strict=True))
        made.append((total + _held_by_finger(piece, mesh, total, below=False), np.zeros(len(total), bool)))
    return made


def _areas(corners: Floats, touch: Floats) -> tuple[Floats, Floats]:
    """The area of each triangle as far as it touches, and the way outward from the finger's axis."""
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) * touch
    out = corners.mean(axis=1) * [1.0, 1.0, 0.0]
    return area, np.asarray(out / np.linalg.norm(out, axis=1, keepdims=True))


def _waves(out: Floats) -> Floats:
    """(n, 6) cosine and sine of 2, 3 and 4 times the angle about the finger."""
    angle = np.arctan2(out[:, 1], out[:, 0])
    return np.column_stack([turn(n * angle) for n in (2, 3, 4) for turn in (np.cos, np.sin)])


def _work(points: Floats, forces: Floats) -> Floats:
    """(6,) the work of forces on the ways in which a ring bends without growing longer: u = cos nφ, v = -sin nφ / n."""
    angle = np.arctan2(points[:, 1], points[:, 0])
    outward = forces[:, 0] * np.cos(angle) + forces[:, 1] * np.sin(angle)
    along = forces[:, 1] * np.cos(angle) - forces[:, 0] * np.sin(angle)
    return np.array(
        [
            value
            for n in (2, 3, 4)
            for value in (
                (outward * np.cos(n * angle) - along * np.sin(n * angle) / n).sum(),
                (outward * np.sin(n * angle) + along * np.cos(n * angle) / n).sum(),
            )
        ]
    )


def stretched(piece: Piece, mesh: Quadratic, moved: Floats, wider_mm: float) -> Floats:
    """(2,) how much of the mandrel's two pushes (movements (n, 3, 2)) widens the hole's mean diameter so much and
    keeps it from going oval."""
    wall, touch = on_inside(piece, mesh)
    p = mesh.points_mm[wall[:, :3]]
    # Weighted by area, so that an oval does not count as wider only because one side has more nodes.
    share = touch * np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
    out = mesh.points_mm[wall[:, 3:]].mean(axis=1) * [1.0, 1.0, 0.0]
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    outward = np.einsum("wik,wi->wk", moved[wall[:, 3:]].mean(axis=1), out)
    # The least squares of an even widening and an oval, over the wall that is there.
    basis = np.column_stack([np.ones(len(out)), _oval(out)])
    even, oval = np.linalg.solve(basis.T @ (share[:, None] * basis), basis.T @ (share[:, None] * outward))
    return np.asarray(np.linalg.solve(np.stack([2.0 * even, oval]), np.array([wider_mm, 0.0])))


def _oval(out: Floats) -> Floats:
    """cos 2φ about the finger, 1 at the sides and -1 at head and bottom, of outward directions."""
    return np.asarray(out[:, 0] ** 2 - out[:, 1] ** 2)


def on_inside(piece: Piece, mesh: Quadratic) -> tuple[Ints, Floats]:
    """(k, 6) the skin triangles that touch the finger, and how fully each does: it fades where the wall turns away.

    A limit that counts a triangle whole or not at all would push each mesh elsewhere.
    """
    faces = mesh.skin_faces
    touch = _touches(piece, mesh.points_mm[faces[:, :3]])
    return np.asarray(faces[touch > 0]), np.asarray(touch[touch > 0])


def _touching(piece: Piece, corners: Floats) -> tuple[Floats, Floats]:
    """Those of the triangles (n, 3, 3) that touch the finger, and how fully."""
    touch = _touches(piece, corners)
    return corners[touch > 0], touch[touch > 0]


def _touches(piece: Piece, corners: Floats) -> Floats:
    middle = corners.mean(axis=1)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    radius = np.hypot(middle[:, 0], middle[:, 1])
    inward = -np.einsum("ij,ij->i", normal[:, :2], middle[:, :2]) / np.maximum(radius, 1e-300)
    over = (radius - piece.hole.diameter_mm / 2) / piece.band_thickness_mm
    return np.asarray(np.clip((inward - 0.4) / 0.4, 0.0, 1.0) * np.clip((0.4 - over) / 0.2, 0.0, 1.0))
