"""Stress in the ring under each load case, on two meshes, so that the answer says how sure it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ringwright.science.elastic import Quadratic, face_forces
from ringwright.science.tetra import SignedDistance
from ringwright.steps.wear._loads import Load, load_of, on_inside, snags_of
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Field, Floats, Residual
from ringwright.terms.piece import Piece
from ringwright.terms.progress import Progress
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, LoadKind, Strength

# Cells of the coarse and of the fine mesh, of ring and head: the numerical effort, not a figure of the trade.
_CELLS = (5_000, 10_000)
_HEAD_CELLS = (3_000, 7_000)
# How far below the lowest claw tip the head is cut off to be looked at more closely.
_HEAD_DEPTH_MM = 3.5
_GRID_MM = 0.15
# Stress is averaged over this radius before its maximum is taken: at a drawn corner of no radius the
# stress of linear elasticity grows without bound as the mesh gets finer, and its maximum would mean nothing.
_AVERAGE_MM = 0.25
# A stress counts where more than this much metal bears it: less cannot be seen to give, and is mesh noise.
_GRAIN_MM3 = 0.05
_CONVERGED_PERCENT = 5.0
_SOLVER_BOUND = 1e-5


@dataclass(frozen=True)
class Found:
    """The strengths, the stress as fields on the metal's vertices, and the solver's residuals."""

    strengths: tuple[Strength, ...]
    fields: tuple[Field, ...]
    residuals: tuple[Residual, ...]
    cells: int


@dataclass(frozen=True, eq=False)
class _Answer:
    """One mesh's answer: nodes and their volumes, averaged stress (n, c), size of the movement (n, c), what counts."""

    points_mm: Floats
    volume_mm3: Floats
    stress_MPa: Floats
    moved_mm: Floats
    counted: NDArray[np.bool_]
    residual: float
    cells: int


def strengths(
    piece: Piece,
    alloy: Alloy,
    snag_at_mm: tuple[Point, ...],
    cases: Sequence[LoadCaseFact],
    progress: Progress,
) -> Found:
    """Work every load case on a coarse and on a fine mesh and judge it.

    Without claws (``snag_at_mm``) there is nothing to be caught, and no such case.
    """
    distance = _signed_distance(piece)
    whole = tuple(case for case in cases if case.kind is not LoadKind.SNAG)
    caught = tuple(case for case in cases if case.kind is LoadKind.SNAG) if snag_at_mm else ()
    found: list[Strength] = []
    fields: list[Field] = []
    worst, cells = 0.0, 0
    for number, (group, part) in enumerate(((whole, _whole), (caught, _head))):
        if not group:
            continue
        answers = []
        for mesh, progressed in ((0, 0.1), (1, 0.4)):
            progress(
                0.65 * number + progressed * (1 - 0.3 * number),
                f"strength of the {part.__name__[1:]}, mesh {mesh + 1} of 2",
            )
            answers.append(part(piece, alloy, distance, mesh, snag_at_mm, group))
        coarse, fine = answers
        worst, cells = max(worst, fine.residual), max(cells, fine.cells)
        for c, case in enumerate(group):
            found.append(_judged(piece, alloy, case, coarse, fine, c))
            if case.kind is not LoadKind.STRETCH:
                fields.append(_field(piece, fine, c, case))
    order = [case.title for case in cases]
    found.sort(key=lambda one: order.index(one.title))
    return Found(tuple(found), tuple(fields), (Residual("elasticity", worst, _SOLVER_BOUND),), cells)


def _signed_distance(piece: Piece) -> SignedDistance:
    """The metal's signed distance (positive inside) as a function of points, from a fine grid."""
    from scipy.ndimage import map_coordinates

    from ringwright.science.distance import signed
    from ringwright.science.voxels import fill

    grid = fill(piece.metal, _GRID_MM, margin_cells=7)
    values = -signed(piece.metal, grid, reach_mm=0.9)
    origin = np.asarray(grid.origin_mm)

    def distance(points: Floats) -> Floats:
        at = (points - origin) / _GRID_MM - 0.5
        out: Floats = map_coordinates(values, at.T, order=1, mode="nearest").astype(np.float64)
        return out

    return distance


def _whole(
    piece: Piece,
    alloy: Alloy,
    distance: SignedDistance,
    mesh_number: int,
    _tips: tuple[Point, ...],
    cases: Sequence[LoadCaseFact],
) -> _Answer:
    """The whole ring, all cases in one solve: what the finger pushes back balances every load."""
    from ringwright.science.elastic import held_at_three

    mesh = _filled(piece, distance, _CELLS[mesh_number])
    loads = [load_of(piece, mesh, case) for case in cases]
    return _answer(piece, alloy, mesh, loads, list(range(len(cases))), cases, held_at_three(mesh))


