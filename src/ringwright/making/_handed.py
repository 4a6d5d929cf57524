"""What is handed from step to step: nothing of the trade, only the right thing under the right name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from ringwright.steps import finger, metal, piece, pour
from ringwright.terms.alloy import Alloy
from ringwright.terms.bench import BenchStone
from ringwright.terms.body import Mesh, Role
from ringwright.terms.commission import Commission, FingerBrief, Setting
from ringwright.terms.facts import Facts, used
from ringwright.terms.finger import SizeRows
from ringwright.terms.gems import CutSolid, Gem
from ringwright.terms.making import GemsFound
from ringwright.terms.mistake import BadInput, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.piece import Drawn, Piece, StoneRoom
from ringwright.terms.pour import NotPoured, ThermocoupleLog
from ringwright.terms.progress import Keep
from ringwright.terms.remark import Level, Point, Remark
from ringwright.terms.setting import SettingFigures
from ringwright.terms.tree import InvestmentFact, TreeFigures, TreePiece
from ringwright.terms.workshop import Kiln, Workshop


def width_asked(commission: Commission) -> float | None:
    """The band's width where the brief or a starter says it; else the drawing does."""
    if commission.finger.band_width_mm is not None:
        return commission.finger.band_width_mm
    return commission.starter.width_mm if commission.starter is not None else None


def gem_tables(facts: Facts) -> tuple[object, ...]:
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


def resolving(facts: Facts, market: str, *, casting: bool = True) -> partial[Outcome[Alloy]]:
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


def beside(commission: Commission) -> tuple[str, ...]:
    """The alloys that are quoted beside the chosen one."""
    return tuple(key for key in commission.price.compare if key != commission.metal.alloy)


