"""Linear elasticity of a solid on curved quadratic tetrahedra, several load cases at once.

The displacement form of isotropic linear elasticity, ten-node isoparametric tetrahedra with a four-point
rule (O. C. Zienkiewicz, R. L. Taylor, "The Finite Element Method"). The system is solved by conjugate
gradients with two levels: a Chebyshev smoother on the quadratic nodes and a direct solve of the Galerkin
operator on the corner nodes, which carries the slow bending modes of a thin ring.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, cast

import numpy as np

from ringwright.science.slabs import CORES, in_slabs
from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault
from tests.science.tetrahedra import tetra10
from tests.science.tetrahedra.tetra import SignedDistance, Tets

Indices = np.ndarray[Any, np.dtype[np.int32]]

_TOLERANCE = 5e-6
_MOST_ITERATIONS = 400
# How far above the eigenvalue that twelve steps of the power method see the smoother reaches; the next where a cell so
# distorted that they do not see it makes the preconditioner fail.
_ABOVE = (1.15, 1.6, 2.5)
# The compiled product takes this many right-hand sides in one pass over the matrix.
_AT_ONCE = 4


@dataclass(frozen=True, eq=False)
class Quadratic:
    """Ten-node tetrahedra: ``points_mm`` (n, 3), first the ``corners``; ``cells`` (m, 10), corners first.

    ``parents`` (n - corners, 2) are the two corners of each mid-edge node; ``skin_faces`` (k, 6) the outward
    surface triangles with their mid-edge nodes.
    """

    points_mm: Floats
    cells: Ints
    corners: int
    parents: Ints
    skin_faces: Ints


@dataclass(frozen=True, eq=False)
class Elastic:
    """The answer: ``moved_mm`` (n, 3, k), and what the solver left over."""

    moved_mm: Floats
    residual: float
    iterations: int


def quadratic(tets: Tets, distance: SignedDistance | None = None) -> Quadratic:
    """Give every edge a middle node; where ``distance`` is given, those of the skin are drawn onto the surface."""
    pairs = np.sort(tets.cells[:, tetra10.EDGE_PAIRS].reshape(-1, 2), axis=1)
    n = len(tets.points_mm)
    keys, number = np.unique(pairs[:, 0] * n + pairs[:, 1], return_inverse=True)
    parents = np.column_stack([keys // n, keys % n])
    cells = np.column_stack([tets.cells, n + number.reshape(-1, 6)])
    points = np.concatenate([tets.points_mm, tets.points_mm[parents].mean(axis=1)])

    faces = tets.skin_faces()
    rims = [faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]
    middles = [n + np.searchsorted(keys, r.min(axis=1) * n + r.max(axis=1)) for r in rims]
    skin = np.column_stack([faces, *middles])
    if distance is not None:
        straight = points.copy()
        on_skin = np.unique(skin[:, 3:])
        points[on_skin] = _onto(distance, points[on_skin], _edge_lengths(tets, parents)[on_skin - n])
        # A middle node that would fold its element goes back to the middle of its straight edge.
        bent = np.isin(cells[:, 4:], on_skin).any(axis=1)
        own, straight_volume = cells[bent], 6.0 * tets.volumes_mm3[bent]
        for _ in range(5):
            folded = tetra10.least_jacobians(points, own) <= 0.1 * straight_volume
            if not folded.any():
                break
            back = np.unique(own[folded][:, 4:])
            points[back] = straight[back]
            again = np.isin(own[:, 4:], back).any(axis=1)
            own, straight_volume = own[again], straight_volume[again]
    return Quadratic(points, cells, n, parents, skin)


def _edge_lengths(tets: Tets, parents: Ints) -> Floats:
    """(k,) the length of each edge."""
    ends = tets.points_mm[parents]
    return cast(Floats, np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))


def _onto(distance: SignedDistance, points: Floats, scale: Floats) -> Floats:
    """Move points onto the surface along the distance's gradient, at most a quarter of ``scale`` away."""
    step = 1e-3 * scale[:, None]
    grad = np.empty_like(points)
    f = distance(points)
    for axis in range(3):
        shift = np.zeros(3)
        shift[axis] = 1.0
        grad[:, axis] = (distance(points + step * shift) - distance(points - step * shift)) / (2.0 * step[:, 0])
    length = np.maximum(np.einsum("ij,ij->i", grad, grad), 0.25)
    way = -f[:, None] * grad / length[:, None]
    far = np.linalg.norm(way, axis=1)
    way *= np.minimum(1.0, 0.25 * scale / np.maximum(far, 1e-300))[:, None]
    return cast(Floats, points + way)


