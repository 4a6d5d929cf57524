"""The step's verb: from the tree in its mould to the settings of the pour and what comes of them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ringwright.science.feeding import Pools
from ringwright.science.filling import Filled
from ringwright.steps.pour import _bodies
from ringwright.steps.pour._cavity import Cavity, balls, cavity, where
from ringwright.steps.pour._fine import finest_mm, thermal_fine
from ringwright.steps.pour._finished import Finished, on_finished
from ringwright.steps.pour._log import compared
from ringwright.steps.pour._pass import Flow, flow, pools, reserve_percent, tightest, zones
from ringwright.steps.pour._remarks import UNMEASURED, Said, remarks
from ringwright.steps.pour._rules import PourRows, class_of, flask_row, flask_span, melt_row, mistakes
from ringwright.steps.pour._thermal import Mould, Thermal, ground, thermal
from ringwright.steps.pour._ways import At, by_filling, by_freezing
from ringwright.steps.pour._window import MISRUN, NEAR, Frozen, Window, fill_s, frozen
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Body, Field, Floats, Mesh, Residual, Role, Voxels
from ringwright.terms.mistake import BadInput, ComputingFault, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import FeederTimes, PourFigures, Setting, ThermocoupleLog, Variant
from ringwright.terms.progress import Progress, part_of, silent
from ringwright.terms.tree import InvestmentFact, TreeFigures, TreePiece, Way
from ringwright.terms.workshop import Casting, CastingPlant, Habits

_COARSE_MM = 0.4
_COARSEST_MM, _FINEST_MM = 0.8, 0.1
_ACROSS_HEAVY = 6.0
_COARSER = 1.5
_BALLS = 0.5
_ROUND_C = 5.0
_HEAT_LOST = 2e-4
_LIKE = 0.15
_COLDER_C, _HOTTER_C = 150.0, 60.0
_ON_RING = ("freeze", "fill", "pore-risk")


@dataclass(frozen=True, eq=False, kw_only=True)
class Led:
    """A way of leading the metal in, and the tree that it gives."""

    what: str
    tree: Mesh
    figures: TreeFigures
    way: Way | None = None
    perforated: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class _Job:
    """What stays the same in all that is worked."""

    alloy: Alloy
    investment: InvestmentFact
    plant: CastingPlant
    rows: PourRows
    pieces: tuple[TreePiece, ...]
    perforated: bool
    most_GB: float


def cast(
    tree: Mesh,
    figures: TreeFigures,
    pieces: Sequence[TreePiece],
    *,
    alloy: Alloy,
    investment: InvestmentFact,
    plant: CastingPlant,
    habits: Habits,
    rows: PourRows,
    perforated: bool = False,
    flask_C: float | None = None,
    melt_C: float | None = None,
    h_mm: float | None = None,
    thorough: bool = False,
    variants: Sequence[Variant] = (),
    led_why: str = "",
    logs: Sequence[ThermocoupleLog] = (),
    finished: Sequence[Finished] = (),
    most_GB: float = 1.2,
    progress: Progress = silent,
) -> Outcome[PourFigures]:
    """Cast a tree, on paper: the proposed flask and melt, or those that are given, and what comes of them.

    ``tree`` and ``figures`` are what ``tree.build`` made of ``pieces``. With ``flask_C`` or ``melt_C`` given nothing is
    proposed in its place. ``h_mm`` is the edge of the cells (None: 0.4 mm, finer where a wall asks for it, coarser for
    what is heavy); ``thorough`` reckons the final setting at half that, on an octree and with the flask's walls, and
    refines the map where it goes from misrun to filled. ``variants`` are ways of leading the metal in that were judged
    before (:func:`judge`), ``led_why`` why this one was chosen; where there are none, the ways that ``figures`` name
    are set beside by filling alone. ``logs`` are the workshop's own thermocouple logs, in the first piece's frame.

    Fields on the body "tree", in the flask's frame: "freeze", "fill", "heat-left", "pore-risk", "niyama"; the first two
    and "pore-risk" also on each body that is ``finished``, as "ring-freeze" for one that is called "ring".

    Raises :class:`BadInput` for a melt below the liquidus, a flask above the solidus or the binder's limit, a melt that
    destroys the investment or that the plant does not reach, cells too coarse for the thinnest part, or a run that
    would need more than ``most_GB``; :class:`ComputingFault` where heat is lost.
    """
    job = _Job(
        alloy=alloy,
        investment=investment,
        plant=plant,
        rows=rows,
        pieces=tuple(pieces),
        perforated=perforated,
        most_GB=most_GB,
    )
    usual = _usual(job, habits, flask_C, melt_C)
    progress(0.0, "pour: the cavity in cells")
    made = _cavity(job, tree, figures, h_mm)
    flowing = flow(made, alloy, investment, plant, rows, perforated=perforated)
    basis = ground(made, _mould(job, figures), most_GB=most_GB)
    window, first, coarse = _window(job, flowing, part_of(progress, 0.1, 0.6))
    chosen, habit, why = _chosen(window, usual, flask_C, melt_C)
    wrong = mistakes(chosen.flask_C, chosen.melt_C, alloy, investment, plant)
    if wrong:
        raise BadInput(*wrong)

    progress(0.6, "pour: freezing at the chosen setting")
    if thorough:
        made = cavity(tree, figures, job.pieces, finest_mm(tree, made.h_mm / 2, most_GB), made.balls)
        flowing = flow(made, alloy, investment, plant, rows, perforated=perforated)
    flask = _bodies.cooled(figures, investment, chosen.flask_C, plant.kiln_to_pour_s, rows.heat)
    if thorough:
        final = thermal_fine(made, _mould(job, figures), flask, chosen.melt_C)
    else:
        final = thermal(basis, _mould(job, figures), flask.about_C, chosen.melt_C, gates=True)
    progress(0.85, "pour: feeding and filling")
    found = _found(job, made, flowing, final, chosen)
    own = frozen(made, final, found.cut, alloy)
    like = window.like(own) - 1
    window = window.fitted(own)
    if habit is not None:
        habit = window.setting(habit.flask_C, habit.melt_C)
    progress(0.9, "pour: the window")
    window_cells = window.cells(*((11, 7) if thorough else (6, 4)), chosen)
    if thorough:
        window_cells = (*window_cells, *window.edge(window_cells))
    result = replace(
        _figures(job, made, flowing, final, found),
        why=why,
        habit=habit,
        flask_skin_C=flask.skin_C,
        window=window_cells,
        variants=tuple(variants) or _beside(coarse, window, chosen),
        led_why=led_why,
        compared=compared(made, final, logs, alloy, _mould(job, figures).stops_C),
        cautions=_cautions(alloy, investment, plant),
        feeders=_feeders(made, final),
    )
    said = Said(
        result=result,
        cavity=made,
        window=window,
        alloy=alloy,
        investment=investment,
        plant=plant,
        rows=rows,
        section_mm=made.section_mm(),
        at_best_percent=reserve_percent(made, flowing.fill(flask.about_C, chosen.melt_C, kind=True)),
    )
    residuals = (
        *first,
        Residual("heat lost in freezing, share of the metal's", final.heat_lost, _HEAT_LOST),
        Residual("time of the map against the run, share", like, _LIKE),
    )
    fields, voxels = _shown(made, final, found, alloy, finished)
    progress(1.0, "pour: done")
    return Outcome(
        "pour",
        result,
        remarks(said),
        bodies=(Body("tree", Role.TREE, tree),),
        fields=fields,
        residuals=residuals,
        voxels=voxels,
    )


def _usual(job: _Job, habits: Habits, flask_C: float | None, melt_C: float | None) -> tuple[float | None, float | None]:
    """The shop's habit; mistakes in what is given or usual are told at once."""
    superheat = habits.superheat_C
    usual_melt = None if superheat is None else job.alloy.liquidus_C + superheat
    wrong = mistakes(
        _first(flask_C, habits.flask_C, min(job.alloy.solidus_C - 100.0, job.investment.max_oven_C)),
        _first(melt_C, usual_melt, job.alloy.liquidus_C + 20.0),
        job.alloy,
        job.investment,
        job.plant,
    )
    if wrong:
        raise BadInput(*wrong)
    return habits.flask_C, usual_melt