def drawn(
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
    seat_room = None if main is None else room(main)
    return keep(
        "piece",
        partial(piece.starter, inside=commission.finger.inside, stone=seat_room),
        commission.starter,
        inner_diameter_mm,
        facts.starter_proportions,
    )


def room(solid: CutSolid) -> StoneRoom:
    """What a starter's head must know of the stone."""
    return StoneRoom(
        name=solid.name,
        outline_mm=tuple((float(x), float(y)) for x, y in solid.outline_mm),
        crown_mm=solid.crown_height_mm,
        girdle_mm=solid.girdle_thickest_mm,
        pavilion_mm=solid.pavilion_depth_mm,
    )


def stones_placed(judged: Outcome[SettingFigures], stones: Sequence[Outcome[Gem]]) -> tuple[tuple[float, Point], ...]:
    """Mass in g and centre of each stone that has found its place, in the ring's frame."""
    mass_g = {stone.result.name: stone.result.mass_ct.value / 5.0 for stone in stones}
    return tuple((mass_g[stone.name], stone.centre_mm) for stone in judged.result.stones)


def thinnest_wall(judged: Outcome[SettingFigures]) -> float | None:
    """The thinnest wall as drawn, for what the shop itself casts; None where ``setting`` has told of that place:
    two remarks on one wall would be one too many."""
    places = judged.result.walls.thinnest
    told = {r.place for r in judged.remarks if r.kind in ("wall-thin", "claw-thin") and r.level is not Level.FINE}
    if not places or any(place.startswith(places[0].place) for place in told):
        return None
    return places[0].drawn_mm


def claw_tips(judged: Outcome[SettingFigures]) -> tuple[Point, ...]:
    """The tips that cloth can catch."""
    return tuple(claw.tip_mm for stone in judged.result.stones if stone.setting is Setting.CLAW for claw in stone.claws)


def together(stones: Sequence[Outcome[Gem]]) -> Outcome[GemsFound]:
    """All stones as one outcome."""
    return Outcome(
        "gems",
        GemsFound(stones=tuple(stone.result for stone in stones)),
        tuple(remark for stone in stones for remark in stone.remarks),
        tuple(body for stone in stones for body in stone.bodies),
    )


def on_the_tree(
    commission: Commission, ring: Piece, judged: Outcome[SettingFigures], prepared: Outcome[PatternFigures]
) -> TreePiece:
    """The pattern as it goes on the tree; the maker's own gates and the stones grow with it."""
    scale = prepared.result.scale_percent / 100.0
    gates, feeders = (
        ring.placement.to_ring(np.array(points).reshape(-1, 3)) * scale
        for points in (commission.tree.gates_mm, commission.tree.feeders_mm)
    )
    return TreePiece(
        name=commission.commission.number,
        pattern=prepared.body("pattern").mesh,
        hole_diameter_mm=prepared.result.set_inner_diameter_mm,
        stones=tuple(body.mesh.scaled(scale) for body in judged.bodies if body.role is Role.STONE),
        gates_mm=tuple((float(x), float(y), float(z)) for x, y, z in gates),
        feeders_mm=tuple((float(x), float(y), float(z)) for x, y, z in feeders),
    )


def poured(tree_mesh: Mesh, figures: TreeFigures, pieces: tuple[TreePiece, ...], **how: Any) -> Outcome[Any]:
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


def tree_how(
    commission: Commission, workshop: Workshop, facts: Facts, alloy: Alloy, investment: InvestmentFact
) -> dict[str, Any]:
    """What ``tree.build`` takes besides the pieces."""
    return {
        "alloy": alloy,
        "investment": investment,
        "melt_C": melt_C(workshop, facts, alloy),
        "habits": workshop.habits,
        "flasks": workshop.flask,
        "crucibles": workshop.crucible,
        "casting": workshop.casting.method,
        "rules": facts.sprue_rules,
        "clearances": facts.flask_clearances,
        "losses": facts.casting_losses,
        "crucible_rules": facts.crucible_rules,
        "powder_rules": facts.powder_rules,
        "flask": commission.tree.flask,
    }


def pour_how(workshop: Workshop, facts: Facts, alloy: Alloy, investment: InvestmentFact) -> dict[str, Any]:
    """What ``pour.cast`` takes of shop, metal and facts."""
    return {
        "alloy": alloy,
        "investment": investment,
        "plant": workshop.casting,
        "habits": workshop.habits,
        "rows": pour.rows_of(facts),
    }


def logs_on(
    ring: Piece, prepared: Outcome[PatternFigures], logs: Sequence[ThermocoupleLog]
) -> tuple[ThermocoupleLog, ...]:
    """The shop's logs with their places on the pattern, as it stands in the mould."""
    scale = prepared.result.scale_percent / 100.0
    found = []
    for log in logs:
        x, y, z = ring.placement.to_ring(np.array(log.at_mm).reshape(-1, 3))[0] * scale
        found.append(replace(log, at_mm=(float(x), float(y), float(z))))
    return tuple(found)


def finished(ring: Piece, prepared: Outcome[PatternFigures], on: TreePiece) -> pour.Finished:
    """The ring as it will be, so that the pour can be shown on it."""
    return pour.Finished(piece=on.name, body="ring", mesh=ring.metal, scale=prepared.result.scale_percent / 100.0)


def perforated(workshop: Workshop, name: str | None) -> bool:
    """Whether the chosen flask's wall is perforated."""
    return any(flask.perforated for flask in workshop.flask if flask.name == name)


def melt_C(workshop: Workshop, facts: Facts, alloy: Alloy) -> float:
    """The temperature of the melt: the shop's habit above the liquidus, or the middle of what its casting takes."""
    if workshop.habits.superheat_C is not None:
        return alloy.liquidus_C + workshop.habits.superheat_C
    usual = used(facts.melt_temperatures, f"any/{workshop.casting.method.value}", "melt temperature")
    return alloy.liquidus_C + (usual.superheat_low_C + usual.superheat_high_C) / 2.0


def flask_C(workshop: Workshop, facts: Facts) -> float:
    """The flask's temperature at the pour: the shop's habit, or what is usual."""
    if workshop.habits.flask_C is not None:
        return workshop.habits.flask_C
    usual = used(facts.burnout_heat, "usual flask").flask_C
    assert usual is not None
    return usual


def size_step_mm(brief: FingerBrief, sizes: SizeRows) -> float:
    """One size of the client's system, on the inner circumference."""
    return finger.size_mm(finger.system_of(brief.system or "iso", sizes))


def kiln(workshop: Workshop) -> Kiln | None:
    """The shop's kiln; of several the first."""
    return workshop.kiln[0] if workshop.kiln else None


def on_the_bench(commission: Commission, stones: Sequence[Outcome[Gem]]) -> tuple[BenchStone, ...]:
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


def own_fine_g(commission: Commission, workshop: Workshop) -> dict[str, float]:
    """Fine metal, by element, in what the client brings."""
    fine: dict[str, float] = {}
    lots = {lot.name: lot for lot in workshop.stock}
    for name, mass_g in commission.metal.own_g.items():
        for element, permille in lots[name].composition.items() if name in lots else ():
            fine[element] = fine.get(element, 0.0) + mass_g * permille / 1000.0
    return fine