def lame(youngs_GPa: float, poisson: float) -> tuple[float, float]:
    """Lamé's two constants in MPa from Young's modulus and Poisson's ratio."""
    e = youngs_GPa * 1e3
    return e * poisson / ((1 + poisson) * (1 - 2 * poisson)), e / (2 * (1 + poisson))


@dataclass(frozen=True, eq=False)
class Stiffness:
    """The assembled stiffness in 3 × 3 blocks (compressed rows), N/mm, and the material that it was made for."""

    mesh: Quadratic
    start: Indices
    column: Indices
    blocks: Floats
    lame_MPa: float
    shear_MPa: float

    def times(self, x: Floats, pool: ThreadPoolExecutor | None = None) -> Floats:
        """``A x`` for (n, 3, k) with k up to 4."""
        from tests.science.tetrahedra.elastic_kernels import multiply

        y = np.empty((len(x), 3, _AT_ONCE))
        in_slabs(multiply, len(x), self.start, self.column, self.blocks, _padded(x), y, pool=pool)
        return y[:, :, : x.shape[2]]


def _padded(x: Floats) -> Floats:
    """(n, 3, k) filled up to four right-hand sides."""
    if x.shape[2] == _AT_ONCE:
        return np.ascontiguousarray(x)
    full = np.zeros((len(x), 3, _AT_ONCE))
    full[:, :, : x.shape[2]] = x
    return full


def stiffness(mesh: Quadratic, youngs_GPa: float, poisson: float) -> Stiffness:
    """Assemble the stiffness of the whole mesh."""
    first, second = lame(youngs_GPa, poisson)
    gradients, weights = tetra10.at_points(mesh.points_mm, mesh.cells)
    start, column, blocks = _assembled(len(mesh.points_mm), mesh.cells, gradients, weights, first, second)
    return Stiffness(mesh, start, column, blocks, first, second)


def _assembled(
    n: int, cells: Ints, gradients: Floats, weights: Floats, first: float, second: float
) -> tuple[Indices, Indices, Floats]:
    """Rows, columns and blocks of the stiffness of elements on ``n`` nodes."""
    from scipy.sparse import csr_matrix

    from tests.science.tetrahedra.elastic_kernels import gather

    m, nodes = cells.shape
    about = csr_matrix((np.ones(cells.size, np.int8), cells.ravel(), np.arange(0, cells.size + 1, nodes)), shape=(m, n))
    pattern = (about.T.tocsr() @ about).tocsr()
    pattern.sort_indices()
    start, column = pattern.indptr.astype(np.int32), pattern.indices.astype(np.int32)
    blocks = np.zeros((len(column), 3, 3))
    gather(gradients, weights, cells, start, column, first, second, blocks)
    return start, column, blocks


def face_forces(mesh: Quadratic, faces: Ints, force_N: Floats, weight: Floats | None = None) -> Floats:
    """(n, 3) nodal forces of a force spread over some of the skin faces (rows of ``mesh.skin_faces``).

    Evenly by area, or by area times ``weight`` (one a face). On a quadratic triangle an even traction goes to
    the three middle nodes, a third each.
    """
    p = mesh.points_mm[faces[:, :3]]
    area = 0.5 * np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
    load = area if weight is None else area * weight
    share = np.zeros(len(mesh.points_mm))
    np.add.at(share, faces[:, 3:].ravel(), np.repeat(load / (3.0 * load.sum()), 3))
    return cast(Floats, share[:, None] * np.asarray(force_N, float)[None, :])


