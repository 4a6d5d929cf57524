"""Linear elasticity of a solid of any shape on cubic cells that need not follow its surface.

The finite cell method (J. Parvizian, A. Düster, E. Rank, "Finite cell method", Computational Mechanics 41, 2007): the
displacements are those of twenty-node bricks (O. C. Zienkiewicz, R. L. Taylor, "The Finite Element Method") on the
cells of an even grid that hold metal, and only the metal is integrated. Nothing of the shape depends on the cells: it
comes from the share of metal in voxels far smaller than they are. A cell that a gap divides is doubled, so that
metal is joined only where it touches (A. Hansbo, P. Hansbo, "A finite element method for the simulation of strong and
weak discontinuities in solid mechanics", 2004).

The stiffness of a cell is linear in the 125 moments of its metal (products of Legendre polynomials up to the fourth
degree), so that of all cells is one product of matrices. :mod:`ringwright.science.fronts` solves.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault

Labels = NDArray[np.int32]
Bools = NDArray[np.bool_]

# The empty part of a cell is this much as stiff as metal: it only keeps a node that hardly holds any from floating.
_VOID = 1e-5
# A scrap of metal smaller than this share of a cell is left out.
_SCRAP = 4e-3
# Metal touches where two voxels each hold more than this share of it; above the other a voxel is full.
_SOME, _FULL = 0.02, 0.999
_DEGREES = 5

_CORNERS = np.array([[x, y, z] for z in (-1, 1) for y in (-1, 1) for x in (-1, 1)])
_EDGES = np.array([p for p in np.ndindex(3, 3, 3) if p.count(1) == 1])[:, ::-1] - 1
NODES = np.concatenate([_CORNERS, _EDGES])
"""(20, 3) the nodes of a brick from -1 to 1: corners, then the middles of the edges."""


@dataclass(frozen=True, eq=False)
class Voxels:
    """The metal: the ``share`` (nx, ny, nz) of every voxel that is metal, its edge and the grid's corner."""

    origin_mm: Floats
    h_mm: float
    share: NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Bricks:
    """Cells of ``edge_mm``: their nodes ``cells`` (m, 20), ``points_mm`` (n, 3), low corners ``low_mm`` (m, 3), the
    ``moments`` (m, 125) of their metal; ``place`` gives the place of each voxel block in the grid of blocks (-1: none),
    ``owner`` (places, per, per, per) the cell of each of its voxels (-1: none)."""

    edge_mm: float
    points_mm: Floats
    cells: Ints
    low_mm: Floats
    moments: Floats
    corner_mm: Floats
    voxel_mm: float
    place: Labels
    owner: Labels

    @property
    def filled(self) -> Floats:
        """(m,) the share of each cell that is metal."""
        return self.moments[:, 0] / 8.0

    @property
    def places(self) -> Ints:
        """(m, 3) where each cell stands in the grid."""
        return np.asarray(np.rint((self.low_mm - self.corner_mm) / self.edge_mm).astype(np.int64))


def shapes(at: Floats) -> Floats:
    """(p, 20) the shape functions at places (p, 3) of a brick from -1 to 1."""
    corner, edge = _factors(at)
    return np.concatenate([0.125 * _product(corner) * (corner.sum(axis=2) - 5.0), 0.25 * _product(edge)], axis=1)


def slopes(at: Floats) -> Floats:
    """(p, 3, 20) their derivatives along x, y and z."""
    corner, edge = _factors(at)
    slope = np.empty((len(at), 3, 20))
    sums = corner.sum(axis=2) - 5.0
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        slope[:, i, :8] = 0.125 * _CORNERS[:, i] * corner[:, :, j] * corner[:, :, k] * (sums + corner[:, :, i])
        by = np.where(_EDGES[:, i] == 0, -2.0 * at[:, i, None], _EDGES[:, i])
        slope[:, i, 8:] = 0.25 * by * edge[:, :, j] * edge[:, :, k]
    return slope


def _factors(at: Floats) -> tuple[Floats, Floats]:
    """What the shape functions of corners (p, 8, 3) and edges (p, 12, 3) are made of."""
    at = at[:, None, :]
    return 1.0 + at * _CORNERS, np.where(_EDGES == 0, 1.0 - at**2, 1.0 + at * _EDGES)


