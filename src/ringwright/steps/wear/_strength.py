"""Stress in the ring under each load case, on two meshes, so that the answer says how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ringwright.science.elastic import Quadratic
from ringwright.science.tetra import SignedDistance
from ringwright.steps.wear._cells import filled, signed_distance
from ringwright.steps.wear._cells import whole as cells_of
from ringwright.steps.wear._loads import Load, load_of, mandrel_of, snags_of, stretched
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Field, Floats, Residual
from ringwright.terms.mistake import ComputingFault
from ringwright.terms.piece import Piece
from ringwright.terms.progress import Progress
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, LoadKind, Strength

# Cells of the coarse mesh, of ring and head, and how many more the fine one has: the numerical effort, not a figure of
# the trade.
_CELLS = 5_000
_HEAD_CELLS = 2_500
_FINER = 1.3
# How far below the lowest claw tip the head is cut off to be looked at more closely.
_HEAD_DEPTH_MM = 3.5
# Stress is fitted linearly over this distance before its maximum is taken (ringwright.science.stress): half of a
# claw's thickness, so that bending counts in full, and the peak in a corner drawn without a radius does not.
_LINEAR_MM = 0.5
# A stress counts that more than this much of the surface bears: a single node's is noise of the mesh. Of a stretch,
# which strains the whole ring and tears a section, half of a thin shank's section; at a claw little more than a node's.
_PATCH_MM2 = {LoadKind.STRETCH: 2.0, LoadKind.SNAG: 0.15}
_PATCH_ELSE_MM2 = 0.5
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
    """One mesh's answer at the corners of its skin: places and their shares of the skin (p,), stress (p, c), where it
    counts, how much of the skin must bear it, and the movement (c,)."""

    points_mm: Floats
    area_mm2: Floats
    stress_MPa: Floats
    counted: NDArray[np.bool_]
    patch_mm2: Floats
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
    distance = signed_distance(piece)
    whole = tuple(case for case in cases if case.kind is not LoadKind.SNAG)
    caught = tuple(case for case in cases if case.kind is LoadKind.SNAG) if snag_at_mm else ()
    found: list[Strength] = []
    fields: list[Field] = []
    worst, cells = 0.0, 0
    for number, (group, part, count) in enumerate(((whole, _whole, _CELLS), (caught, _head, _HEAD_CELLS))):
        if not group:
            continue
        share, name = 0.65 * number, part.__name__[1:]
        progress(share + 0.10, f"strength of the {name}, mesh 1 of 2")
        coarse = part(piece, alloy, distance, count, snag_at_mm, group)
        progress(share + 0.30, f"strength of the {name}, mesh 2 of 2")
        fine = part(piece, alloy, distance, round(_FINER * coarse.cells), snag_at_mm, group)
        worst, cells = max(worst, fine.residual), max(cells, fine.cells)
        for c, case in enumerate(group):
            found.append(_judged(piece, alloy, case, coarse, fine, c))
        fields += _fields(piece, fine, group)
    order = [case.title for case in cases]
    found.sort(key=lambda one: order.index(one.title))
    return Found(tuple(found), tuple(fields), (Residual("elasticity", worst, _SOLVER_BOUND),), cells)


def _whole(
    piece: Piece,
    alloy: Alloy,
    distance: SignedDistance,
    cells: int,
    _tips: tuple[Point, ...],
    cases: Sequence[LoadCaseFact],
) -> _Answer:
    """The whole ring, all cases in one solve: what the finger pushes back balances every load."""
    from ringwright.science.elastic import held_at_three

    mesh = cells_of(piece, distance, cells)
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
    cells: int,
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
    for _ in range(4):
        mesh = filled(low, high, head, cells, even=True)
        held = mesh.points_mm[:, 1] < floor + 0.02
        if held.any():
            break
        cells = 2 * cells  # so coarse that the claws have come loose from what they stand on
    else:
        raise ComputingFault("the head could not be cut from the ring: no cell reaches what the claws stand on")
    loads: list[Load] = []
    owner: list[int] = []
    for c, case in enumerate(cases):
        made = snags_of(mesh, case, tips)
        loads += made
        owner += [c] * len(made)
    answer = _answer(piece, alloy, mesh, loads, owner, cases, np.repeat(held[:, None], 3, axis=1))
    return replace(answer, counted=answer.points_mm[:, 1] > floor + 0.5)


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
    patch = np.zeros(len(cases))

    def count(c: int, movement: Floats, value: Floats) -> None:
        stress[:, c] = np.maximum(stress[:, c], value)
        size[c] = max(size[c], float(np.linalg.norm(movement, axis=1).max()))

    for c, case in enumerate(cases):
        mine = [n for n, whose in enumerate(owner) if whose == c]
        patch[c] = _PATCH_MM2.get(case.kind, _PATCH_ELSE_MM2) * (len(mine) if case.kind is LoadKind.SNAG else 1)
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
    return _Answer(
        places, _shares(mesh)[surface.nodes], stress, np.ones(len(places), bool), patch, size, residual,
        len(mesh.cells),
    )  # fmt: skip


def _shares(mesh: Quadratic) -> Floats:
    """(n,) each corner's share of the skin."""
    p, faces = mesh.points_mm, mesh.skin_faces[:, :3]
    area = 0.5 * np.linalg.norm(np.cross(p[faces[:, 1]] - p[faces[:, 0]], p[faces[:, 2]] - p[faces[:, 0]]), axis=1)
    return np.asarray(np.bincount(faces.ravel(), np.repeat(area / 3.0, 3), len(p)))


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
    """The stress that no more than its patch of the skin exceeds, and where it is highest."""
    value = np.where(answer.counted, answer.stress_MPa[:, c], -1.0)
    order = np.argsort(-value, kind="stable")
    above = np.cumsum(answer.area_mm2[order])
    last = int(np.searchsorted(above, answer.patch_mm2[c]))
    return float(value[order[min(last, len(order) - 1)]]), int(order[0])


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