def solve(matrix: Stiffness, forces_N: Floats, fixed: np.ndarray[Any, np.dtype[np.bool_]]) -> Elastic:
    """Displacements for (n, 3, k) nodal forces with the (n, 3) degrees of freedom ``fixed`` held, k up to 4.

    Forces in balance need only six held degrees of freedom (:func:`held_at_three`). Raises
    :class:`ComputingFault` if the iteration does not converge.
    """
    with ThreadPoolExecutor(max(1, CORES - 1)) as pool:
        for above in _ABOVE:
            answer = _conjugate(matrix, forces_N, fixed, _two_level(matrix, fixed, pool, above), pool)
            if answer is not None:
                return answer
    raise ComputingFault("elasticity did not converge: a cell is too distorted for the preconditioner")


def _conjugate(
    matrix: Stiffness, forces_N: Floats, fixed: np.ndarray[Any, np.dtype[np.bool_]], precondition: Any,
    pool: ThreadPoolExecutor,
) -> Elastic | None:  # fmt: skip
    """Conjugate gradients; None where the preconditioner turns out not to be positive."""
    free = ~fixed[:, :, None]
    b = np.where(free, _padded(forces_N), 0.0)
    x = np.zeros_like(b)
    r = b.copy()
    z = precondition(r)
    p = z.copy()
    rz = _along(r, z)
    size = np.maximum(np.sqrt(_along(b, b)), 1e-300)
    for iteration in range(1, _MOST_ITERATIONS + 1):
        q = matrix.times(p, pool)
        q *= free
        alpha = rz / np.maximum(_along(p, q), 1e-300)
        x += alpha * p
        r -= alpha * q
        left = float((np.sqrt(_along(r, r)) / size).max())
        if left < _TOLERANCE:
            return Elastic(x[:, :, : forces_N.shape[2]], left, iteration)
        z = precondition(r)
        rz, before = _along(r, z), rz
        if not (np.isfinite(rz).all() and (rz >= 0.0).all()):
            return None
        p *= rz / np.maximum(before, 1e-300)
        p += z
    raise ComputingFault(f"elasticity did not converge: residual {left:.1e} after {_MOST_ITERATIONS} iterations")


def _along(a: Floats, b: Floats) -> Floats:
    """(4,) the scalar product of each right-hand side's vectors."""
    return cast(Floats, np.einsum("ijk,ijk->k", a, b))


def held_at_three(mesh: Quadratic) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """(n, 3) six held degrees of freedom at three corner nodes: they carry nothing when the forces balance."""
    p = mesh.points_mm[: mesh.corners]
    a = int(np.argmin(p[:, 0]))
    b = int(np.argmax(np.linalg.norm(p - p[a], axis=1)))
    along = (p[b] - p[a]) / np.linalg.norm(p[b] - p[a])
    off = p - p[a] - np.outer((p - p[a]) @ along, along)
    c = int(np.argmax(np.linalg.norm(off, axis=1)))
    first = int(np.argmax(np.abs(along)))
    normal = np.cross(along, off[c])
    third = int(np.argmax(np.where(np.arange(3) == first, -1.0, np.abs(normal))))
    fixed = np.zeros((len(mesh.points_mm), 3), bool)
    fixed[a] = True
    fixed[b] = np.arange(3) != first
    fixed[c, third] = True
    return fixed