def _first(*values: float | None) -> float:
    return next(v for v in values if v is not None)


def _cavity(job: _Job, tree: Mesh, figures: TreeFigures, h_mm: float | None) -> Cavity:
    """The cells, fine enough for the thinnest part; refused where the asked edge is too coarse for it."""
    across = job.rows.figure("cells across")
    made = cavity(tree, figures, job.pieces, _COARSE_MM if h_mm is None else h_mm)
    piece, (thin, cell) = min(made.thin_mm.items(), key=lambda item: item[1][0])
    would_do = float(np.floor(thin / across * 100) / 100)
    if h_mm is None:
        if would_do < made.h_mm and would_do >= _FINEST_MM:
            return cavity(tree, figures, job.pieces, would_do, made.balls)
        coarser = min(would_do, float(made.wall_mm[made.in_piece].max()) / _ACROSS_HEAVY, _COARSEST_MM)
        if coarser > 1.15 * made.h_mm:
            return cavity(tree, figures, job.pieces, coarser, made.balls)
    if made.h_mm <= thin / across * (1 + 1e-9):
        return made
    raise bad(
        "cells",
        f"cells of {made.h_mm:g} mm are too coarse for {thin:.2f} mm of metal on {piece} ({made.place(cell)})",
        f"at most {would_do:.2f} mm"
        if would_do >= _FINEST_MM
        else f"metal of {across * _FINEST_MM:.1f} mm or more there; {would_do:.2f} mm would do, finer than any cells",
    )