def _product(factors: Floats) -> Floats:
    return np.asarray(factors[:, :, 0] * factors[:, :, 1] * factors[:, :, 2])


def held_at_three(bricks: Bricks) -> Bools:
    """(n, 3) six held degrees of freedom at three nodes amid metal: they carry nothing when the forces balance."""
    among = np.unique(bricks.cells[bricks.filled >= min(0.9, float(np.quantile(bricks.filled, 0.8)))])
    p = bricks.points_mm[among]
    a = int(np.argmin(p[:, 0]))
    b = int(np.argmax(np.linalg.norm(p - p[a], axis=1)))
    along = (p[b] - p[a]) / np.linalg.norm(p[b] - p[a])
    off = p - p[a] - np.outer((p - p[a]) @ along, along)
    c = int(np.argmax(np.linalg.norm(off, axis=1)))
    first = int(np.argmax(np.abs(along)))
    normal = np.cross(along, off[c])
    third = int(np.argmax(np.where(np.arange(3) == first, -1.0, np.abs(normal))))
    fixed = np.zeros((len(bricks.points_mm), 3), bool)
    fixed[among[a]] = True
    fixed[among[b]] = np.arange(3) != first
    fixed[among[c], third] = True
    return fixed


@cache
def _integrals(per: int) -> Floats:
    """(per, 5) the integrals of the Legendre polynomials over each of ``per`` equal parts of -1 to 1."""
    ends = np.linspace(-1.0, 1.0, per + 1)
    whole = [np.polynomial.legendre.Legendre.basis(k).integ()(ends) for k in range(_DEGREES)]
    return cast(Floats, np.diff(np.stack(whole, axis=1), axis=0))


@cache
def _stiffness_of_moments(lame_over_shear: float) -> Floats:
    """(125, 60 · 60) what each unit moment adds to the stiffness of a brick of half-edge 1 and shear modulus 1."""
    gauss, weight = np.polynomial.legendre.leggauss(_DEGREES)
    grid = np.array(list(np.ndindex(_DEGREES, _DEGREES, _DEGREES)))
    g = slopes(gauss[grid])
    outer = np.einsum("qra,qcb->qabrc", g, g)
    trace = np.einsum("qabrr->qab", outer)
    k = lame_over_shear * outer + outer.swapaxes(3, 4) + trace[..., None, None] * np.eye(3)
    p = np.polynomial.legendre.legvander(gauss, _DEGREES - 1) * (np.arange(_DEGREES) + 0.5)
    project = np.einsum("ia,jb,kc->ijkabc", p, p, p).reshape(len(grid), -1) * weight[grid].prod(axis=1)[:, None]
    return cast(Floats, project.T @ k.transpose(0, 1, 3, 2, 4).reshape(len(grid), -1))


def lame(youngs_GPa: float, poisson: float) -> tuple[float, float]:
    """Lamé's two constants in MPa from Young's modulus and Poisson's ratio."""
    e = youngs_GPa * 1e3
    return e * poisson / ((1 + poisson) * (1 - 2 * poisson)), e / (2 * (1 + poisson))


def stiffness(bricks: Bricks, youngs_GPa: float, poisson: float) -> Floats:
    """(m, 60, 60) the stiffness of each cell in N/mm."""
    first, shear = lame(youngs_GPa, poisson)
    moments = (1.0 - _VOID) * bricks.moments
    moments[:, 0] += 8.0 * _VOID
    found = moments @ _stiffness_of_moments(first / shear)
    found *= shear * bricks.edge_mm / 2.0
    return found.reshape(-1, 60, 60)


def residual(bricks: Bricks, matrix: Floats, moved_mm: Floats, forces_N: Floats, fixed: Bools) -> float:
    """What is left of the forces (n, 3, k) when the movements have borne theirs, as a share of them."""
    m, k = len(bricks.cells), moved_mm.shape[2]
    borne = matrix @ moved_mm[bricks.cells].reshape(m, -1, k)
    left = forces_N.copy()
    np.subtract.at(left, bricks.cells.ravel(), borne.reshape(-1, 3, k))
    left[fixed] = 0.0
    size = np.maximum(np.linalg.norm(forces_N, axis=(0, 1)), 1e-300)
    return float((np.linalg.norm(left, axis=(0, 1)) / size).max())


