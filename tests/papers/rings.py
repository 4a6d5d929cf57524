"""A commission worked through by the real steps, without the slowest, for the papers to be made of."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields, replace
from functools import cache
from importlib.resources import files
from typing import Any

from ringwright import facts as shipped
from ringwright.desk.reading import commission_in, workshop_in
from ringwright.steps import bench, burnout, finger, gems, mark, metal, pattern, piece, price, setting, tree
from ringwright.terms.bench import BenchJob, BenchStone
from ringwright.terms.commission import Commission, State
from ringwright.terms.facts import Facts, used
from ringwright.terms.making import GemsFound, MetalFound
from ringwright.terms.mark import MarkPlace
from ringwright.terms.outcome import Outcome
from ringwright.terms.piece import Piece, room_for
from ringwright.terms.price import PricedStone
from ringwright.terms.tree import TreePiece
from ringwright.terms.workshop import Workshop

STAMP = dt.datetime(2027, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
TODAY = dt.date(2027, 1, 2)

SAPPHIRE = """
[commission]
number = "1-sapphire"
title = "Oval sapphire in four claws"
market = "uk"
currency = "GBP"
due = 2027-03-14

[finger]
size = "M"
system = "uk"

[metal]
alloy = "18k-3n"

[[stone]]
name = "centre"
cut = "oval"
material = "sapphire"
origin = "natural"
treatment = "heat"
length = "7.00 mm"
width = "5.00 mm"
depth = "3.30 mm"
stated_mass = "0.90 ct"
owner = "client"
setting = "claw"

[starter]
shape = "solitaire"
section = "D"
width = "2.2 mm"
thickness = "1.8 mm"

[mark]
sponsor = "TB"
text = "K to M"