def _mould(job: _Job, figures: TreeFigures) -> Mould:
    return Mould(
        metal=_bodies.metal(job.alloy, job.rows.elements),
        mould=_bodies.mould(job.investment),
        outside=_bodies.outside(job.rows.heat),
        room_C=_bodies.room_C(job.rows.heat),
        radius_mm=figures.flask_diameter_mm / 2,
        height_mm=figures.flask_height_mm,
        top_mm=-figures.button_top_mm,
        contact_W_m2K=job.rows.figure("contact"),
        solidus_C=job.alloy.solidus_C,
        liquidus_C=job.alloy.liquidus_C,
        stops_C=_bodies.solid_C(job.rows.figure("feed stops"), job.alloy, job.rows.elements),
    )


def _window(job: _Job, flowing: Flow, progress: Progress) -> tuple[Window, tuple[Residual, ...], Cavity]:
    """Two runs of freezing side by side, at a cold and a hot flask: the map's ground, and the cells of both."""
    fine = flowing.cavity
    made = cavity(fine.tree, fine.figures, job.pieces, _COARSER * fine.h_mm, fine.balls)
    basis = ground(made, _mould(job, made.figures), most_GB=job.most_GB)
    figures, rows, alloy = made.figures, job.rows, job.alloy
    name = class_of(alloy, rows.classes).key
    section = flask_row(name, fine.section_mm(), rows.flasks)
    high = min(section.flask_high_C + _HOTTER_C, job.investment.never_oven_C, alloy.solidus_C - 60.0)
    low = max(min(section.flask_low_C, high) - _COLDER_C, 20.0)
    melt = melt_row(name, job.plant.method, rows.melts)
    middle = alloy.liquidus_C + (melt.superheat_low_C + melt.superheat_high_C) / 2

    def run(flask_C: float) -> tuple[float, Frozen, Residual]:
        mould_C = _bodies.cooled(figures, job.investment, flask_C, job.plant.kiln_to_pour_s, rows.heat).about_C
        found = thermal(basis, _mould(job, figures), mould_C, middle)
        lost = Residual(f"heat lost in freezing, flask {flask_C:.0f} °C", found.heat_lost, _HEAT_LOST)
        return mould_C, frozen(made, found, pools(made, found, rows), alloy), lost

    with ThreadPoolExecutor(2) as both:
        runs = []
        for n, (flask_C, one) in enumerate([(flask_C, both.submit(run, flask_C)) for flask_C in (low, high)]):
            progress(n / 2, f"pour: freezing with a flask of {flask_C:.0f} °C")
            runs.append(one.result())
    return (
        Window(
            flow=flowing,
            cold=runs[0][1],
            hot=runs[1][1],
            drop=((low, runs[0][0]), (high, runs[1][0])),
            flask=section,
            span=flask_span(name, rows.flasks),
            melt=melt,
        ),
        (runs[0][2], runs[1][2]),
        made,
    )


