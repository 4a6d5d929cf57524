"""Stress in the ring under each load case, on one mesh after the other until it holds still, so that the answer says
how sure it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science.bricks import Bricks
from ringwright.science.skin import Patches
from ringwright.steps.wear import _metal
from ringwright.steps.wear._loads import Load, load_of, mandrel_of, snags_of, stretched
from ringwright.steps.wear._metal import MESHES, Metal
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Field, Floats, Residual
from ringwright.terms.piece import Piece
from ringwright.terms.progress import Progress
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, LoadKind, Strength

# How many cells of the second mesh the metal of ring and head would fill: the effort, not a figure of the trade.
_CELLS = 400
_HEAD_CELLS = 350
# How far below the lowest claw tip the head is cut off to be looked at more closely.
_HEAD_DEPTH_MM = 3.5
# A stress counts that more than this much of the surface bears. Of a stretch, which strains the whole ring and tears a
# section, half of a thin shank's section; at a claw little more than a point.
_PATCH_MM2 = {LoadKind.STRETCH: 2.0, LoadKind.SNAG: 0.15}
_PATCH_ELSE_MM2 = 0.5
# A cell that holds less metal than this does not tell how far the ring moves.
_TELLS = 0.2
_CONVERGED_PERCENT = 5.0
# A finer mesh is tried where the last moved a figure by more than this.
_STILL_PERCENT = 4.0
# No figure is surer than this share of it, however still it holds: that much the worst of the starters was off.
_READ = 0.05
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
    """One mesh's answer: the stress (p, c) at the places of the skin, how much of the skin must bear it (c,), and the
    movement (c,)."""

    places: Patches
    stress_MPa: Floats
    patch_mm2: Floats
    moved_mm: Floats
    residual: float
    cells: int
    edge_mm: float


@dataclass(frozen=True, eq=False)
class _Cases:
    """The cases that one metal is judged by, their loads, and whose each load is."""

    metal: Metal
    cases: tuple[LoadCaseFact, ...]
    loads: tuple[Load, ...]
    owner: tuple[int, ...]


def strengths(
    piece: Piece,
    alloy: Alloy,
    snag_at_mm: tuple[Point, ...],
    cases: Sequence[LoadCaseFact],
    progress: Progress,
) -> Found:
    """Work every load case on two meshes, or more until its figure holds still, and judge it.

    Without claws (``snag_at_mm``) there is nothing to be caught, and no such case.
    """
    found: list[Strength] = []
    fields: list[Field] = []
    worst, cells = 0.0, 0
    for share, name, group in _groups(piece, snag_at_mm, cases):
        judged: list[Strength] = []
        answer: _Answer | None = None
        for n, per in enumerate(MESHES):
            progress(share + 0.1 + 0.05 * n, f"strength of the {name}, mesh {n + 1}")
            before, answer = answer, answered(piece, alloy, group, per)
            if before is None:
                continue
            judged = [_judged(piece, alloy, case, before, answer, c) for c, case in enumerate(group.cases)]
            if max(abs(one.change_percent) for one in judged) <= _STILL_PERCENT:
                break
        assert answer is not None
        found += judged
        worst, cells = max(worst, answer.residual), max(cells, answer.cells)
        fields += _fields(piece, answer, group.cases)
    order = [case.title for case in cases]
    found.sort(key=lambda one: order.index(one.title))
    return Found(tuple(found), tuple(fields), (Residual("elasticity", worst, _SOLVER_BOUND),), cells)


def _groups(
    piece: Piece, tips: tuple[Point, ...], cases: Sequence[LoadCaseFact]
) -> Iterator[tuple[float, str, _Cases]]:
    """The whole ring with its cases, then the head with the claws that are caught."""
    at_whole = tuple(case for case in cases if case.kind is not LoadKind.SNAG)
    caught = tuple(case for case in cases if case.kind is LoadKind.SNAG)
    if at_whole:
        yield 0.0, "whole", on_whole(piece, at_whole, _CELLS)
    if caught and tips:
        yield 0.65, "head", on_head(piece, tips, caught, _HEAD_CELLS)


def on_whole(piece: Piece, cases: tuple[LoadCaseFact, ...], cells: int) -> _Cases:
    """The whole ring: what the finger pushes back balances every load."""
    metal = _metal.whole(piece, cells)
    loads: list[Load] = []
    owner: list[int] = []
    for c, case in enumerate(cases):
        stretch = case.kind is LoadKind.STRETCH
        made = mandrel_of(piece, metal.skin) if stretch else [load_of(piece, metal.skin, case)]
        loads += made
        owner += [c] * len(made)
    return _Cases(metal, cases, tuple(loads), tuple(owner))


def on_head(piece: Piece, tips: tuple[Point, ...], cases: tuple[LoadCaseFact, ...], cells: int) -> _Cases:
    """The head alone, cut off and held below the claws, so that small cells reach into them."""
    floor = max(min(tip[1] for tip in tips) - _HEAD_DEPTH_MM, piece.hole.diameter_mm / 2 + 0.2)
    metal = _metal.head(piece, floor, cells)
    loads = [(c, load) for c, case in enumerate(cases) for load in snags_of(metal.skin, case, tips)]
    return _Cases(metal, cases, tuple(load for _, load in loads), tuple(c for c, _ in loads))


def answered(piece: Piece, alloy: Alloy, group: _Cases, per: int) -> _Answer:
    """Solve for all loads; of several loads of one case (its claws) the highest stress counts at each place."""
    from ringwright.science.bricks import bricks_of, lame, residual, stiffness, within
    from ringwright.science.fronts import factors
    from ringwright.science.stress import mises

    metal = group.metal
    bricks = bricks_of(metal.voxels, per, None if metal.floor_mm is None else 1)
    matrix = stiffness(bricks, alloy.youngs_GPa, alloy.poisson)
    fixed = _held(bricks, metal)
    skin = within(bricks, metal.skin.points_mm)
    forces = skin.nodal(np.stack([load.forces_N for load in group.loads], axis=2), len(bricks.points_mm))
    moved = factors(bricks.cells, bricks.places, matrix, fixed).solve(forces)
    skin_moved = skin.moved(moved)
    owner = list(group.owner)
    for c, case in enumerate(group.cases):
        if case.kind is LoadKind.STRETCH:
            # Of the mandrel's pushes only their sum counts; it takes their first place.
            assert case.stretch_mm is not None
            mine = [n for n, whose in enumerate(owner) if whose == c]
            share = stretched(piece, metal.skin, skin_moved[:, :, mine], case.stretch_mm)
            moved[:, :, mine[0]], forces[:, :, mine[0]] = moved[:, :, mine] @ share, forces[:, :, mine] @ share
            skin_moved[:, :, mine[0]] = skin_moved[:, :, mine] @ share
            for n in mine[1:]:
                owner[n] = -1
    counts = np.array(owner) >= 0
    inner = within(bricks, metal.inner_mm)
    at_inner = inner.stress(moved[:, :, counts], *lame(alloy.youngs_GPa, alloy.poisson))
    at_skin = (metal.fit @ at_inner.reshape(len(at_inner), -1)).reshape(-1, 6, int(counts.sum()))
    points, many = metal.places.points_mm, len(group.cases)
    stress, size, patch = np.zeros((len(points), many)), np.zeros(many), np.zeros(many)
    tells = bricks.filled[skin.cell] >= _TELLS
    for k, n in enumerate(np.flatnonzero(counts).tolist()):
        c = owner[n]
        patch[c] += _PATCH_MM2.get(group.cases[c].kind, _PATCH_ELSE_MM2)
        value = np.where(group.loads[n].counted(points), mises(at_skin[:, :, k]), 0.0)
        stress[:, c] = np.maximum(stress[:, c], value)
        how = skin_moved[tells][:, :, n]
        if metal.floor_mm is None:
            how = _unmoved(metal.skin.points_mm[tells], how)
        size[c] = max(size[c], float(np.linalg.norm(how, axis=1).max()))
    left = residual(bricks, matrix, moved, forces, fixed)
    return _Answer(metal.places, stress, patch, size, left, len(bricks.cells), bricks.edge_mm)


def _held(bricks: Bricks, metal: Metal) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """(n, 3) what is held: a head's foot; of a whole ring just enough that it does not float."""
    from ringwright.science.bricks import held_at_three

    if metal.floor_mm is None:
        return held_at_three(bricks)
    return np.repeat((bricks.points_mm[:, 1] < metal.floor_mm + 1e-6)[:, None], 3, axis=1)


def _unmoved(points: Floats, moved: Floats) -> Floats:
    """Movements without the shift and turn that they have in common: how the ring changes its shape."""
    x = points - points.mean(axis=0)
    shift = moved.mean(axis=0)
    inertia = np.einsum("nk,nk->", x, x) * np.eye(3) - x.T @ x
    turn = np.linalg.solve(inertia, np.cross(x, moved - shift).sum(axis=0))
    return np.asarray(moved - shift - np.cross(turn, x))


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
    point = tuple(float(v) for v in fine.places.points_mm[at])
    doubt = max(abs(peak - before) / ((coarse.edge_mm / fine.edge_mm) ** 2 - 1.0), _READ * peak)
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
    value = answer.stress_MPa[:, c]
    order = np.argsort(-value, kind="stable")
    area = answer.places.area_mm2[order]
    above = np.cumsum(area) - area / 2.0
    return float(np.interp(answer.patch_mm2[c], above, value[order])), int(order[0])


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

    away, near = cKDTree(answer.places.points_mm).query(piece.metal.vertices_mm, k=3)
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
