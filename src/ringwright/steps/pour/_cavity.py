"""The tree as the metal meets it: cells, how wide the metal is at each, which piece each is of, and where it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ringwright.science.filling import GRAVITY_M_S2
from ringwright.science.network import Network, of_shares
from ringwright.science.solids import area
from ringwright.science.voxels import Grid, box, fill_in, fractions_in
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import ComputingFault, bad
from ringwright.terms.remark import Point
from ringwright.terms.tree import Feeder, Pose, TreeFigures, TreePiece
from ringwright.terms.workshop import Casting, CastingPlant

SPRUE = -1
_FINE_MM = 0.2
_LOOSE_SHARE = 1e-3
_DEEPEST = 12
_HULL_POINTS = 4000


@dataclass(frozen=True, eq=False, kw_only=True)
class Balls:
    """The largest ball in a tree's metal at each cell of a fine grid, and the surface of the hull of its pieces."""

    h_mm: float
    corner_mm: tuple[float, float, float]
    wall_mm: NDArray[np.float32]
    hull_mm2: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Lump:
    """A blind feeder and its cells: its ball, its neck, and the heavy metal beneath that it is to feed."""

    feeder: Feeder
    ball: NDArray[np.bool_]
    neck: NDArray[np.bool_]
    heavy: NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Cavity:
    """The tree's metal in cells of one edge, in the flask's frame.

    ``wall_mm`` is the largest ball in the metal that holds the cell, ``piece`` the number of the piece (-1 for sprue,
    stem and button), ``button`` is the button, into which the metal is poured, ``source`` its top.
    """

    tree: Mesh
    figures: TreeFigures
    pieces: tuple[TreePiece, ...]
    h_mm: float
    corner_mm: tuple[float, float, float]
    shape: tuple[int, int, int]
    share: NDArray[np.float32]
    network: Network
    wall_mm: Floats
    piece: Ints
    source: NDArray[np.bool_]
    button: NDArray[np.bool_]
    hull_mm2: float
    balls: Balls

    @property
    def in_piece(self) -> NDArray[np.bool_]:
        """The cells of pieces."""
        found: NDArray[np.bool_] = self.piece != SPRUE
        return found

    @cached_property
    def channel_mm(self) -> Floats:
        """Radius of the channel at each cell: half the wall, at an edge that of the cells beside it."""
        wall = self.wall_mm.copy()
        np.maximum.at(wall, self.network.rows, self.wall_mm[self.network.other])
        found: Floats = wall / 2
        return found

    @cached_property
    def at_gates(self) -> tuple[NDArray[np.bool_], ...]:
        """For each gate the cells of the sprue's end: within its radius of a place one cell out from the piece."""
        found = []
        for gate in self.figures.gates:
            pose = next(p for p in self.figures.poses if p.piece == gate.piece)
            at = pose.to_flask(np.array(gate.point_mm)) + self.h_mm * (pose.matrix @ np.array(gate.outward))
            reach = max(self.figures.sprue_diameter_mm / 2, self.h_mm)
            found.append(np.linalg.norm(self.network.centre_mm - at, axis=1) < reach)
        return tuple(found)

    @cached_property
    def feeders(self) -> tuple[Lump, ...]:
        """The blind feeders with their cells."""
        found = []
        centre, own = self.network.centre_mm, self.in_piece
        for one in self.figures.feeders:
            pose = next(p for p in self.figures.poses if p.piece == one.piece)
            foot, middle = pose.to_flask(np.array([one.point_mm, one.centre_mm]))
            out = pose.matrix @ np.array(one.outward)
            above = (centre - foot) @ out
            aside = np.linalg.norm(centre - foot - above[:, None] * out, axis=1)
            ball = np.linalg.norm(centre - middle, axis=1) <= one.diameter_mm / 2 + self.h_mm
            ball &= above >= one.neck_length_mm
            heavy = np.linalg.norm(centre - (foot - out * one.ball_mm / 2), axis=1) <= one.ball_mm / 2
            neck = (above > 0) & (above < one.neck_length_mm) & (aside < one.neck_diameter_mm / 2)
            found.append(Lump(feeder=one, ball=ball & ~own, neck=neck & ~own, heavy=heavy & own))
        return tuple(found)

    @property
    def awaited(self) -> NDArray[np.bool_]:
        """The cells whose freezing is waited for: pieces, the ends of their sprues, and blind feeders."""
        found: NDArray[np.bool_] = np.logical_or.reduce(
            [self.in_piece, *self.at_gates, *(lump.ball for lump in self.feeders)]
        )
        return found

    def on_grid(self, wanted: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Some of the cells, on the whole grid."""
        found = np.zeros(self.shape, bool)
        i, j, k = np.floor((self.network.centre_mm[wanted] - self.corner_mm) / self.h_mm).astype(int).T
        found[i, j, k] = True
        return found

    def of_cells(self, grid: Floats) -> Floats:
        """Figures of the whole grid at the cells."""
        i, j, k = np.floor((self.network.centre_mm - self.corner_mm) / self.h_mm).astype(int).T
        found: Floats = grid[i, j, k]
        return found

    def grid(self, values: Floats) -> NDArray[np.float32]:
        """Figures of the cells on the whole grid, NaN where there is no metal."""
        found = np.full(self.shape, np.nan, np.float32)
        i, j, k = np.floor((self.network.centre_mm - self.corner_mm) / self.h_mm).astype(int).T
        found[i, j, k] = np.where(np.isfinite(values), values, np.nan)
        return found

    def at_skin(self, values: Floats) -> Floats:
        """At every cell the greatest figure within half the wall: what lies below the skin."""
        found = values.astype(np.float64).copy()
        rows, other = self.network.rows, self.network.other
        reach = np.round(self.wall_mm / 2 / self.h_mm).astype(int)
        for n in range(min(int(reach.max()), _DEEPEST)):
            grown = found.copy()
            np.maximum.at(grown, rows, found[other])
            found = np.where(n < reach, grown, found)
        return found

    @cached_property
    def of_vertex(self) -> Ints:
        """The nearest cell of every vertex of the tree."""
        from scipy.spatial import cKDTree

        found = cKDTree(self.network.centre_mm).query(self.tree.vertices_mm, workers=2)[1]
        return np.asarray(found, np.int64)

    @cached_property
    def thin_mm(self) -> dict[str, tuple[float, int]]:
        """The thinnest part of each piece that is no mere edge (a hundredth of its cells is thinner), and its cell."""
        found = {}
        for n, piece in enumerate(self.pieces):
            own = np.flatnonzero((self.piece == n) & (self.network.volume_mm3 > 0.5 * self.h_mm**3))
            if len(own):
                at = own[np.argsort(self.wall_mm[own], kind="stable")[len(own) // 100]]
                found[piece.name] = (float(self.wall_mm[at]), int(at))
        return found

    def section_mm(self) -> float:
        """The section that the flask's temperature goes by: the middle wall of the lightest piece, by volume."""
        walls = [float(np.median(self.wall_mm[self.piece == n])) for n in range(len(self.pieces))]
        return min(walls, default=float(np.median(self.wall_mm)))

    def pose(self, cell: int) -> Pose | None:
        """How the piece of a cell stands; None for the sprue."""
        return None if self.piece[cell] == SPRUE else self.figures.poses[self.piece[cell]]

    def name(self, cell: int) -> str:
        """The piece of a cell, or "sprue"."""
        return "sprue" if self.piece[cell] == SPRUE else self.pieces[self.piece[cell]].name

    def point(self, cell: int) -> Point:
        """The cell's place in its ring's frame; in the flask's for the sprue."""
        at = self.network.centre_mm[cell]
        pose = self.pose(cell)
        x, y, z = at if pose is None else pose.to_ring(at)
        return float(x), float(y), float(z)

    def place(self, cell: int) -> str:
        """Where the cell is, in words."""
        if self.piece[cell] == SPRUE:
            if any(lump.ball[cell] or lump.neck[cell] for lump in self.feeders):
                return "feeder"
            button = self.figures.button_top_mm + self.figures.button_height_mm
            return "button" if self.network.centre_mm[cell, 2] > -button else "sprue"
        return where(self.point(cell))


def where(point_mm: Point) -> str:
    """A place of a ring in words, from its place in the ring's frame."""
    x, y, z = point_mm
    angle = math.degrees(math.atan2(x, y))
    turned = abs(angle)
    side = "right" if x > 0 else "left"
    if turned < 30:
        where = "head"
    elif turned < 75:
        where = f"{side} shoulder"
    elif turned < 150:
        where = f"{side} of the shank"
    else:
        where = "bottom of the shank"
    # Rounded before it is written: no place is minus nothing.
    return f"{where}, {round(angle) + 0:+d}° from the head, {round(float(z), 1) + 0.0:+.1f} mm along the finger"


def balls(tree: Mesh, figures: TreeFigures, pieces: Sequence[TreePiece], fine_mm: float = _FINE_MM) -> Balls:
    """What does not change with the cells that a tree is reckoned in; balls on cells of ``fine_mm``."""
    from ringwright.science.thickness import on_cells

    corner, shape = box(tree, fine_mm, 2)
    grid: Grid = fill_in(tree, fine_mm, corner, shape)
    return Balls(h_mm=fine_mm, corner_mm=corner, wall_mm=on_cells(tree, grid), hull_mm2=_hull_mm2(figures, pieces))


def cavity(
    tree: Mesh, figures: TreeFigures, pieces: Sequence[TreePiece], h_mm: float, found: Balls | None = None
) -> Cavity:
    """The cells of a tree, with its ``balls`` where they are known.

    Raises :class:`BadInput` for cells that are no size, and :class:`ComputingFault` where the metal's cells do not hang
    together.
    """
    if not 0.02 <= h_mm <= 2.0:
        raise bad("cells", f"cells of {h_mm:g} mm", "0.1 to 0.5 mm")
    known = balls(tree, figures, pieces) if found is None else found
    corner, shape = box(tree, h_mm, 2)
    share = fractions_in(tree, h_mm, corner, shape)
    network = of_shares(share, h_mm, corner, area(tree))
    keep = _hangs_together(network)
    if not keep.all():
        network, _ = network.only(keep)
    centre = network.centre_mm
    top = -figures.button_top_mm
    piece = np.full(network.count, SPRUE)
    cell = np.floor((centre - corner) / h_mm).astype(int).T
    for n, (one, pose) in enumerate(zip(pieces, figures.poses, strict=True)):
        placed = one.pattern.moved(pose.matrix, np.array(pose.shift_mm))
        mine = fractions_in(placed, h_mm, corner, shape)[tuple(cell)]
        piece[mine > 0.5 * share[tuple(cell)]] = n
    return Cavity(
        tree=tree,
        figures=figures,
        pieces=tuple(pieces),
        h_mm=h_mm,
        corner_mm=corner,
        shape=shape,
        share=share,
        network=network,
        wall_mm=_walls(known, centre),
        piece=piece,
        source=centre[:, 2] > top - 1.01 * h_mm,
        button=centre[:, 2] > top - figures.button_height_mm,
        hull_mm2=known.hull_mm2,
        balls=known,
    )


def _hangs_together(network: Network) -> NDArray[np.bool_]:
    """The cells of the main body; crumbs at the skin are left out."""
    part = network.pieces()
    size = np.bincount(part, weights=network.volume_mm3)
    main: NDArray[np.bool_] = part == np.argmax(size)
    lost = 1 - size.max() / size.sum()
    if lost > _LOOSE_SHARE:
        raise ComputingFault(f"pour: {lost:.1%} of the metal's cells do not hang together with the rest")
    return main


def _walls(known: Balls, centre: Floats) -> Floats:
    """The largest ball in the metal at each cell, from the fine cells; no less than half a fine cell."""
    fine, corner, balls, shape = known.h_mm, known.corner_mm, known.wall_mm, known.wall_mm.shape
    cell = np.clip(np.floor((centre - corner) / fine).astype(int), 0, np.array(shape) - 1)
    found = balls[cell[:, 0], cell[:, 1], cell[:, 2]].astype(np.float64)
    bare = np.flatnonzero(found <= 0)
    if len(bare):
        # The middle of a cut cell may lie outside the metal: the thickest of the fine cells about it.
        near = cell[bare][:, None, :] + np.argwhere(np.ones((3, 3, 3))) - 1
        near = np.clip(near, 0, np.array(shape) - 1)
        found[bare] = balls[near[..., 0], near[..., 1], near[..., 2]].max(axis=1)
    result: Floats = np.maximum(found, fine / 2)
    return result


def _hull_mm2(figures: TreeFigures, pieces: Sequence[TreePiece]) -> float:
    """Surface of the hull about all pieces as they stand, from some thousands of their points."""
    from scipy.spatial import ConvexHull

    points = np.concatenate(
        [
            pose.to_flask(one.pattern.vertices_mm[:: 1 + len(one.pattern.vertices_mm) // _HULL_POINTS])
            for one, pose in zip(pieces, figures.poses, strict=True)
        ]
    )
    return float(ConvexHull(points).area)


def head_Pa(cavity: Cavity, density: float, plant: CastingPlant, fall_mm: float) -> Floats:
    """What depth and the stream's fall, or the centrifuge, add to the pressure at each cell.

    The arm of the centrifuge reaches to the pieces' middle.
    """
    z = cavity.network.centre_mm[:, 2]
    top = -cavity.figures.button_top_mm
    if plant.method is not Casting.CENTRIFUGAL:
        found: Floats = density * GRAVITY_M_S2 * (top + fall_mm - z) * 1e-3
        return found
    middle = float(z[cavity.in_piece].mean())
    reach = (plant.arm_mm + middle - z) * 1e-3
    inner = (plant.arm_mm + middle - top) * 1e-3
    spun: Floats = density * (plant.rpm * 2 * math.pi / 60) ** 2 * (reach**2 - inner**2) / 2
    return spun