[price]
budget = "1900"
compare = ["pt950-ru", "9k-yellow"]
"""


@dataclass(frozen=True, kw_only=True)
class Some:
    """As much of a making as a test wants: any step may be absent."""

    commission: Commission
    workshop: Workshop
    facts: Facts | None = None
    ring: Piece | None = None
    finger: Outcome[Any] | None = None
    gems: Outcome[Any] | None = None
    metal: Outcome[Any] | None = None
    piece: Outcome[Any] | None = None
    setting: Outcome[Any] | None = None
    wear: Outcome[Any] | None = None
    pattern: Outcome[Any] | None = None
    tree: Outcome[Any] | None = None
    burnout: Outcome[Any] | None = None
    pour: Outcome[Any] | None = None
    bench: Outcome[Any] | None = None
    mark: Outcome[Any] | None = None
    price: Outcome[Any] | None = None

    def without(self, *steps: str) -> Some:
        return replace(self, **dict.fromkeys(steps))

    def only(self, *steps: str) -> Some:
        keep = {"commission", "workshop", "facts", *steps}
        return self.without(*(field.name for field in fields(self) if field.name not in keep))


@cache
def sapphire() -> Some:
    return worked(SAPPHIRE)


@cache
def workshop() -> Workshop:
    return workshop_in((files("ringwright.desk") / "demo" / "workshop.toml").read_text("utf-8"), "workshop.toml")


def worked(text: str) -> Some:
    """The steps in the order of the work."""
    facts, shop = shipped.load(), workshop()
    order = commission_in(text, "test.commission.toml")
    assert order.starter is not None
    sizes = finger.rows_of(facts)
    alloys = metal.with_own(facts.alloys, shop.alloy)
    investment = used(facts.investments, shop.habits.investment)
    flask_C = used(facts.burnout_heat, "usual flask").flask_C or 0.0

    fit = finger.fit(order.finger, order.finger.band_width_mm or order.starter.width_mm, sizes)
    stones = [
        gems.cut(
            s, facts.cuts, facts.gem_materials, facts.gem_treatments, facts.weight_rules, facts.girdle_words,
            facts.girdle_factors, facts.cut_risks,
        )
        for s in order.stone
    ]  # fmt: skip
    resolving = {
        "heats": facts.element_heats, "rules": facts.metal_rules, "limits": facts.metal_limits,
        "hardening_classes": facts.hardening_classes, "hardness_terms": facts.hardness_terms, "market": "uk",
    }  # fmt: skip
    alloy = metal.resolve(order.metal.alloy, alloys, facts.elements, **resolving)
    beside = [metal.resolve(k, alloys, facts.elements, **resolving, casting=False).result for k in order.price.compare]
    inner = fit.result.inner_diameter_mm.value
    room = room_for(gems.shape(order.stone[0], facts.cuts, facts.cut_risks)) if order.stone else None
    drawn = piece.starter(order.starter, inner, facts.starter_proportions, inside=order.finger.inside, stone=room)
    ring, figures = piece.measure(
        drawn, (alloy.result, *beside), facts.piece_limits, ordered_diameter_mm=inner, state=State.FINISHED
    )
    judged = setting.judge(
        ring,
        [
            (brief, gem.result, gems.shape(brief, facts.cuts, facts.cut_risks))
            for brief, gem in zip(order.stone, stones, strict=True)
        ],
        alloy.result, facts.wall_limits, facts.setting_limits, facts.setting_practice,
        stock_mm=shop.habits.polish_stock_mm + shop.habits.filing_stock_mm,
    )  # fmt: skip
    prepared = pattern.prepare(
        ring.metal, hole_diameter_mm=ring.hole.diameter_mm, state=State.FINISHED, alloy=alloy.result,
        investment=investment, flask_C=flask_C, habits=shop.habits, printers=shop.printer, resins=facts.resins,
        contraction=facts.contraction, stock=facts.stock, rules=used(facts.print_rules, "resin printer"),
        size_step_mm=finger.size_mm(finger.system_of("uk", sizes)), ordered_inner_diameter_mm=inner,
    )  # fmt: skip
    grown = tree.build(
        [
            TreePiece(
                name="ring", pattern=prepared.bodies[0].mesh, hole_diameter_mm=prepared.result.set_inner_diameter_mm,
                stones=tuple(body.mesh for body in judged.bodies),
            )
        ],
        alloy=alloy.result, investment=investment, melt_C=alloy.result.liquidus_C + 60, habits=shop.habits,
        flasks=shop.flask, crucibles=shop.crucible, casting=shop.casting.method, rules=facts.sprue_rules,
        clearances=facts.flask_clearances, losses=facts.casting_losses, crucible_rules=facts.crucible_rules,
        powder_rules=facts.powder_rules,
    )  # fmt: skip
    recipe = metal.recipe(
        alloy.result, grown.result.charge_g, elements=facts.elements, fine=facts.fine_metals,
        rules=facts.metal_rules, limits=facts.metal_limits, lots=shop.stock, prices=shop.fine_price,
        weighing_step_g=shop.habits.weighing_step_g, new_metal_percent=shop.habits.new_metal_percent,
        commission=order.commission.number, market="uk",
    )  # fmt: skip
    fired = burnout.programme(
        diameter_mm=grown.result.flask_diameter_mm, height_mm=grown.result.flask_height_mm,
        pattern=used(facts.resins, prepared.result.material), investment=investment, flask_C=flask_C,
        needs=facts.burnout_needs, ramps=facts.burnout_ramps, reactions=facts.mould_reactions,
        heat=facts.burnout_heat, schedules=facts.burnout_schedules, kiln=shop.kiln[0],
    )  # fmt: skip
    planned = bench.plan(
        job=BenchJob(
            stones=tuple(
                BenchStone(
                    name=b.name, material=g.result.material, setting=b.setting, setting_risk=g.result.setting_risk,
                    torch=g.result.torch, ultrasonic=g.result.ultrasonic, steam=g.result.steam,
                    pickle=g.result.pickle, cautions=g.result.cautions,
                )
                for b, g in zip(order.stone, stones, strict=True)
            ),
            area_cm2=figures.result.area_mm2 / 100, drawn=False, letters=len(order.mark.text.replace(" ", "")),
            marked=False, assayed=True, flask_height_mm=grown.result.flask_height_mm,
            print_h=prepared.result.print_h or 0.0, set_h=investment.set_h, burnout_h=fired.result.total_h,
            assay_days=5,
        ),
        alloy=alloy.result, tasks=facts.bench_tasks, quenches=facts.quench, rules=facts.bench_rules,
        bench_hours_per_day=6, hours=shop.hours,
    )  # fmt: skip
    marked = mark.marking(
        order.mark, "uk", alloy.result.metal, alloy.result.fineness_permille, prepared.result.finished_mass_g,
        MarkPlace(inner_diameter_mm=inner, band_width_mm=ring.band_width_mm, wall_mm=ring.band_thickness_mm),
        mark.rows_of(facts),
    )  # fmt: skip
    offered = price.quote(
        alloy=alloy.result, mass_g=prepared.result.finished_mass_g, cast_g=prepared.result.cast_mass_g.value,
        charge_g=grown.result.charge_g, bench_h=planned.result.bench_h, setting_h=planned.result.setting_h,
        stones=[PricedStone(name=s.name, material=s.material, owner=s.owner, cost=s.cost) for s in order.stone],
        shop=shop.shop, habits=shop.habits, fine_prices=shop.fine_price, currency="GBP", currencies=facts.currencies,
        practice=facts.price_practice, offered_on=TODAY, compare=beside, assayed=True,
        budget=order.price.budget,
    )  # fmt: skip
    together = Outcome(
        "gems", GemsFound(stones=tuple(s.result for s in stones)), tuple(r for s in stones for r in s.remarks),
        tuple(body for s in stones for body in s.bodies),
    )  # fmt: skip
    return Some(
        commission=order, workshop=shop, facts=facts, ring=ring, finger=fit, gems=together,
        metal=Outcome("metal", MetalFound(alloy=alloy.result, recipe=recipe.result), alloy.remarks + recipe.remarks),
        piece=figures, setting=judged, pattern=prepared, tree=grown, burnout=fired, bench=planned,
        mark=marked, price=offered,
    )  # fmt: skip
