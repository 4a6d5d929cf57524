"""One ring, from top to bottom.

This module reads like the job: each step is asked in the order of the work, is handed exactly what it takes, and
what one step proposes another judges. It is the only place that knows the order and the loops between steps.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np

from ringwright.steps import bench, burnout, finger, gems, mark, metal, pattern, piece, pour, price, setting, tree, wear
from ringwright.terms.alloy import Alloy
from ringwright.terms.bench import BenchJob, BenchStone
from ringwright.terms.body import Mesh, Role
from ringwright.terms.commission import Commission, FingerBrief, Setting, State
from ringwright.terms.facts import Facts, used
from ringwright.terms.finger import SizeRows
from ringwright.terms.gems import CutSolid, Gem
from ringwright.terms.making import GemsFound, Making, MetalFound
from ringwright.terms.mark import MarkPlace
from ringwright.terms.mistake import BadInput, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.piece import Drawn, Piece, StoneRoom
from ringwright.terms.pour import NotPoured, PourFigures
from ringwright.terms.price import PricedStone
from ringwright.terms.progress import Keep, Progress, anew, part_of, silent
from ringwright.terms.remark import Level, Point, Remark
from ringwright.terms.setting import SettingFigures
from ringwright.terms.tree import TreeFigures, TreePiece
from ringwright.terms.workshop import Kiln, Workshop

_FLASK_STEP_C = 2.5
"""A kiln is not set more finely than this, so a proposal that is nearer needs no other programme."""


def work(
    commission: Commission,
    workshop: Workshop,
    facts: Facts,
    *,
    today: dt.date,
    model: bytes | None = None,
    keep: Keep = anew,
    progress: Progress = silent,
) -> Making:
    """Work one commission through.

    ``model`` are the bytes of the model file, where the commission names one; ``today`` is the day of the offer.
    Raises :class:`BadInput` for what the files say wrongly, :class:`ComputingFault` where a solver fails, and
    whatever ``progress`` raises to stop.
    """
    market = commission.commission.market
    sizes = finger.rows_of(facts)
    alloys = metal.with_own(facts.alloys, workshop.alloy)
    investment = used(facts.investments, workshop.habits.investment, "investment")
    flask_C = _flask_C(workshop, facts)

    progress(0.00, "finger: sizes and allowances")
    fit = keep("finger", finger.fit, commission.finger, _width_asked(commission), sizes)

    progress(0.02, "gems: the stones as solids")
    stones = tuple(keep("gems", gems.cut, stone, *_gem_tables(facts)) for stone in commission.stone)
    solids = tuple(gems.shape(stone, facts.cuts, facts.cut_risks) for stone in commission.stone)

    progress(0.06, "metal: the alloy and its figures")
    alloy = keep("metal", _resolving(facts, market), commission.metal.alloy, alloys, facts.elements)
    beside = tuple(
        keep("metal", _resolving(facts, market, casting=False), key, alloys, facts.elements).result
        for key in _beside(commission)
    )

    progress(0.08, "piece: the model, its hole and its mass")
    drawn = _drawn(commission, facts, fit.result.inner_diameter_mm.value, solids, model, keep)
    state = commission.model.state if commission.model else State.FINISHED
    seats = tuple(stone.seat for stone in commission.stone if stone.seat is not None)
    ring, measured = keep(
        "piece",
        partial(piece.measure, state=state, seats=seats),
        drawn,
        (alloy.result, *beside),
        facts.piece_limits,
    )
    if _width_asked(commission) is None:
        # Only the drawing knows how wide the band is, and a wide one needs a larger hole: ask the finger again.
        fit = keep("finger", finger.fit, commission.finger, round(ring.band_width_mm, 2), sizes)
    figures = piece.compare(ring, measured, facts.piece_limits, fit.result.inner_diameter_mm.value)

    progress(0.20, "setting: walls, stones in place, whether they are held")
    judged = keep(
        "setting",
        partial(
            setting.judge,
            stock_mm=workshop.habits.polish_stock_mm + workshop.habits.filing_stock_mm,
            progress=part_of(progress, 0.20, 0.30),
        ),
        ring,
        tuple(zip(commission.stone, (gem.result for gem in stones), solids, strict=True)),
        alloy.result,
        facts.wall_limits,
        facts.setting_limits,
        facts.setting_practice,
    )

    progress(0.30, "wear: strength on a hand")
    worn = keep(
        "wear",
        partial(wear.live, progress=part_of(progress, 0.30, 0.50)),
        ring,
        figures.result,
        alloy.result,
        _stones_placed(judged, stones),
        _claw_tips(judged),
        facts.load_cases,
        facts.wear_limits,
    )

    progress(0.50, "pattern: back from the ring to the pattern")
    prepared = keep(
        "pattern",
        partial(
            pattern.prepare,
            hole_diameter_mm=ring.hole.diameter_mm,
            state=state,
            alloy=alloy.result,
            investment=investment,
            flask_C=flask_C,
            habits=workshop.habits,
            printers=workshop.printer,
            resins=facts.resins,
            contraction=facts.contraction,
            stock=facts.stock,
            rules=used(facts.print_rules, "resin printer", "print rule"),
            size_step_mm=_size_step_mm(commission.finger, sizes),
            ordered_inner_diameter_mm=fit.result.inner_diameter_mm.value,
            progress=part_of(progress, 0.50, 0.65),
        ),
        ring.metal,
    )

    progress(0.65, "tree: gates, sprue, flask, powder and charge")
    on_tree = _on_the_tree(commission, ring, judged, prepared)
    grown = keep(
        "tree",
        partial(
            tree.build,
            alloy=alloy.result,
            investment=investment,
            melt_C=_melt_C(workshop, facts, alloy.result),
            habits=workshop.habits,
            flasks=workshop.flask,
            crucibles=workshop.crucible,
            casting=workshop.casting.method,
            rules=facts.sprue_rules,
            clearances=facts.flask_clearances,
            losses=facts.casting_losses,
            crucible_rules=facts.crucible_rules,
            powder_rules=facts.powder_rules,
            flask=commission.tree.flask,
            progress=part_of(progress, 0.65, 0.74),
        ),
        (on_tree,),
    )
    recipe = keep(
        "metal",
        partial(
            metal.recipe,
            elements=facts.elements,
            fine=facts.fine_metals,
            rules=facts.metal_rules,
            limits=facts.metal_limits,
            lots=workshop.stock,
            prices=workshop.fine_price,
            weighing_step_g=workshop.habits.weighing_step_g,
            new_metal_percent=workshop.habits.new_metal_percent,
            at_least_g=commission.metal.own_g,
            commission=commission.commission.number,
            market=market,
        ),
        alloy.result,
        grown.result.charge_g,
    )

    progress(0.75, "burnout: the kiln's programme")
    fire = partial(
        burnout.programme,
        diameter_mm=grown.result.flask_diameter_mm,
        height_mm=grown.result.flask_height_mm,
        pattern=used(facts.resins, prepared.result.material, "pattern material"),
        investment=investment,
        needs=facts.burnout_needs,
        ramps=facts.burnout_ramps,
        reactions=facts.mould_reactions,
        heat=facts.burnout_heat,
        schedules=facts.burnout_schedules,
        kiln=_kiln(workshop),
        water_per_100=workshop.habits.water_per_100,
    )
    fired = keep("burnout", partial(fire, flask_C=flask_C, progress=part_of(progress, 0.75, 0.78)))

    progress(0.78, "pour: whether it fills and freezes sound")
    poured = keep(
        "pour",
        partial(
            _poured,
            alloy=alloy.result,
            investment=investment,
            plant=workshop.casting,
            habits=workshop.habits,
            rows=pour.rows_of(facts),
            perforated=_perforated(workshop, grown.result.flask),
            progress=part_of(progress, 0.78, 0.90),
        ),
        grown.body("tree").mesh,
        grown.result,
        (on_tree,),
    )
    if isinstance(poured.result, PourFigures) and abs(poured.result.flask_C - flask_C) > _FLASK_STEP_C:
        # The pour proposes another flask temperature than is usual: the last hold must be at that one.
        fired = keep("burnout", partial(fire, flask_C=poured.result.flask_C))

    progress(0.90, "bench: the hands' work in order")
    assayed = mark.struck_by_office(market, mark.rows_of(facts))
    planned = keep(
        "bench",
        partial(
            bench.plan,
            job=BenchJob(
                stones=_on_the_bench(commission, stones),
                area_cm2=figures.result.area_mm2 / 100.0,
                drawn=commission.model is not None,
                pattern="wax" if prepared.result.printer is None else "resin",
                letters=len(commission.mark.text.replace(" ", "")),
                marked=not assayed,
                assayed=assayed,
                flask_height_mm=grown.result.flask_height_mm,
                print_h=prepared.result.print_h or 0.0,
                set_h=investment.set_h,
                burnout_h=fired.result.total_h,
                assay_days=workshop.shop.assay_days,
            ),
            alloy=alloy.result,
            tasks=facts.bench_tasks,
            quenches=facts.quench,
            rules=facts.bench_rules,
            bench_hours_per_day=workshop.shop.bench_hours_per_day,
            hours=workshop.hours,
        ),
    )

    progress(0.93, "mark: what may and must be stamped")
    marked = keep(
        "mark",
        mark.marking,
        commission.mark,
        market,
        alloy.result.metal,
        alloy.result.fineness_permille,
        prepared.result.finished_mass_g,
        MarkPlace(
            inner_diameter_mm=fit.result.inner_diameter_mm.value,
            band_width_mm=ring.band_width_mm,
            wall_mm=ring.band_thickness_mm,
        ),
        mark.rows_of(facts),
    )

    progress(0.96, "price: every part of the offer")
    offered = keep(
        "price",
        partial(
            price.quote,
            alloy=alloy.result,
            mass_g=prepared.result.finished_mass_g,
            cast_g=prepared.result.cast_mass_g.value,
            charge_g=grown.result.charge_g,
            bench_h=planned.result.bench_h,
            setting_h=planned.result.setting_h,
            stones=tuple(
                PricedStone(name=s.name, material=s.material, owner=s.owner, cost=s.cost) for s in commission.stone
            ),
            shop=workshop.shop,
            habits=workshop.habits,
            fine_prices=workshop.fine_price,
            currency=commission.commission.currency,
            currencies=facts.currencies,
            practice=facts.price_practice,
            offered_on=today,
            compare=beside,
            client_fine_g=_own_fine_g(commission, workshop),
            assayed=assayed,
            budget=commission.price.budget,
            deposit_percent=commission.price.deposit_percent,
        ),
    )

    return Making(
        commission=commission,
        workshop=workshop,
        facts=facts,
        ring=ring,
        finger=fit,
        gems=_together(stones),
        metal=Outcome("metal", MetalFound(alloy=alloy.result, recipe=recipe.result), alloy.remarks + recipe.remarks),
        piece=figures,
        setting=judged,
        wear=worn,
        pattern=prepared,
        tree=grown,
        burnout=fired,
        pour=poured,
        bench=planned,
        mark=marked,
        price=offered,
    )


def _width_asked(commission: Commission) -> float | None:
    """The band's width where the brief or a starter says it; else the drawing does."""
    if commission.finger.band_width_mm is not None:
        return commission.finger.band_width_mm
    return commission.starter.width_mm if commission.starter is not None else None