def _two_level(
    matrix: Stiffness, fixed: np.ndarray[Any, np.dtype[np.bool_]], pool: ThreadPoolExecutor, above: float
) -> Any:
    """The preconditioner: Chebyshev, a direct solve on the corner nodes, Chebyshev again (symmetric).

    It works in single precision: it only has to point the right way.
    """
    from tests.science.tetrahedra.elastic_kernels import chebyshev, multiply

    n = len(matrix.mesh.points_mm)
    to_corners = _on_corners(matrix, fixed)
    inverse = np.linalg.inv(matrix.blocks[_diagonal_slots(matrix)]).astype(np.float32)
    blocks = matrix.blocks.astype(np.float32)
    shape = (n, 3, _AT_ONCE)

    def step(r: Any, x: Any, d: Any, carry: float, gain: float, at_rest: bool = False) -> Any:
        x_new = np.empty(shape, np.float32)
        in_slabs(
            chebyshev, n, matrix.start, matrix.column, blocks, inverse, fixed, r, x, d, x_new, carry, gain, at_rest,
            pool=pool,
        )  # fmt: skip
        return x_new

    def largest() -> float:
        """The largest eigenvalue of D⁻¹ A, by the power method from a fixed start."""
        x = np.sin(1.0 + np.arange(n * 3 * _AT_ONCE)).reshape(shape).astype(np.float32)
        x[fixed] = 0.0
        value, zero = 1.0, np.zeros(shape, np.float32)
        for _ in range(12):
            x /= np.linalg.norm(x)
            d = np.zeros(shape, np.float32)
            step(zero, x, d, 0.0, -1.0)
            value, x = float(np.linalg.norm(d)), d
        return above * value

    high = largest()
    low = high / 12.0
    theta, delta = (high + low) / 2, (high - low) / 2

    def smooth(r: Any, x: Any, at_rest: bool) -> Any:
        """Four Chebyshev steps on the upper part of the spectrum, block Jacobi inside."""
        d = np.zeros(shape, np.float32)
        rho = delta / theta
        x = step(r, x, d, 0.0, 1.0 / theta, at_rest)
        for _ in range(3):
            rho, before = 1.0 / (2.0 * theta / delta - rho), rho
            x = step(r, x, d, rho * before, 2.0 * rho / delta)
        return x

    def apply(r: Floats) -> Floats:
        single = r.astype(np.float32)
        x = smooth(single, np.zeros(shape, np.float32), at_rest=True)
        ax = np.empty(shape, np.float32)
        in_slabs(multiply, n, matrix.start, matrix.column, blocks, x, ax, pool=pool)
        np.subtract(single, ax, out=ax)
        x += to_corners(ax)
        return cast(Floats, smooth(single, x, at_rest=False).astype(np.float64))

    return apply


def _on_corners(matrix: Stiffness, fixed: np.ndarray[Any, np.dtype[np.bool_]]) -> Any:
    """The direct solve on the corner nodes: what linear elements on the same mesh answer to a (n, 3, 4) residual."""
    from scipy.sparse import bsr_matrix, csr_matrix, diags
    from scipy.sparse.linalg import splu

    mesh = matrix.mesh
    corners, middle = mesh.corners, len(mesh.points_mm) - mesh.corners
    half = csr_matrix(
        (np.full(2 * middle, 0.5, np.float32), mesh.parents.ravel(), np.arange(0, 2 * middle + 1, 2)),
        shape=(middle, corners),
    )
    back = half.T.tocsr()
    gradients, weights = tetra10.straight(mesh.points_mm, mesh.cells)
    start, column, blocks = _assembled(
        corners, np.ascontiguousarray(mesh.cells[:, :4]), gradients, weights, matrix.lame_MPa, matrix.shear_MPa
    )
    # A held corner keeps its row and column of nothing: give it a unit diagonal.
    free = (~fixed[:corners]).ravel().astype(np.float64)
    whole = bsr_matrix((blocks, column, start), shape=(3 * corners, 3 * corners)).tocsc()
    whole.data *= free[whole.indices] * np.repeat(free, np.diff(whole.indptr))
    coarse = (whole + diags(1.0 - free)).tocsc()
    factor = splu(coarse, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    still = fixed[:, :, None]

    def to_corners(r: Any) -> Any:
        r = np.where(still, np.float32(0), r).reshape(-1, 3 * _AT_ONCE)
        right = (r[:corners] + back @ r[corners:]).reshape(3 * corners, _AT_ONCE) * free[:, None]
        at_corners = factor.solve(right).astype(np.float32).reshape(corners, 3 * _AT_ONCE)
        return np.where(still, np.float32(0), np.concatenate([at_corners, half @ at_corners]).reshape(-1, 3, _AT_ONCE))

    return to_corners


def _diagonal_slots(matrix: Stiffness) -> Ints:
    """(n,) where the diagonal block of each row stands."""
    rows = np.repeat(np.arange(len(matrix.start) - 1), np.diff(matrix.start))
    return cast(Ints, np.flatnonzero(matrix.column == rows))
