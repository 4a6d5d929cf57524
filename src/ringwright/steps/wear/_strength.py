"""Stress in the ring under each load case, on two meshes, so that the answer says how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringwright.science.elastic import Quadratic
from ringwright.science.solids import volume
from ringwright.science.tetra import SignedDistance
from ringwright.steps.wear._loads import loads_of, on_finger, on_inside
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Field, Floats, Residual
from ringwright.terms.piece import Piece
from ringwright.terms.progress import Progress
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, LoadKind, Strength

# Cells of the coarse and of the fine mesh: the numerical effort, not a figure of the trade.
_CELLS = (7_000, 14_000)
_GRID_MM = 0.1
# Stress is averaged over this radius before its maximum is taken: at a drawn corner of no radius the
# stress of linear elasticity grows without bound as the mesh gets finer, and its maximum would mean nothing.
_AVERAGE_MM = 0.25
_CONVERGED_PERCENT = 5.0
_SOLVER_BOUND = 2e-6


@dataclass(frozen=True)
class Found:
    """The strengths, the stress as fields on the metal's vertices, and the solver's residuals."""

    strengths: tuple[Strength, ...]
    fields: tuple[Field, ...]
    residuals: tuple[Residual, ...]
    cells: int


@dataclass(frozen=True, eq=False)
class _Answer:
    """One mesh's answer: nodes, averaged stress (n, c), displacement size (n, c), strain of a stretch, residual."""

    points_mm: Floats
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
    """Work every load case on a coarse and on a fine mesh and judge it."""
    distance = _signed_distance(piece)
    size_mm3 = volume(piece.metal)
    answers = []
    for number, cells in enumerate(_CELLS):
        # A body-centred lattice has twelve tetrahedra for each cube of its edge.
        edge_mm = float((12.0 * size_mm3 / cells) ** (1 / 3))
        progress((number + 0.2) / len(_CELLS), f"strength, mesh {number + 1} of {len(_CELLS)}")
        answers.append(_solve(piece, alloy, distance, edge_mm, snag_at_mm, cases))
    coarse, fine = answers
    found, fields = [], []
    for c, case in enumerate(cases):
        found.append(_judged(piece, alloy, case, coarse, fine, c))
        if case.kind is not LoadKind.STRETCH:
            fields.append(_field(piece, fine, c, case))
    residual = Residual("elasticity", fine.residual, _SOLVER_BOUND)
    return Found(tuple(found), tuple(fields), (residual,), fine.cells)


def _signed_distance(piece: Piece) -> SignedDistance:
    """The metal's signed distance (positive inside) as a function of points, from a fine grid."""
    from scipy.ndimage import map_coordinates

    from ringwright.science.distance import signed
    from ringwright.science.voxels import fill

    grid = fill(piece.metal, _GRID_MM, margin_cells=16)
    values = -signed(piece.metal, grid, reach_mm=1.5)
    origin = np.asarray(grid.origin_mm)

    def distance(points: Floats) -> Floats:
        at = (points - origin) / _GRID_MM - 0.5
        out: Floats = map_coordinates(values, at.T, order=1, mode="nearest").astype(np.float64)
        return out

    return distance


def _solve(
    piece: Piece,
    alloy: Alloy,
    distance: SignedDistance,
    edge_mm: float,
    snag_at_mm: tuple[Point, ...],
    cases: Sequence[LoadCaseFact],
) -> _Answer:
    from ringwright.science.elastic import held_at_three, quadratic, solve, stiffness
    from ringwright.science.tetra import fill

    low, high = piece.metal.vertices_mm.min(axis=0), piece.metal.vertices_mm.max(axis=0)
    mesh = quadratic(fill(distance, low, high, edge_mm), distance)
    matrix = stiffness(mesh, alloy.youngs_GPa, alloy.poisson)
    points = mesh.points_mm
    n = len(points)
    stress, moved = np.zeros((n, len(cases))), np.zeros((n, len(cases)))
    counted = np.ones((n, len(cases)), bool)
    residual = 0.0

    balanced = [c for c, case in enumerate(cases) if case.kind in (LoadKind.SQUEEZE, LoadKind.STRETCH)]
    held = [c for c, case in enumerate(cases) if c not in balanced]
    for group, gripped in ((balanced, False), (held, True)):
        loads, owner = [], []
        for c in group:
            for load, near in loads_of(piece, mesh, cases[c], snag_at_mm):
                loads.append(load)
                owner.append(c)
                counted[:, c] &= ~near
        fixed = on_finger(piece, mesh) if gripped else held_at_three(mesh)
        for start in range(0, len(loads), 4):
            answer = solve(matrix, np.stack(loads[start : start + 4], axis=2), fixed)
            residual = max(residual, answer.residual)
            for k, c in enumerate(owner[start : start + 4]):
                value = _averaged(mesh, answer.mises_MPa(k))
                size = np.linalg.norm(answer.moved_mm[:, :, k], axis=1)
                if cases[c].kind is LoadKind.STRETCH:
                    scale = _stretch_scale(piece, mesh, answer.moved_mm[:, :, k], cases[c])
                    value, size = value * scale, size * scale
                stress[:, c] = np.maximum(stress[:, c], value)
                moved[:, c] = np.maximum(moved[:, c], size)
        if gripped:
            near_hold = _near(points, points[fixed[:, 0]], 2 * edge_mm)
            counted[:, group] &= ~near_hold[:, None]
    return _Answer(points, stress, moved, counted, residual, len(mesh.cells))


def _near(points: Floats, others: Floats, within_mm: float) -> NDArray[np.bool_]:
    """Which points lie within a distance of any of the others."""
    from scipy.spatial import cKDTree

    away, _ = cKDTree(others).query(points, distance_upper_bound=within_mm)
    return np.isfinite(away)


def _averaged(mesh: Quadratic, value: Floats) -> Floats:
    """The mean of a nodal value over the nodes within the averaging radius."""
    from scipy.spatial import cKDTree

    tree = cKDTree(mesh.points_mm)
    near = tree.sparse_distance_matrix(tree, _AVERAGE_MM, output_type="coo_matrix").tocsr()
    near.data[:] = 1.0
    near.setdiag(1.0)
    total, count = np.asarray(near @ value), np.asarray(near @ np.ones(len(value)))
    return np.asarray(total / count)


def _stretch_scale(piece: Piece, mesh: Quadratic, moved: Floats, case: LoadCaseFact) -> float:
    """What the unit pressure must be multiplied by to widen the mean inner diameter as the case says."""
    wall = np.unique(on_inside(piece, mesh))
    p = mesh.points_mm[wall]
    out = p[:, :2] / np.linalg.norm(p[:, :2], axis=1, keepdims=True)
    u = moved[wall][:, :2]
    # A rigid shift does not widen: the mean over the round takes it out.
    wider = 2.0 * float(np.einsum("ij,ij->i", u - u.mean(axis=0), out).mean())
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
    value = np.where(answer.counted[:, c], answer.stress_MPa[:, c], -1.0)
    at = int(np.argmax(value))
    return float(value[at]), at


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