def bricks_of(voxels: Voxels, per: int, stands_on: int | None = None) -> Bricks:
    """Cells of ``per`` voxels an edge over the metal that hangs together most, or over all that reaches the grid's low
    end along the axis ``stands_on``. Along that axis cells begin with the grid; along the others both keep a middle.

    Raises :class:`ComputingFault` where there is no metal.
    """
    shape = np.array(voxels.share.shape)
    count = -(-shape // per)
    before = (count * per - shape) // 2
    if stands_on is not None:
        before[stands_on] = 0
    share = np.zeros(tuple(count * per), np.float32)
    share[tuple(slice(b, b + s) for b, s in zip(before, shape, strict=True))] = voxels.share
    cut = share.reshape(count[0], per, count[1], per, count[2], per).transpose(0, 2, 4, 1, 3, 5)
    grid = np.argwhere(cut.max(axis=(3, 4, 5)) > _SOME)
    if not len(grid):
        raise ComputingFault("no voxel holds any metal")
    blocks = cut[tuple(grid.T)]
    place = np.full(tuple(count), -1, np.int32)
    place[tuple(grid.T)] = np.arange(len(grid))

    owner, block_of = _parts(blocks)
    joints = [_touching(owner, grid, place, axis) for axis in range(3)]
    kept = _joined(joints, np.bincount(owner[owner >= 0], minlength=len(block_of)), grid[block_of], stands_on)
    to = np.append(np.where(kept, np.cumsum(kept) - 1, -1), -1).astype(np.int32)
    owner, block_of = to[owner], block_of[kept]
    kept_joints = [
        (to[a].astype(np.int64), to[b].astype(np.int64))
        for a, b in ((j[0][kept[j[0]]], j[1][kept[j[0]]]) for j in joints)
    ]

    edge = per * voxels.h_mm
    corner = voxels.origin_mm - before * voxels.h_mm
    low = corner + grid[block_of] * edge
    cells, many = _nodes(kept_joints, len(block_of))
    points = np.empty((many, 3))
    points[cells.ravel()] = (low[:, None, :] + (NODES + 1) * (edge / 2.0)).reshape(-1, 3)
    moments = _moments(blocks, owner, block_of, _middles(share, grid, per))
    return Bricks(edge, points, cells, low, moments, corner, voxels.h_mm, place, owner)


def _parts(blocks: NDArray[np.float32]) -> tuple[Labels, Ints]:
    """Which part of the metal each voxel of each block belongs to (-1: none, or a scrap), and the block of each part.

    Parts hang together within their block.
    """
    from scipy.ndimage import label

    per = blocks.shape[1]
    some = blocks > _SOME
    owner = np.full(blocks.shape, -1, np.int32)
    divided = ~some.all(axis=(1, 2, 3))
    # Each block apart from the next by an empty layer.
    apart = np.zeros((int(divided.sum()), per + 1, per, per), bool)
    apart[:, :per] = some[divided]
    labels = np.zeros((len(apart) * (per + 1), per, per), np.int32)
    label(apart.reshape(labels.shape), output=labels)
    found = labels.reshape(apart.shape)[:, :per] - 1
    whole = np.flatnonzero(~divided)
    many = int(found.max(initial=-1)) + 1
    owner[divided] = found
    owner[whole] = (many + np.arange(len(whole)))[:, None, None, None]
    inside = owner >= 0
    size = np.bincount(owner[inside], blocks[inside], many + len(whole))
    block_of = np.zeros(len(size), np.int64)
    block_of[owner[inside]] = np.nonzero(inside)[0]
    big = size > _SCRAP * per**3
    to = np.append(np.where(big, np.cumsum(big) - 1, -1), -1).astype(np.int32)
    return to[owner], block_of[big]


def _touching(owner: Labels, grid: Ints, place: Labels, axis: int) -> tuple[Ints, Ints]:
    """The pairs of parts whose metal touches across a face between two blocks, the first on the low side."""
    beyond = grid.copy()
    beyond[:, axis] += 1
    inside = beyond[:, axis] < place.shape[axis]
    here = np.flatnonzero(inside)
    there = place[tuple(beyond[inside].T)]
    here, there = here[there >= 0], there[there >= 0]
    a = np.take(owner, owner.shape[1] - 1, axis=1 + axis)[here].astype(np.int64)
    b = np.take(owner, 0, axis=1 + axis)[there].astype(np.int64)
    both = (a >= 0) & (b >= 0)
    many = int(owner.max()) + 1
    pairs = np.unique(a[both] * many + b[both])
    return pairs // many, pairs % many


def _joined(joints: list[tuple[Ints, Ints]], size: Ints, grid: Ints, stands_on: int | None) -> Bools:
    """Which parts belong to the largest body, or to one that reaches the low end of an axis."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    a, b = (np.concatenate([j[i] for j in joints]) for i in (0, 1))
    bodies, body = connected_components(coo_matrix((np.ones(len(a)), (a, b)), shape=(len(size),) * 2), directed=False)
    if stands_on is None:
        return np.asarray(body == np.argmax(np.bincount(body, size, bodies)))
    return np.isin(body, body[grid[:, stands_on] == 0])


def _nodes(joints: list[tuple[Ints, Ints]], m: int) -> tuple[Ints, int]:
    """(m, 20) the nodes of each part: one and the same where two parts touch; and how many there are."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    first, second = [], []
    for axis, (a, b) in enumerate(joints):
        for up in np.flatnonzero(NODES[:, axis] == 1):
            opposite = NODES[up] * np.where(np.arange(3) == axis, -1, 1)
            down = int(np.flatnonzero((opposite == NODES).all(axis=1))[0])
            first.append(20 * a + up)
            second.append(20 * b + down)
    i, j = np.concatenate(first), np.concatenate(second)
    many, number = connected_components(coo_matrix((np.ones(len(i), np.int8), (i, j)), shape=(20 * m, 20 * m)), False)
    return number.reshape(m, 20).astype(np.int64), many


def _moments(blocks: NDArray[np.float32], owner: Labels, block_of: Ints, middles: Any) -> Floats:
    """(m, 125) the moments of each part's metal: full voxels exactly, others as points at the middle of their metal."""
    per = blocks.shape[1]
    base = _integrals(per)
    full = (blocks > _FULL) & (owner >= 0)
    alone = np.bincount(block_of, minlength=len(blocks)) == 1
    sums = np.where(full & alone[:, None, None, None], np.float32(1), np.float32(0)).astype(np.float64) @ base
    sums = np.einsum("bijz,jy->biyz", sums, base, optimize=True)
    exact = np.einsum("biyz,ix->bxyz", sums, base, optimize=True).reshape(len(blocks), -1)
    found = np.where(alone[block_of][:, None], exact[block_of], 0.0)

    at = np.argwhere((owner >= 0) & (blocks > 0) & ~(full & alone[:, None, None, None]))
    mine = owner[tuple(at.T)]
    order = np.argsort(mine, kind="stable")
    at, mine = at[order], mine[order]
    if len(at):
        share = blocks[tuple(at.T)].astype(float)
        where = (at[:, 1:] + 0.5 + middles(at, share)) * (2.0 / per) - 1.0
        x, y, z = (np.polynomial.legendre.legvander(where[:, i], _DEGREES - 1) for i in range(3))
        x *= (share * (2.0 / per) ** 3)[:, None]
        value = ((x[:, :, None] * y[:, None, :]).reshape(-1, 25)[:, :, None] * z[:, None, :]).reshape(-1, 125)
        starts = np.flatnonzero(np.append(True, mine[1:] != mine[:-1]))
        found[mine[starts]] += np.add.reduceat(value, starts, axis=0)
    return found


def _middles(share: NDArray[np.float32], grid: Ints, per: int) -> Any:
    """How far, in voxels, the middle of a partly full voxel's metal lies from its own: as if a plane cut it square to
    the way in which its neighbours' shares grow most."""
    top = np.array(share.shape) - 1

    def middles(at: Ints, of: Floats) -> Floats:
        where = grid[at[:, 0]] * per + at[:, 1:]
        slope = np.empty((len(at), 3))
        for axis in range(3):
            step = (np.arange(3) == axis).astype(int)
            slope[:, axis] = share[tuple(np.minimum(where + step, top).T)] - share[tuple(np.maximum(where - step, 0).T)]
        steepest = np.maximum(np.abs(slope).max(axis=1), 1e-9)
        return cast(Floats, slope / steepest[:, None] * (0.5 * (1.0 - of))[:, None])

    return middles


@dataclass(frozen=True, eq=False)
class Within:
    """Points within cells of edge ``edge_mm``: the ``cell`` (p,) of each, its nodes (p, 20), and where it lies in it,
    ``at`` (p, 3) from -1 to 1."""

    cell: Ints
    nodes: Ints
    at: Floats
    edge_mm: float

    def moved(self, moved_mm: Floats) -> Floats:
        """(p, 3, k) how the points move with the nodes (n, 3, k)."""
        u = moved_mm.reshape(len(moved_mm), -1)[self.nodes]
        return np.asarray((shapes(self.at)[:, None, :] @ u).reshape(len(self.nodes), 3, -1))

    def stress(self, moved_mm: Floats, lame_MPa: float, shear_MPa: float) -> Floats:
        """(p, 6, k) the stress at the points as xx yy zz xy yz zx."""
        k = moved_mm.shape[2]
        u = moved_mm.reshape(len(moved_mm), -1)[self.nodes]
        # d/dr of the movement along i stands at [r, i].
        h = (slopes(self.at) @ u).reshape(-1, 3, 3, k) * (2.0 / self.edge_mm)
        trace = lame_MPa * (h[:, 0, 0] + h[:, 1, 1] + h[:, 2, 2])
        out = np.empty((len(h), 6, k))
        for part, (i, r) in enumerate(((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (2, 0))):
            out[:, part] = shear_MPa * (h[:, r, i] + h[:, i, r])
            if i == r:
                out[:, part] += trace
        return out

    def nodal(self, forces_N: Floats, nodes: int) -> Floats:
        """(n, 3, k) the nodal forces of forces (p, 3, k) at the points: the same force and moment."""
        from scipy.sparse import csr_matrix

        pushed = np.flatnonzero(forces_N.any(axis=(1, 2)))
        start = np.arange(0, 20 * len(pushed) + 1, 20)
        share = shapes(self.at[pushed]).ravel()
        spread = csr_matrix((share, self.nodes[pushed].ravel(), start), shape=(len(pushed), nodes))
        return np.asarray(spread.T @ forces_N[pushed].reshape(len(pushed), -1)).reshape(nodes, 3, -1)


def within(bricks: Bricks, points: Floats) -> Within:
    """Find points (p, 3) in the cells: a point beside all metal belongs to the cell of the nearest voxel that is."""
    per = bricks.owner.shape[1]
    last = np.array(bricks.place.shape) * per - 1
    at = np.clip(np.floor((points - bricks.corner_mm) / bricks.voxel_mm).astype(np.int64), 0, last)
    who = _owner_at(bricks, at)
    lost = np.flatnonzero(who < 0)
    for reach in (1, 3, 6):
        if not len(lost):
            break
        steps = np.array(list(np.ndindex(*(2 * reach + 1,) * 3))) - reach
        steps = steps[np.argsort((steps**2).sum(axis=1), kind="stable")]
        near = _owner_at(bricks, np.clip(at[lost][:, None, :] + steps, 0, last).reshape(-1, 3)).reshape(len(lost), -1)
        who[lost] = near[np.arange(len(lost)), np.argmax(near >= 0, axis=1)]
        lost = lost[who[lost] < 0]
    if len(lost):
        from scipy.spatial import cKDTree

        _, who[lost] = cKDTree(bricks.low_mm + bricks.edge_mm / 2.0).query(points[lost])
    at_cell = (points - bricks.low_mm[who]) * (2.0 / bricks.edge_mm) - 1.0
    return Within(who, bricks.cells[who], at_cell, bricks.edge_mm)


def _owner_at(bricks: Bricks, voxel: Ints) -> Ints:
    """(p,) the cell of each voxel (p, 3) of the grid, -1 where none."""
    per = bricks.owner.shape[1]
    place = bricks.place[tuple((voxel // per).T)]
    found = bricks.owner[(place, *(voxel % per).T)].astype(np.int64)
    return np.where(place >= 0, found, -1)