def _head(
    piece: Piece,
    alloy: Alloy,
    distance: SignedDistance,
    mesh_number: int,
    tips: tuple[Point, ...],
    cases: Sequence[LoadCaseFact],
) -> _Answer:
    """The head alone, cut off and held below the claws, so that small cells reach into them."""
    floor = max(min(tip[1] for tip in tips) - _HEAD_DEPTH_MM, piece.hole.diameter_mm / 2 + 0.2)

    def head(points: Floats) -> Floats:
        return np.minimum(distance(points), points[:, 1] - floor)

    mesh = _filled(piece, head, _HEAD_CELLS[mesh_number])
    loads, owner = [], []
    for c, case in enumerate(cases):
        made = snags_of(mesh, case, tips)
        loads += made
        owner += [c] * len(made)
    held = mesh.points_mm[:, 1] < floor + 0.02
    answer = _answer(piece, alloy, mesh, loads, owner, cases, np.repeat(held[:, None], 3, axis=1))
    near = mesh.points_mm[:, 1] < floor + 0.5
    return replace(answer, counted=answer.counted & ~near[:, None])


def _filled(piece: Piece, distance: SignedDistance, cells: int) -> Quadratic:
    """Curved tetrahedra of about that number inside of ``distance``."""
    from ringwright.science.elastic import quadratic
    from ringwright.science.tetra import fill, largest_part

    low, high = piece.metal.vertices_mm.min(axis=0), piece.metal.vertices_mm.max(axis=0)
    # The volume from a rough grid of points: it only sets the size of the cells.
    axes = [np.arange(a, b, 0.4) for a, b in zip(low, high, strict=True)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    size_mm3 = max(float((distance(points) > 0).sum()) * 0.4**3, 1.0)
    # A body-centred lattice has twelve tetrahedra for each cube of its edge.
    tets = largest_part(fill(distance, low, high, float((12.0 * size_mm3 / cells) ** (1 / 3))))
    return quadratic(tets, distance)


def _answer(
    piece: Piece,
    alloy: Alloy,
    mesh: Quadratic,
    loads: Sequence[Load],
    owner: Sequence[int],
    cases: Sequence[LoadCaseFact],
    fixed: NDArray[np.bool_],
) -> _Answer:
    """Solve for all loads; of several loads of one case (its claws) the highest stress counts at each place."""
    from ringwright.science.elastic import solve, stiffness

    matrix = stiffness(mesh, alloy.youngs_GPa, alloy.poisson)
    n = len(mesh.points_mm)
    stress, moved = np.zeros((n, len(cases))), np.zeros((n, len(cases)))
    counted, residual = np.ones((n, len(cases)), bool), 0.0
    average = _averaging(mesh)
    for start in range(0, len(loads), 4):
        batch = loads[start : start + 4]
        answer = solve(matrix, np.stack([load for load, _ in batch], axis=2), fixed)
        residual = max(residual, answer.residual)
        for k, c in enumerate(owner[start : start + 4]):
            value = average(answer.mises_MPa(k))
            value[batch[k][1]] = 0.0
            size = np.linalg.norm(answer.moved_mm[:, :, k], axis=1)
            if cases[c].kind is LoadKind.STRETCH:
                scale = _stretch_scale(piece, mesh, answer.moved_mm[:, :, k], cases[c])
                value, size = value * scale, size * scale
            stress[:, c] = np.maximum(stress[:, c], value)
            moved[:, c] = np.maximum(moved[:, c], size)
    return _Answer(mesh.points_mm, _nodal_volumes(mesh), stress, moved, counted, residual, len(mesh.cells))


def _averaging(mesh: Quadratic) -> Callable[[Floats], Floats]:
    """The mean of a nodal value over the nodes within the averaging radius."""
    from scipy.spatial import cKDTree

    tree = cKDTree(mesh.points_mm)
    near = tree.sparse_distance_matrix(tree, _AVERAGE_MM, output_type="coo_matrix").tocsr()
    near.data[:] = 1.0
    near.setdiag(1.0)
    count = np.asarray(near @ np.ones(len(mesh.points_mm)))

    def average(value: Floats) -> Floats:
        return np.asarray(np.asarray(near @ value) / count)

    return average


def _stretch_scale(piece: Piece, mesh: Quadratic, moved: Floats, case: LoadCaseFact) -> float:
    """What the unit pressure must be multiplied by to widen the mean inner diameter as the case says."""
    wall = on_inside(piece, mesh)
    middle = mesh.points_mm[wall[:, 3:]].mean(axis=1)[:, :2]
    share = np.linalg.norm(face_forces(mesh, wall, np.array([1.0, 0.0, 0.0])), axis=1)[wall[:, 3:]].sum(axis=1)
    out = middle / np.linalg.norm(middle, axis=1, keepdims=True)
    u = moved[wall[:, 3:]].mean(axis=1)[:, :2]
    # Weighted by area, so that an oval does not count as wider only because one side has more nodes.
    wider = 2.0 * float(np.average(np.einsum("ij,ij->i", u, out), weights=share))
    assert case.stretch_mm is not None
    return case.stretch_mm / wider


def _judged(
    piece: Piece,
    alloy: Alloy,
    case: LoadCaseFact,
    coarse: _Answer,
    fine: _Answer,
    c: int,
) -> Strength:
    """The highest stress of a case on both meshes, its place, and its distance from the limit."""
    peak, at = _peak(fine, c)
    before, _ = _peak(coarse, c)
    change = 100.0 * (peak - before) / before if before > 0 else 0.0
    point = tuple(float(v) for v in fine.points_mm[at])
    doubt = abs(peak - before)
    strain = stress = None
    if case.kind is LoadKind.STRETCH:
        # Beyond yielding stress means little; the elastic strain pattern tells where the stretch gathers.
        strain = Estimate(100.0 * peak / (alloy.youngs_GPa * 1e3), 100.0 * doubt / (alloy.youngs_GPa * 1e3))
        limit = Estimate(alloy.elongation_percent, 0.2 * alloy.elongation_percent)
        safety = _ratio(limit, strain)
    else:
        stress = Estimate(peak, doubt)
        safety = _ratio(alloy.yield_annealed_MPa, stress)
    load = f"{case.force_N:g} N" if case.force_N is not None else f"{case.stretch_mm:g} mm wider"
    return Strength(
        title=case.title,
        kind=case.kind,
        load=load,
        stress_MPa=stress,
        strain_percent=strain,
        moved_mm=float(fine.moved_mm[:, c].max()),
        safety=safety,
        place=_place(piece, point),
        point_mm=(point[0], point[1], point[2]),
        converged=abs(change) < _CONVERGED_PERCENT,
        change_percent=change,
    )


def _peak(answer: _Answer, c: int) -> tuple[float, int]:
    """The stress that no more than ``_GRAIN_MM3`` of the counted metal exceeds, and the place where it is."""
    value = np.where(answer.counted[:, c], answer.stress_MPa[:, c], -1.0)
    order = np.argsort(-value, kind="stable")
    above = np.cumsum(answer.volume_mm3[order])
    last = int(np.searchsorted(above, _GRAIN_MM3))
    return float(value[order[last]]), int(order[0])


def _nodal_volumes(mesh: Quadratic) -> Floats:
    """(n,) each node's share of the cells around it."""
    p = mesh.points_mm[mesh.cells[:, :4]]
    volume = np.einsum("ij,ij->i", p[:, 1] - p[:, 0], np.cross(p[:, 2] - p[:, 0], p[:, 3] - p[:, 0])) / 6.0
    return np.asarray(np.bincount(mesh.cells.ravel(), np.repeat(volume / 10.0, 10), len(mesh.points_mm)))


def _ratio(over: Estimate, under: Estimate) -> Estimate:
    """A ratio with the spread of both, in quadrature."""
    value = over.value / under.value
    share = np.hypot(over.plus_minus / over.value, under.plus_minus / under.value)
    return Estimate(value, float(value * share))


def _place(piece: Piece, point: Point | tuple[float, ...]) -> str:
    """A place on the ring in words, from its angle round the finger and its height over the band."""
    x, y = point[0], point[1]
    angle = abs(float(np.degrees(np.arctan2(x, -y))))
    over = float(np.hypot(x, y)) - piece.hole.diameter_mm / 2
    if angle > 140 and over > 1.5 * piece.band_thickness_mm:
        return "head"
    if angle < 40:
        return "bottom of the shank"
    if angle < 110:
        return "side of the shank"
    return "shoulder" if angle < 150 else "under the head"


def _field(piece: Piece, answer: _Answer, c: int, case: LoadCaseFact) -> Field:
    """The stress of the fine mesh, brought to the metal's own vertices."""
    from scipy.spatial import cKDTree

    away, near = cKDTree(answer.points_mm).query(piece.metal.vertices_mm, k=3)
    weight = 1.0 / np.maximum(away, 1e-6)
    value = (answer.stress_MPa[near, c] * weight).sum(axis=1) / weight.sum(axis=1)
    return Field(f"stress-{case.kind.value}", f"Stress: {case.title.lower()}", "MPa", "ring", value, low_is_bad=False)
