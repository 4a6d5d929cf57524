"""Stress in the ring under each load case, on two meshes, so that the answer says how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ringwright.science.elastic import Quadratic
from ringwright.science.tetra import SignedDistance
from ringwright.steps.wear._loads import Load, load_of, mandrel_of, snags_of, stretched
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Field, Floats, Residual
from ringwright.terms.piece import Piece
from ringwright.terms.progress import Progress
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, LoadKind, Strength

# Cells of the coarse and of the fine mesh, of ring and head: the numerical effort, not a figure of the trade.
_CELLS = (5_000, 10_000)
_HEAD_CELLS = (2_500, 5_000)
# How far below the lowest claw tip the head is cut off to be looked at more closely.
_HEAD_DEPTH_MM = 3.5
_GRID_MM = 0.15
# Stress is fitted linearly over this distance before its maximum is taken (ringwright.science.stress): half of a
# claw's thickness, so that bending counts in full, and the peak in a corner drawn without a radius does not.
_LINEAR_MM = 0.5
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
    """One mesh's answer at the corners of its skin: places, stress (p, c), where it counts, and the movement (c,)."""

    points_mm: Floats
    stress_MPa: Floats
    counted: NDArray[np.bool_]
    moved_mm: Floats
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
        fields += _fields(piece, fine, group)
    order = [case.title for case in cases]
    found.sort(key=lambda one: order.index(one.title))
    return Found(tuple(found), tuple(fields), (Residual("elasticity", worst, _SOLVER_BOUND),), cells)


def _signed_distance(piece: Piece) -> SignedDistance:
    """The metal's signed distance (positive inside) as a function of points, from a fine grid."""
    from scipy.ndimage import map_coordinates

    from ringwright.science.distance import signed
    from ringwright.science.voxels import fill

    grid = fill(piece.metal, _GRID_MM, margin_cells=7)
    values = -signed(piece.metal, grid, reach_mm=0.45)
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

    metal = piece.metal.vertices_mm
    mesh = _filled(metal.min(axis=0), metal.max(axis=0), distance, _CELLS[mesh_number])
    loads: list[Load] = []
    owner: list[int] = []
    for c, case in enumerate(cases):
        made = mandrel_of(piece, mesh) if case.kind is LoadKind.STRETCH else [load_of(piece, mesh, case)]
        loads += made
        owner += [c] * len(made)
    return _answer(piece, alloy, mesh, loads, owner, cases, held_at_three(mesh))


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

    metal = piece.metal.vertices_mm
    above = metal[piece.metal.faces[(metal[piece.metal.faces, 1] > floor).any(axis=1)]].reshape(-1, 3)
    low, high = above.min(axis=0), above.max(axis=0)
    low[1] = floor
    mesh = _filled(low, high, head, _HEAD_CELLS[mesh_number])
    loads, owner = [], []
    for c, case in enumerate(cases):
        made = snags_of(mesh, case, tips)
        loads += made
        owner += [c] * len(made)
    held = mesh.points_mm[:, 1] < floor + 0.02
    answer = _answer(piece, alloy, mesh, loads, owner, cases, np.repeat(held[:, None], 3, axis=1))
    return replace(answer, counted=answer.points_mm[:, 1] > floor + 0.5)


def _filled(low: Floats, high: Floats, distance: SignedDistance, cells: int) -> Quadratic:
    """Curved tetrahedra of about that number inside of ``distance`` and a box."""
    from ringwright.science.elastic import quadratic
    from ringwright.science.tetra import fill, largest_part

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
    from ringwright.science.stress import at_surface, mises

    matrix = stiffness(mesh, alloy.youngs_GPa, alloy.poisson)
    answers = [
        solve(matrix, np.stack([f for f, _ in loads[n : n + 4]], axis=2), fixed) for n in range(0, len(loads), 4)
    ]
    moved = np.concatenate([answer.moved_mm for answer in answers], axis=2)
    surface = at_surface(matrix, moved, _LINEAR_MM)
    stress, size = np.zeros((len(surface.nodes), len(cases))), np.zeros(len(cases))

    def count(c: int, movement: Floats, value: Floats) -> None:
        stress[:, c] = np.maximum(stress[:, c], value)
        size[c] = max(size[c], float(np.linalg.norm(movement, axis=1).max()))

    for c, case in enumerate(cases):
        mine = [n for n, whose in enumerate(owner) if whose == c]
        if case.kind is LoadKind.STRETCH:
            assert case.stretch_mm is not None
            share = stretched(piece, mesh, moved[:, :, mine], case.stretch_mm)
            count(c, moved[:, :, mine] @ share, mises(surface.stress_MPa[:, :, mine] @ share))
            continue
        for n in mine:
            value = mises(surface.stress_MPa[:, :, n])
            count(c, moved[:, :, n], np.where(loads[n][1][surface.nodes], 0.0, value))
    places = mesh.points_mm[surface.nodes]
    residual = max(answer.residual for answer in answers)
    return _Answer(places, stress, np.ones(len(places), bool), size, residual, len(mesh.cells))


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
        moved_mm=float(fine.moved_mm[c]),
        safety=safety,
        place=_place(piece, point),
        point_mm=(point[0], point[1], point[2]),
        converged=abs(change) < _CONVERGED_PERCENT,
        change_percent=change,
    )


def _peak(answer: _Answer, c: int) -> tuple[float, int]:
    """The highest stress that counts, and where it is."""
    value = np.where(answer.counted, answer.stress_MPa[:, c], -1.0)
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


def _fields(piece: Piece, answer: _Answer, cases: Sequence[LoadCaseFact]) -> list[Field]:
    """The stress of the fine mesh, brought to the metal's own vertices; of a stretch only the strain is told."""
    from scipy.spatial import cKDTree

    away, near = cKDTree(answer.points_mm).query(piece.metal.vertices_mm, k=3)
    weight = 1.0 / np.maximum(away, 1e-6)
    weight /= weight.sum(axis=1, keepdims=True)
    return [
        Field(
            f"stress-{case.kind.value}", f"Stress: {case.title.lower()}", "MPa", "ring",
            np.einsum("nk,nk->n", answer.stress_MPa[near, c], weight), low_is_bad=False,
        )
        for c, case in enumerate(cases)
        if case.kind is not LoadKind.STRETCH
    ]  # fmt: skip