def _gem_tables(facts: Facts) -> tuple[object, ...]:
    """The tables that a stone is judged by, in the order in which ``gems.cut`` takes them."""
    return (
        facts.cuts,
        facts.gem_materials,
        facts.gem_treatments,
        facts.weight_rules,
        facts.girdle_words,
        facts.girdle_factors,
        facts.cut_risks,
    )


def _resolving(facts: Facts, market: str, *, casting: bool = True) -> partial[Outcome[Alloy]]:
    """``metal.resolve`` with its tables; without ``casting`` an alloy of unknown melting range may be weighed."""
    return partial(
        metal.resolve,
        heats=facts.element_heats,
        rules=facts.metal_rules,
        limits=facts.metal_limits,
        hardening_classes=facts.hardening_classes,
        hardness_terms=facts.hardness_terms,
        market=market,
        casting=casting,
    )


def _beside(commission: Commission) -> tuple[str, ...]:
    """The alloys that are quoted beside the chosen one."""
    return tuple(key for key in commission.price.compare if key != commission.metal.alloy)


def _drawn(
    commission: Commission,
    facts: Facts,
    inner_diameter_mm: float,
    solids: Sequence[CutSolid],
    model: bytes | None,
    keep: Keep,
) -> Drawn:
    """The model that was given, or the starter shape that stands in for it."""
    if commission.model is not None:
        if model is None:
            raise bad("model.file", "the model was not read", "name a file beside the commission")
        suffix = f".{commission.model.file.rpartition('.')[2].lower()}"
        return keep(
            "piece", piece.read, model, suffix, commission.model.units, commission.model.file, facts.piece_limits
        )
    if commission.starter is None:
        raise bad(
            "model", "neither a model nor a starter shape", 'write [model] file = "…" or [starter] shape = "band"'
        )
    main = solids[0] if solids else None
    room = None if main is None else _room(main)
    return keep(
        "piece",
        partial(piece.starter, inside=commission.finger.inside, stone=room),
        commission.starter,
        inner_diameter_mm,
        facts.starter_proportions,
    )


