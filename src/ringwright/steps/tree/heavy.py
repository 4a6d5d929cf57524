"""Where a pattern is heavy: the largest balls in its metal, on cells and at places of its surface."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ringwright.science.distance import between_cells
from ringwright.science.solids import face_areas, face_normals, from_manifold, spread_points, to_manifold, volume
from ringwright.science.surface import Surface, surface
from ringwright.science.thickness import on_cells
from ringwright.science.voxels import Bools, Grid, fill
from ringwright.steps.tree.shapes import across, ball
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import bad

CELL_MM = 0.15
"""Cell on which balls are sought; the largest one is then measured to a tenth of it."""

_PLACES = 4000
_AROUND = 72
_FLAT = 0.96
_SMOOTH_MM = 0.6
_DISC_MM = np.array(
    [(0.2 * r * np.cos(a), 0.2 * r * np.sin(a)) for r in (1, 2, 3, 4) for a in 2 * np.pi * np.arange(16) / 16]
)


@dataclass(frozen=True, eq=False)
class Studied:
    """A pattern with its balls, and places spread evenly over its surface.

    ``ball_of_cell`` is the diameter of the largest ball that holds a cell, 0 outside. Each place has its outward
    normal (the mean over half a millimetre), the ball behind it, whether it lies on a surface and not on an edge, and
    whether it belongs to the finger hole.
    """

    mesh: Mesh
    unit: Floats
    grid: Grid
    ball_of_cell: Floats
    tree: Surface
    at: Floats
    normals: Floats
    balls_mm: Floats
    flat: Bools
    hole: Bools
    volume_mm3: float
    width_mm: float
    middle_mm: float
    thickest_mm: float
    heaviest_at: Floats

    @cached_property
    def modulus_mm(self) -> float:
        """Volume over cooling surface of the heaviest part."""
        return modulus_mm(self.mesh, self.heaviest_at, self.thickest_mm)

    @cached_property
    def cells(self) -> tuple[Ints, Floats]:
        """The cells (n, 3) that hold metal, and their centres."""
        cells = np.argwhere(self.ball_of_cell > 0)
        return cells, self.grid.centres_of(cells)

    def cells_near(self, points_mm: Floats) -> Ints:
        """The cells (n, 3) that hold these points, or the nearest ones of the grid."""
        return np.clip(self.grid.cell_of(points_mm), 0, np.array(self.grid.shape) - 1)

    def ball_behind(self, points_mm: Floats, normals: Floats) -> Floats:
        """The largest ball that holds the metal just behind places of the surface."""
        depths = [points_mm - normals * (k * self.grid.h_mm) for k in (0.5, 1.0, 1.5)]
        found: Floats = np.max([self.ball_of_cell[tuple(self.cells_near(d).T)] for d in depths], axis=0)
        return found

    def foot(self, point_mm: Floats) -> tuple[Floats, Floats]:
        """The nearest place of the surface to a point, and the mean outward normal of the patch about it.

        The patch is a disc of equal rings in the tangent plane, let down on the surface, so that it is even.
        """
        _, which = self.tree.nearest(point_mm[None])
        corners = self.mesh.vertices_mm[self.mesh.faces[which[0]]]
        normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
        normal = normal / max(float(np.linalg.norm(normal)), 1e-12)
        on = point_mm - normal * float((point_mm - corners[0]) @ normal)
        for _ in range(2):
            x, y = across(normal)
            patch = on + _DISC_MM[:, :1] * x + _DISC_MM[:, 1:] * y
            _, near = self.tree.nearest(patch)
            under = self.unit[near]
            mean = under[under @ normal > 0.5].sum(axis=0)
            if np.linalg.norm(mean) > 0:
                normal = mean / np.linalg.norm(mean)
        return on, normal


def study(pattern: Mesh, hole_diameter_mm: float) -> Studied:
    """The heavy places of a closed pattern in its ring's frame.

    Raises :class:`BadInput` for a pattern without volume or that is not closed.
    """
    whole = volume(pattern)
    if not whole > 0:
        raise bad("pattern", "it has no volume", "a closed solid whose triangles face outward")
    grid = fill(pattern, CELL_MM, 2)
    balls = on_cells(pattern, grid).astype(np.float64)
    tree = surface(pattern)
    depth = between_cells(grid.inside, CELL_MM)
    deep = grid.centres_of(np.argwhere(depth > depth.max() - CELL_MM)[:_PLACES])
    heaviest_at, thickest = _deepest(tree, deep)
    middle = float(pattern.vertices_mm[:, 2].max() + pattern.vertices_mm[:, 2].min()) / 2
    at = np.concatenate([spread_points(pattern, _PLACES), _in_the_middle(pattern, tree, middle)])
    _, which = tree.nearest(at)
    unit = face_normals(pattern)
    normals, agree = _smoothed(at, unit[which])
    away = np.hypot(at[:, 0], at[:, 1])
    facing = -(at[:, 0] * normals[:, 0] + at[:, 1] * normals[:, 1]) / np.maximum(away, 1e-9)
    hole = (facing > 0.3) & (away < hole_diameter_mm / 2 + 1.5)
    below = hole & (at[:, 1] < 0)
    studied = Studied(
        mesh=pattern,
        unit=unit,
        grid=grid,
        ball_of_cell=balls,
        tree=tree,
        at=at,
        normals=normals,
        balls_mm=np.zeros(len(at)),
        flat=agree > _FLAT,
        hole=hole,
        volume_mm3=whole,
        width_mm=float(np.ptp(at[below, 2])) if below.any() else float(np.ptp(at[:, 2])),
        middle_mm=middle,
        thickest_mm=thickest,
        heaviest_at=heaviest_at,
    )
    return replace(studied, balls_mm=studied.ball_behind(at, normals))


def _in_the_middle(pattern: Mesh, tree: Surface, middle_mm: float) -> Floats:
    """Places on the outside of the ring, half-way along the finger and evenly around, the bottom among them."""
    turn = 2 * np.pi * np.arange(_AROUND) / _AROUND
    far = float(np.hypot(pattern.vertices_mm[:, 0], pattern.vertices_mm[:, 1]).max()) + 1.0
    outside = np.stack([far * np.cos(turn), far * np.sin(turn), np.full(_AROUND, middle_mm)], axis=1)
    away, which = tree.nearest(outside)
    corner, normal = pattern.corners_mm[which, 0], face_normals(pattern)[which]
    height = np.einsum("ij,ij->i", outside - corner, normal)
    feet: Floats = (outside - normal * height[:, None])[np.abs(height - away) < 1e-6]
    return feet


def _deepest(tree: Surface, deep: Floats) -> tuple[Floats, float]:
    """The centre and diameter of the largest ball near one of these points: looked for on ever finer lattices."""
    away = tree.distance_mm(deep)
    centre, best, step = deep[int(np.argmax(away))], float(away.max()), CELL_MM / 2
    lattice = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    while step > CELL_MM / 20:
        tried = centre + step * lattice
        away = tree.distance_mm(tried)
        n = int(np.argmax(away))
        if away[n] > best:
            centre, best = tried[n], float(away[n])
        else:
            step /= 2
    return centre, 2.0 * best


def _smoothed(at: Floats, raw: Floats) -> tuple[Floats, Floats]:
    """The mean normal within half a millimetre of each place, and how well those agree (1 on a plane)."""
    from scipy.spatial import cKDTree

    tree = cKDTree(at)
    pairs = tree.query_pairs(_SMOOTH_MM, output_type="ndarray")
    total = raw.copy()
    count = np.ones(len(at))
    same = np.einsum("ij,ij->i", raw[pairs[:, 0]], raw[pairs[:, 1]]) > -0.2
    pairs = pairs[same]
    for a, b in ((0, 1), (1, 0)):
        np.add.at(total, pairs[:, a], raw[pairs[:, b]])
        np.add.at(count, pairs[:, a], 1.0)
    length = np.linalg.norm(total, axis=1)
    return total / np.maximum(length, 1e-12)[:, None], length / count


def about(studied: Studied, near_mm: Floats, reach_mm: float) -> tuple[Floats, float]:
    """The centre and diameter of the largest ball in the metal that has its middle about there."""
    cells, centres = studied.cells
    away = np.linalg.norm(centres - near_mm, axis=1)
    close = away < max(reach_mm, float(away.min()) + CELL_MM)
    balls = np.where(close, studied.ball_of_cell[tuple(cells.T)], 0.0)
    deep = centres[close & (balls > balls.max() - 2 * CELL_MM)]
    return _deepest(studied.tree, deep)


def modulus_mm(pattern: Mesh, centre: Floats, ball_mm: float) -> float:
    """Volume over cooling surface of the metal about the centre of a ball, within three of its radii.

    A round bar gives a quarter of its diameter, a plate half of its thickness, the one 3 %, the other 8 % more than
    that: the cut is round, so it takes a little metal whose surface it leaves out. Cut faces do not cool.
    """
    metal_mm3, cooling_mm2 = part_about(pattern, centre, ball_mm)
    return metal_mm3 / cooling_mm2 if cooling_mm2 > 0 else math.inf


def part_about(pattern: Mesh, centre: Floats, ball_mm: float) -> tuple[float, float]:
    """Volume and cooling surface of the metal about the centre of a ball, within three of its radii."""
    reach = 1.5 * ball_mm
    inside = from_manifold(to_manifold(pattern) ^ to_manifold(ball(centre, reach)))
    away = np.linalg.norm(inside.corners_mm - centre, axis=2)
    cooling = away.min(axis=1) < reach * 0.99
    middle = inside.middles_mm - centre
    outward = np.einsum("ij,ij->i", middle, face_normals(inside)) / np.linalg.norm(middle, axis=1)
    cut = ~cooling & (outward > 0.9)
    return volume(inside), float(face_areas(inside)[~cut].sum())
