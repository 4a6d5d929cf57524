"""One ring, from top to bottom.

This module reads like the job: each step is asked in the order of the work, is handed exactly what it takes, and
what one step proposes another judges. It is the only place that knows the order and the loops between steps.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from ringwright.making import _handed as handed
from ringwright.making._aside import Told, in_a_thread
from ringwright.making._leading import lead
from ringwright.steps import bench, burnout, finger, gems, mark, metal, pattern, piece, price, setting, tree, wear
from ringwright.terms.bench import BenchJob
from ringwright.terms.burnout import Programme
from ringwright.terms.commission import Commission, State
from ringwright.terms.facts import Facts, used
from ringwright.terms.making import Making, MetalFound
from ringwright.terms.mark import MarkPlace
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import PourFigures, ThermocoupleLog
from ringwright.terms.price import PricedStone
from ringwright.terms.progress import Aside, Keep, Progress, anew, part_of, silent
from ringwright.terms.setting import SettingFigures
from ringwright.terms.workshop import Workshop

_FLASK_STEP_C = 2.5
"""A kiln is not set more finely than this, so a proposal that is nearer needs no other programme."""


def work(
    commission: Commission,
    workshop: Workshop,
    facts: Facts,
    *,
    today: dt.date,
    model: bytes | None = None,
    logs: Sequence[ThermocoupleLog] = (),
    thorough: bool = False,
    keep: Keep = anew,
    progress: Progress = silent,
    aside: Aside | None = None,
) -> Making:
    """Work one commission through.

    ``model`` are the bytes of the model file, where the commission names one; ``today`` is the day of the offer.
    ``logs`` are the shop's own thermocouple logs of this ring, in the coordinates of the model. With ``thorough``, or
    where the commission asks for it, the way of leading the metal in is searched by freezing and the pour is reckoned
    finer; without it the tree is that of the rules, and other ways are set beside it by filling alone.
    ``aside`` says where the steps are worked that little waits for (None: in a thread).
    Raises :class:`BadInput` for what the files say wrongly, :class:`ComputingFault` where a solver fails, and
    whatever ``progress`` raises to stop.
    """
    told = progress = Told(progress)
    market = commission.commission.market
    sizes = finger.rows_of(facts)
    alloys = metal.with_own(facts.alloys, workshop.alloy)
    investment = used(facts.investments, workshop.habits.investment, "investment")
    flask_C = handed.flask_C(workshop, facts)

    progress(0.00, "finger: sizes and allowances")
    fit = keep("finger", finger.fit, commission.finger, handed.width_asked(commission), sizes)

    progress(0.02, "gems: the stones as solids")
    stones = tuple(keep("gems", gems.cut, stone, *handed.gem_tables(facts)) for stone in commission.stone)
    solids = tuple(gems.shape(stone, facts.cuts, facts.cut_risks) for stone in commission.stone)

    progress(0.06, "metal: the alloy and its figures")
    alloy = keep("metal", handed.resolving(facts, market), commission.metal.alloy, alloys, facts.elements)
    beside = tuple(
        keep("metal", handed.resolving(facts, market, casting=False), key, alloys, facts.elements).result
        for key in handed.beside(commission)
    )

    progress(0.08, "piece: the model, its hole and its mass")
    drawn = handed.drawn(commission, facts, fit.result.inner_diameter_mm.value, solids, model, keep)
    state = commission.model.state if commission.model else State.FINISHED
    seats = tuple(stone.seat for stone in commission.stone if stone.seat is not None)
    ring, measured = keep(
        "piece",
        partial(piece.measure, state=state, seats=seats),
        drawn,
        (alloy.result, *beside),
        facts.piece_limits,
    )
    if handed.width_asked(commission) is None:
        # Only the drawing knows how wide the band is, and a wide one needs a larger hole: ask the finger again.
        fit = keep("finger", finger.fit, commission.finger, round(ring.band_width_mm, 2), sizes)
    figures = piece.compare(ring, measured, facts.piece_limits, fit.result.inner_diameter_mm.value)

    def judged_and_worn() -> Iterator[Outcome[Any]]:
        judged = keep(
            "setting",
            partial(
                setting.judge,
                stock_mm=workshop.habits.polish_stock_mm + workshop.habits.filing_stock_mm,
                progress=told.quiet,
            ),
            ring,
            tuple(zip(commission.stone, (gem.result for gem in stones), solids, strict=True)),
            alloy.result,
            facts.wall_limits,
            facts.setting_limits,
            facts.setting_practice,
        )
        yield judged
        yield keep(
            "wear",
            partial(wear.live, progress=told.quiet),
            ring,
            figures.result,
            alloy.result,
            handed.stones_placed(judged, stones),
            handed.claw_tips(judged),
            facts.load_cases,
            facts.wear_limits,
        )

    progress(0.20, "setting and wear: walls, stones and strength, beside the mould")
    # The mould hardly waits for them, and they take longest: they are worked on the other core.
    meanwhile = (aside or in_a_thread)(judged_and_worn)

    progress(0.21, "pattern: back from the ring to the pattern")
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
            size_step_mm=handed.size_step_mm(commission.finger, sizes),
            ordered_inner_diameter_mm=fit.result.inner_diameter_mm.value,
            progress=part_of(progress, 0.21, 0.42),
        ),
        ring.metal,
    )

    progress(0.42, "setting: walls, stones in place, whether they are held")
    judged: Outcome[SettingFigures] = meanwhile.next()
    prepared = pattern.with_wall(prepared, handed.thinnest_wall(judged), workshop.habits)

    progress(0.50, "tree: gates, sprue, flask, powder and charge")
    on_tree = handed.on_the_tree(commission, ring, judged, prepared)
    how = handed.tree_how(commission, workshop, facts, alloy.result, investment)
    grown = keep("tree", partial(tree.build, **how, progress=part_of(progress, 0.50, 0.52)), (on_tree,))
    # With a thorough search the tree proposes ways, the pour judges them, and what follows is of the best of them.
    grown, search = lead(
        keep,
        grown,
        (on_tree,),
        how,
        handed.pour_how(workshop, facts, alloy.result, investment),
        workshop.flask,
        thorough=thorough or commission.tree.search == "thorough",
        progress=part_of(progress, 0.52, 0.58),
    )

    def weighed() -> Iterator[Outcome[Any]]:
        yield keep(
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

    # Nothing waits for the recipe, and its programme in whole steps of the balance loads a solver: beside the pour.
    in_the_pan = (aside or in_a_thread)(weighed)

    def fire(pour_C: float) -> Outcome[Programme]:
        return keep(
            "burnout",
            partial(
                burnout.programme,
                diameter_mm=grown.result.flask_diameter_mm,
                height_mm=grown.result.flask_height_mm,
                pattern=used(facts.resins, prepared.result.material, "pattern material"),
                investment=investment,
                flask_C=pour_C,
                needs=facts.burnout_needs,
                ramps=facts.burnout_ramps,
                reactions=facts.mould_reactions,
                heat=facts.burnout_heat,
                schedules=facts.burnout_schedules,
                kiln=handed.kiln(workshop),
                water_per_100=workshop.habits.water_per_100,
                progress=part_of(progress, 0.84, 0.90),
            ),
        )

    progress(0.58, "pour: whether it fills and freezes sound")
    poured = keep(
        "pour",
        partial(
            handed.poured,
            **handed.pour_how(workshop, facts, alloy.result, investment),
            **search,
            perforated=handed.perforated(workshop, grown.result.flask),
            logs=handed.logs_on(ring, prepared, logs),
            finished=(handed.finished(ring, prepared, on_tree),),
            progress=part_of(progress, 0.58, 0.84),
        ),
        grown.body("tree").mesh,
        grown.result,
        (on_tree,),
    )
    if isinstance(poured.result, PourFigures) and abs(poured.result.flask_C - flask_C) > _FLASK_STEP_C:
        # The pour proposes another flask temperature than is usual: the last hold must be at that one.
        flask_C = poured.result.flask_C
    progress(0.84, "burnout: the kiln's programme")
    fired = fire(flask_C)

    progress(0.90, "bench: the hands' work in order")
    assayed = mark.struck_by_office(market, mark.rows_of(facts))
    planned = keep(
        "bench",
        partial(
            bench.plan,
            job=BenchJob(
                stones=handed.on_the_bench(commission, stones),
                area_cm2=figures.result.area_mm2 / 100.0,
                drawn=commission.model is not None,
                pattern="wax" if prepared.result.printer is None else "resin",
                letters=len(commission.mark.text.replace(" ", "")),
                feeders=len(grown.result.feeders),
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
            client_fine_g=handed.own_fine_g(commission, workshop),
            assayed=assayed,
            budget=commission.price.budget,
            deposit_percent=commission.price.deposit_percent,
        ),
    )

    progress(0.98, "wear: waiting for the strength")
    recipe = in_the_pan.next()
    return Making(
        commission=commission,
        workshop=workshop,
        facts=facts,
        ring=ring,
        finger=fit,
        gems=handed.together(stones),
        metal=Outcome("metal", MetalFound(alloy=alloy.result, recipe=recipe.result), alloy.remarks + recipe.remarks),
        piece=figures,
        setting=judged,
        wear=meanwhile.next(),
        pattern=prepared,
        tree=grown,
        burnout=fired,
        pour=poured,
        bench=planned,
        mark=marked,
        price=offered,
    )