def _room(solid: CutSolid) -> StoneRoom:
    """What a starter's head must know of the stone."""
    return StoneRoom(
        name=solid.name,
        outline_mm=tuple((float(x), float(y)) for x, y in solid.outline_mm),
        crown_mm=solid.crown_height_mm,
        girdle_mm=solid.girdle_thickest_mm,
        pavilion_mm=solid.pavilion_depth_mm,
    )


def _stones_placed(judged: Outcome[SettingFigures], stones: Sequence[Outcome[Gem]]) -> tuple[tuple[float, Point], ...]:
    """Mass in g and centre of each stone that has found its place, in the ring's frame."""
    mass_g = {stone.result.name: stone.result.mass_ct.value / 5.0 for stone in stones}
    return tuple((mass_g[stone.name], stone.centre_mm) for stone in judged.result.stones)


def _claw_tips(judged: Outcome[SettingFigures]) -> tuple[Point, ...]:
    """The tips that cloth can catch."""
    return tuple(claw.tip_mm for stone in judged.result.stones if stone.setting is Setting.CLAW for claw in stone.claws)


def _together(stones: Sequence[Outcome[Gem]]) -> Outcome[GemsFound]:
    """All stones as one outcome."""
    return Outcome(
        "gems",
        GemsFound(stones=tuple(stone.result for stone in stones)),
        tuple(remark for stone in stones for remark in stone.remarks),
        tuple(body for stone in stones for body in stone.bodies),
    )