def _chosen(
    window: Window, usual: tuple[float | None, float | None], flask_C: float | None, melt_C: float | None
) -> tuple[Setting, Setting | None, str]:
    """The setting that is proposed, what the habit gives, and why."""
    best = window.choice()
    habit = None
    if usual != (None, None):
        habit = window.setting(
            usual[0] if usual[0] is not None else best.flask_C, usual[1] if usual[1] is not None else best.melt_C
        )
    plant, flask = window.plant, window.flask
    if flask_C is not None or melt_C is not None:
        given = window.setting(
            flask_C if flask_C is not None else best.flask_C, melt_C if melt_C is not None else best.melt_C
        )
        return given, habit, "As given."
    if best.verdict in (MISRUN, NEAR):
        return best, habit, "No usual setting fills the worst place with heat to spare; this one leaves most."
    return (
        best,
        habit,
        f"The lowest melt and then the coolest flask usual for {flask.section} sections of this metal "
        f"({flask.flask_low_C:.0f} to {flask.flask_high_C:.0f} °C) that stay {plant.flask_spread_C:.0f} and "
        f"{plant.metal_spread_C:.0f} K, your spread, within what is usual and still leave "
        f"{window.heed_percent:.0f} % of the heat at the worst place at the cold end of it: a cooler mould freezes "
        "quicker and with less porosity, and thin parts want a hotter flask before a hotter melt.",
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class _Found:
    """What the final run gives."""

    setting: Setting
    run: Filled
    cut: Pools


def _found(job: _Job, made: Cavity, flowing: Flow, final: Thermal, chosen: Setting) -> _Found:
    """Filling and feeding at the chosen setting, with the times of its own run."""
    run = flowing.fill(final.mould_C, final.melt_C)
    cut = pools(made, final, job.rows)
    mine = frozen(made, final, cut, job.alloy)
    return _Found(
        run=run,
        cut=cut,
        setting=replace(
            chosen,
            fill_s=fill_s(made, run),
            reserve_percent=reserve_percent(made, run),
            frozen_s=mine.frozen_s,
            pore_mm3=mine.pore_mm3,
            niyama=mine.niyama,
        ),
    )


def _figures(job: _Job, made: Cavity, flowing: Flow, final: Thermal, found: _Found) -> PourFigures:
    """The figures of the final run; what else the result has is put in by the verb."""
    setting, run, own = found.setting, found.run, made.in_piece
    every = tuple(zones(made, found.cut, job.alloy))
    return PourFigures(
        alloy_class=class_of(job.alloy, job.rows.classes).key,
        method=job.plant.method.value,
        chosen=setting,
        why="",
        habit=None,
        flask_C=setting.flask_C,
        flask_at_pour_C=final.mould_C,
        flask_skin_C=final.mould_C,
        melt_C=setting.melt_C,
        superheat_C=setting.superheat_C,
        drive_kPa=flowing.drive_Pa / 1000.0,
        gas_kPa=float(run.gas_Pa[len(run.gas_Pa) // 10 :].max()) / 1000.0,
        edge_mm=flowing.liquid.edge_mm(flowing.drive_Pa),
        fill_s=setting.fill_s,
        speed_m_s=float(run.flow_m3_s.max()) / flowing.sprue_m2,
        reserve_percent=setting.reserve_percent,
        tightest=tightest(made, run),
        first_frozen_s=float(final.solid_s[own].min()),
        frozen_s=setting.frozen_s,
        sprue_frozen_s=_gates_s(made, final),
        tree_frozen_s=final.end_s,
        cooling_K_s=float(np.median(final.rate_K_s[own])),
        niyama=setting.niyama,
        pores=tuple(z for z in every if z.piece != "sprue"),
        sprue_pores=tuple(z for z in every if z.piece == "sprue"),
        pore_mm3=setting.pore_mm3,
        window=(),
        h_mm=made.h_mm,
        cells=final.cells,
        heat_left_share=final.heat_lost,
        measured=UNMEASURED,
    )


def _shown(
    made: Cavity, final: Thermal, found: _Found, alloy: Alloy, finished: Sequence[Finished]
) -> tuple[tuple[Field, ...], tuple[Voxels, ...]]:
    """What viewers show: at the tree's vertices and those of the finished ring, and in the cells."""
    given: tuple[tuple[str, str, str, Floats, bool], ...] = (
        ("freeze", "Time to freeze", "s", np.where(final.solid_s <= final.end_s, final.solid_s, np.nan), False),
        ("fill", "Time to fill", "s", found.run.time_s, False),
        ("heat-left", "Heat left when the metal comes", "%", 100 * found.run.heat_left, True),
        ("pore-risk", "Shrinkage not fed below", "%", found.cut.unfed * alloy.freezing_shrinkage_percent, False),
        ("niyama", "Niyama figure, to rank only", "K^0.5 s^0.5/mm", final.niyama, True),
    )
    fields: list[Field] = []
    voxels, on_ring = [], []
    for name, title, unit, values, low_is_bad in given:
        seen = made.at_skin(values) if name == "pore-risk" else values
        at = seen[made.of_vertex].astype(np.float64)
        fields.append(Field(name, title, unit, "tree", np.where(np.isfinite(at), at, np.nan), low_is_bad=low_is_bad))
        voxels.append(Voxels(name, title, unit, made.corner_mm, made.h_mm, made.grid(values)))
        if name in _ON_RING:
            on_ring.append((name, title, unit, seen, low_is_bad))
    for one in finished:
        fields += on_finished(made, one, tuple(on_ring))
    return tuple(fields), tuple(voxels)


def _gates_s(made: Cavity, final: Thermal) -> float:
    """When the last gate stops to feed: at each gate the last cell of the sprue's end to stop."""
    return max((float(final.stops_s[near].max()) for near in made.at_gates if near.any()), default=0.0)


def _feeders(made: Cavity, final: Thermal) -> tuple[FeederTimes, ...]:
    """How long each blind feeder lasts, and what it is to feed."""

    def last(cells: NDArray[np.bool_]) -> float:
        return float(final.stops_s[cells].max()) if cells.any() else 0.0

    return tuple(
        FeederTimes(
            piece=lump.feeder.piece,
            place=where(lump.feeder.point_mm),
            at_mm=lump.feeder.point_mm,
            fed_s=last(lump.heavy),
            neck_s=last(lump.neck),
            feeder_s=last(lump.ball),
        )
        for lump in made.feeders
    )


def _at(window: Window, chosen: Setting) -> At:
    """A setting for judging ways, with the cold end of the shop's spread."""
    plant = window.plant
    return At(
        flask_C=chosen.flask_C,
        melt_C=chosen.melt_C,
        mould_C=window.mould_C(chosen.flask_C),
        low_mould_C=window.mould_C(chosen.flask_C - plant.flask_spread_C),
        low_melt_C=max(chosen.melt_C - plant.metal_spread_C, window.alloy.liquidus_C),
    )


def _beside(coarse: Cavity, window: Window, chosen: Setting) -> tuple[Variant, ...]:
    """The ways that the tree names, by filling alone; none where there is only one."""
    ways = coarse.figures.ways
    if len(ways) < 2 or len(coarse.pieces) != 1:
        return ()
    flowing = replace(window.flow, cavity=coarse)
    return by_filling(coarse, flowing, ways, _at(window, chosen))


def judge(
    led: Led,
    pieces: Sequence[TreePiece],
    *,
    flask_C: float,
    melt_C: float,
    h_mm: float,
    alloy: Alloy,
    investment: InvestmentFact,
    plant: CastingPlant,
    rows: PourRows,
    most_GB: float = 1.2,
) -> Variant:
    """A tree at one setting, by filling and by one run of freezing in cells of ``h_mm``."""
    job = _Job(
        alloy=alloy,
        investment=investment,
        plant=plant,
        rows=rows,
        pieces=tuple(pieces),
        perforated=led.perforated,
        most_GB=most_GB,
    )
    found = balls(led.tree, led.figures, job.pieces, _BALLS * h_mm)
    made = cavity(led.tree, led.figures, job.pieces, h_mm, found)
    flowing = flow(made, alloy, investment, plant, rows, perforated=led.perforated)
    mould = _mould(job, led.figures)
    warm, low = (
        _bodies.cooled(led.figures, investment, C, plant.kiln_to_pour_s, rows.heat).about_C
        for C in (flask_C, flask_C - plant.flask_spread_C)
    )
    run = thermal(ground(made, mould, most_GB=most_GB), mould, warm, melt_C)
    if run.heat_lost > _HEAT_LOST:
        raise ComputingFault(f"pour: {led.what}: {run.heat_lost:.2g} of the heat was lost in freezing")
    at = At(
        flask_C=flask_C,
        melt_C=melt_C,
        mould_C=warm,
        low_mould_C=low,
        low_melt_C=max(melt_C - plant.metal_spread_C, alloy.liquidus_C),
    )
    return by_freezing(led.what, led.way, made, flowing, run, at)


def _cautions(alloy: Alloy, investment: InvestmentFact, plant: CastingPlant) -> tuple[str, ...]:
    """Keys of the cautions for the casting card."""
    keys = ["molten-metal", "hot-flask", "glare", "silica-dust", "quench-steam"]
    if alloy.composition.get("Zn", 0.0) > 0:
        keys.append("metal-fume")
    if investment.sulfur_from_C is not None:
        keys.append("sulfur-dioxide")
    own = {Casting.VACUUM: "vacuum", Casting.CENTRIFUGAL: "centrifuge"}
    if plant.method in own:
        keys.append(own[plant.method])
    return tuple(keys)
