"""The pour: filling and feeding of one setting, and the whole search of flask and melt."""

from __future__ import annotations

import time
from collections.abc import Iterator
from functools import cache
from typing import Any

from benchmarks import Bar, Measured, benchmark, median_s

_RUNS = 3


@cache
def _tree() -> tuple[Any, ...]:
    """A ring with a stone from the starter shapes, its tree, and all that a pour takes."""
    from ringwright.facts import load
    from ringwright.steps import metal, piece, pour, tree
    from ringwright.terms.commission import StarterBrief
    from ringwright.terms.facts import used
    from ringwright.terms.tree import TreePiece
    from ringwright.terms.workshop import Casting, CastingPlant, Crucible, Flask, Habits

    facts = load()
    alloy = metal.resolve(
        "18k-3n",
        facts.alloys,
        facts.elements,
        heats=facts.element_heats,
        rules=facts.metal_rules,
        limits=facts.metal_limits,
        hardening_classes=facts.hardening_classes,
        hardness_terms=facts.hardness_terms,
    ).result
    investment = used(facts.investments, "gypsum", "investment")
    drawn = piece.starter(StarterBrief(shape="signet", width_mm=4.0), 17.3, facts.starter_proportions)
    ring, _ = piece.measure(drawn, (alloy,), facts.piece_limits)
    one = TreePiece(name="ring", pattern=ring.metal, hole_diameter_mm=ring.hole.diameter_mm)
    how: dict[str, Any] = {
        "alloy": alloy,
        "investment": investment,
        "melt_C": alloy.liquidus_C + 80.0,
        "habits": Habits(flask_C=540.0, superheat_C=80.0),
        "flasks": (
            Flask(name="small", diameter_mm=51, height_mm=64),
            Flask(name="large", diameter_mm=64, height_mm=76),
            Flask(name="wide", diameter_mm=89, height_mm=76),
        ),
        "crucibles": (Crucible(name="big", capacity_cm3=12.0),),
        "casting": Casting.VACUUM,
        "rules": facts.sprue_rules,
        "clearances": facts.flask_clearances,
        "losses": facts.casting_losses,
        "crucible_rules": facts.crucible_rules,
        "powder_rules": facts.powder_rules,
    }
    grown = tree.build([one], **how)
    given = {
        "alloy": alloy,
        "investment": investment,
        "plant": CastingPlant(),
        "habits": how["habits"],
        "rows": pour.rows_of(facts),
    }
    return grown, (one,), given, how


@benchmark(Bar("fill-and-feed", "s", 2.0))
def filling_and_feeding() -> Iterator[Measured]:
    """Cells, paths, one filling and one sweep of feeding, with times of freezing that are given."""
    import numpy as np

    from ringwright.steps.pour._cavity import cavity
    from ringwright.steps.pour._pass import flow, pools
    from ringwright.steps.pour._thermal import Thermal

    grown, pieces, given, _ = _tree()
    mesh, figures = grown.body("tree").mesh, grown.result
    count = 0

    def work() -> None:
        nonlocal count
        made = cavity(mesh, figures, pieces, 0.3)
        count = made.network.count
        flowing = flow(made, given["alloy"], given["investment"], given["plant"], given["rows"], perforated=False)
        flowing.fill(520.0, 975.0)
        slow = made.wall_mm**2 * (1 + 0.1 * np.sin(made.network.centre_mm.sum(axis=1)))
        times = Thermal(
            mould_C=520,
            melt_C=975,
            begins_s=0.3 * slow,
            stops_s=0.8 * slow,
            solid_s=slow,
            rate_K_s=30 / slow,
            gradient_K_mm=1 / slow,
            end_s=float(slow.max()),
            heat_lost=0.0,
            cells=0,
            h_mm=0.3,
        )
        pools(made, times, given["rows"])

    seconds = median_s(work, _RUNS)
    how = (
        f"median of {_RUNS}: tree of a signet ring, {count} cells of 0.3 mm, walls and paths, one filling, one feeding"
    )
    yield Measured("fill-and-feed", seconds, how)


@benchmark(Bar("pour-search", "s", 60.0))
def search() -> Iterator[Measured]:
    """The whole search: gates, sprue's section and length by freezing, then flask and melt with the finest run."""
    from ringwright.making._leading import search as led
    from ringwright.steps import pour

    grown, pieces, given, how = _tree()
    found: list[Any] = []

    def work() -> None:
        searched = led(grown, pieces, how, given, how["flasks"])
        best = searched.grown
        told: dict[str, Any] = {"variants": searched.variants, "led_why": searched.why, "thorough": True}
        found.append(pour.cast(best.body("tree").mesh, best.result, pieces, **told, **given).result)

    work()
    start, began = time.perf_counter(), time.process_time()
    work()
    seconds, cpu = time.perf_counter() - start, time.process_time() - began
    last = found[-1]
    how_long = (
        f"one run, compiled ({cpu:.0f} s of processor): signet ring, {len(last.variants)} trees built and judged by "
        f"freezing (gates, sprue's section and length, the shop's habit), {len(last.window)} settings of flask and "
        f"melt, the last run with cells of {last.h_mm:.2f} mm"
    )
    yield Measured("pour-search", seconds, how_long)