def _on_the_tree(
    commission: Commission, ring: Piece, judged: Outcome[SettingFigures], prepared: Outcome[PatternFigures]
) -> TreePiece:
    """The pattern as it goes on the tree; the maker's own gates and the stones grow with it."""
    scale = prepared.result.scale_percent / 100.0
    gates = ring.placement.to_ring(np.array(commission.tree.gates_mm).reshape(-1, 3)) * scale
    return TreePiece(
        name=commission.commission.number,
        pattern=prepared.body("pattern").mesh,
        hole_diameter_mm=prepared.result.set_inner_diameter_mm,
        stones=tuple(body.mesh.scaled(scale) for body in judged.bodies if body.role is Role.STONE),
        gates_mm=tuple((float(x), float(y), float(z)) for x, y, z in gates),
    )


def _poured(tree_mesh: Mesh, figures: TreeFigures, pieces: tuple[TreePiece, ...], **how: Any) -> Outcome[Any]:
    """The pour; where the metal cannot be poured as asked the making goes on, and the step says why and halts."""
    try:
        return pour.cast(tree_mesh, figures, pieces, **how)
    except BadInput as fault:
        return Outcome(
            "pour",
            NotPoured(why="; ".join(mistake.what for mistake in fault.mistakes)),
            tuple(
                Remark(
                    "pour", Level.HALT, "cannot-be-poured", f"{m.where}: {m.what}", change=m.right or "see the figure"
                )
                for m in fault.mistakes
            ),
        )


def _perforated(workshop: Workshop, name: str | None) -> bool:
    """Whether the chosen flask's wall is perforated."""
    return any(flask.perforated for flask in workshop.flask if flask.name == name)


def _melt_C(workshop: Workshop, facts: Facts, alloy: Alloy) -> float:
    """The temperature of the melt: the shop's habit above the liquidus, or the middle of what its casting takes."""
    if workshop.habits.superheat_C is not None:
        return alloy.liquidus_C + workshop.habits.superheat_C
    usual = used(facts.melt_temperatures, f"any/{workshop.casting.method.value}", "melt temperature")
    return alloy.liquidus_C + (usual.superheat_low_C + usual.superheat_high_C) / 2.0


def _flask_C(workshop: Workshop, facts: Facts) -> float:
    """The flask's temperature at the pour: the shop's habit, or what is usual."""
    if workshop.habits.flask_C is not None:
        return workshop.habits.flask_C
    usual = used(facts.burnout_heat, "usual flask").flask_C
    assert usual is not None
    return usual


def _size_step_mm(brief: FingerBrief, sizes: SizeRows) -> float:
    """One size of the client's system, on the inner circumference."""
    return finger.size_mm(finger.system_of(brief.system or "iso", sizes))


def _kiln(workshop: Workshop) -> Kiln | None:
    """The shop's kiln; of several the first."""
    return workshop.kiln[0] if workshop.kiln else None


def _on_the_bench(commission: Commission, stones: Sequence[Outcome[Gem]]) -> tuple[BenchStone, ...]:
    """The stones as the bench must know them."""
    return tuple(
        BenchStone(
            name=brief.name,
            material=gem.result.material,
            setting=brief.setting,
            setting_risk=max(1, min(5, gem.result.setting_risk)),
            torch=gem.result.torch,
            ultrasonic=gem.result.ultrasonic,
            steam=gem.result.steam,
            pickle=gem.result.pickle,
            cautions=gem.result.cautions,
        )
        for brief, gem in zip(commission.stone, stones, strict=True)
    )


def _own_fine_g(commission: Commission, workshop: Workshop) -> dict[str, float]:
    """Fine metal, by element, in what the client brings."""
    fine: dict[str, float] = {}
    lots = {lot.name: lot for lot in workshop.stock}
    for name, mass_g in commission.metal.own_g.items():
        for element, permille in lots[name].composition.items() if name in lots else ():
            fine[element] = fine.get(element, 0.0) + mass_g * permille / 1000.0
    return fine
