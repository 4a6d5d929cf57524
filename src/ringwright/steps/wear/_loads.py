"""Where a load case pushes, and what holds the ring meanwhile.

All loads lie on the drawn skin, so that every mesh is pushed at the same places.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.science.skin import Patches
from ringwright.terms.body import Floats
from ringwright.terms.mistake import bad
from ringwright.terms.piece import Piece
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, LoadKind

PUSH_N = 100.0
# Waves that a mandrel irons out: shorter ones than this many about the finger no shank has.
_MOST_WAVES = 6


@dataclass(frozen=True, eq=False)
class Load:
    """Forces (p, 3) in N on the patches of the skin, and the places (with a radius) too near to which no stress counts
    (Saint-Venant)."""

    forces_N: Floats
    near: tuple[tuple[Floats, float], ...] = ()

    def counted(self, points: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """(p,) which points lie far enough from where it pushes."""
        far = np.ones(len(points), bool)
        for at, reach in self.near:
            far &= np.linalg.norm(points - at, axis=1) > reach
        return far


def load_of(piece: Piece, skin: Patches, case: LoadCaseFact) -> Load:
    """The load of a squeeze or a knock on the whole ring, in balance with what the finger pushes back."""
    newton = case.force_N or 0.0
    drawn = piece.metal.vertices_mm
    if case.kind is LoadKind.SQUEEZE:
        left, right = (drawn[np.argmax(s * drawn[:, 0] - 10.0 * np.abs(drawn[:, 1]))] for s in (-1.0, 1.0))
        inward = np.array([newton, 0.0, 0.0])
        one, other = _push(skin, left, inward, case.patch_mm), _push(skin, right, -inward, case.patch_mm)
        squeeze = one.forces_N + other.forces_N
        return Load(squeeze + _held_by_finger(piece, skin, squeeze, below=False), one.near + other.near)
    # A table's edge meets all that stands highest at once, not one claw.
    highest = _middle_of(piece, drawn[:, 1].max() - 0.5)
    slanting = np.array([-np.sqrt(0.5), -np.sqrt(0.5), 0.0])
    knock = _push(skin, highest, newton * slanting, case.patch_mm)
    return Load(knock.forces_N + _held_by_finger(piece, skin, knock.forces_N, below=True), knock.near)


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


def snags_of(skin: Patches, case: LoadCaseFact, tips: tuple[Point, ...]) -> list[Load]:
    """Outward and upward on each claw's tip in turn."""
    centre = np.mean([np.asarray(tip) for tip in tips], axis=0)
    made = []
    for tip in tips:
        at = np.asarray(tip)
        out = (at - centre) * [1.0, 0.0, 1.0]
        size = float(np.linalg.norm(out))
        way = (out / size if size > 0.2 else np.array([1.0, 0.0, 0.0])) + np.array([0.0, 1.0, 0.0])
        made.append(_push(skin, at, (case.force_N or 0.0) * way / np.linalg.norm(way), case.patch_mm))
    return made


def _push(skin: Patches, at: Floats, force_N: Floats, patch_mm: float) -> Load:
    """A force that fades toward the rim of a round patch.

    Force and moment are exactly those of the force at ``at``: the push varies linearly over the patch by what that
    takes.
    """
    away = np.linalg.norm(skin.points_mm - at, axis=1)
    reach = max(patch_mm, 1.5 * float(np.partition(away, 3)[3]))
    share = skin.area_mm2 * np.maximum(1.0 - (away / reach) ** 2, 0.0)
    wanted = np.concatenate([force_N, np.cross(at, force_N)])
    return Load(_spread(skin.points_mm, share, wanted, at), ((at, reach),))


def _spread(points: Floats, share: Floats, wanted: Floats, about: Floats) -> Floats:
    """(p, 3) forces that vary linearly over the points of a share, with the force and moment (6,) that are wanted."""
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


def _held_by_finger(piece: Piece, skin: Patches, load: Floats, *, below: bool) -> Floats:
    """What a soft finger pushes back on the inside (its lower half, where ``below``).

    A finger is far softer than metal: its push is taken to vary linearly over the wall, as that of an elastic
    bed under a stiff body does, with the six numbers that balance the load's force and moment.
    """
    share = on_inside(piece, skin)
    if below:
        share = np.where(skin.points_mm[:, 1] < 0, share, 0.0)
    needed = -np.concatenate([load.sum(axis=0), np.cross(skin.points_mm, load).sum(axis=0)])
    return _spread(skin.points_mm, share, needed, np.zeros(3))


def mandrel_of(piece: Piece, skin: Patches) -> list[Load]:
    """What a mandrel pushes, in parts: evenly from inside, and in waves about the finger; ``PUSH_N`` each.

    A mandrel is round and hard: how much of the waves goes with the even push follows from the hole staying round
    (:func:`stretched`).
    """
    share = on_inside(piece, skin)
    out = _outward(skin.points_mm)
    made = []
    for pattern in _waves(out)[:, :-2].T:
        push = out * (PUSH_N * share * pattern / share.sum())[:, None]
        made.append(Load(push + _held_by_finger(piece, skin, push, below=False)))
    return made


def stretched(piece: Piece, skin: Patches, moved: Floats, wider_mm: float) -> Floats:
    """(k,) how much of each of the mandrel's pushes (movements (p, 3, k) of the skin) widens the hole's mean diameter
    so much and keeps it round."""
    share, out = on_inside(piece, skin), _outward(skin.points_mm)
    outward = np.einsum("wik,wi->wk", moved, out)
    # The least squares of an even widening, of waves and of a shift, which is free, over the wall that is there.
    waves = _waves(out)
    found = np.linalg.solve(waves.T @ (share[:, None] * waves), waves.T @ (share[:, None] * outward))[:-2]
    wanted = np.zeros(len(found))
    wanted[0] = wider_mm / 2.0
    return np.asarray(np.linalg.solve(found, wanted))


def _waves(out: Floats) -> Floats:
    """(p, 2 n + 1) even; cosine and sine of 2 to n times the angle about the finger; last of the angle itself."""
    angle = np.arctan2(out[:, 1], out[:, 0])
    many = [*range(2, _MOST_WAVES + 1), 1]
    return np.column_stack([np.ones(len(out)), *(turn(n * angle) for n in many for turn in (np.cos, np.sin))])


def _outward(points: Floats) -> Floats:
    """Away from the finger's axis."""
    out = points * [1.0, 1.0, 0.0]
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-300))


def on_inside(piece: Piece, skin: Patches) -> Floats:
    """(p,) the area in mm² of each patch that touches the finger; it fades where the wall turns away."""
    at, normal = skin.points_mm, skin.outward
    radius = np.hypot(at[:, 0], at[:, 1])
    inward = -np.einsum("ij,ij->i", normal[:, :2], at[:, :2]) / np.maximum(radius, 1e-300)
    over = (radius - piece.hole.diameter_mm / 2) / piece.band_thickness_mm
    touch = np.clip((inward - 0.4) / 0.4, 0.0, 1.0) * np.clip((0.4 - over) / 0.2, 0.0, 1.0)
    if not (touch > 0).any():
        raise bad("model", "no surface faces the finger", "a ring needs an inside")
    return np.asarray(touch * skin.area_mm2)
