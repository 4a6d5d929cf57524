"""Strength on a hand: what the elastic load cases cost, and how far a finer mesh moves their figures."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from benchmarks import Bar, Measured, benchmark, median_s
from benchmarks.rings import solitaire, split

if TYPE_CHECKING:
    from ringwright.terms.alloy import Alloy
    from ringwright.terms.facts import Facts
    from ringwright.terms.piece import Drawn
    from ringwright.terms.wear import WearFigures

_CLAWS = 4


@benchmark(Bar("elastic-cases", "s", 20.0), Bar("elastic-change", "%", 5.0))
def elastic_cases() -> Iterator[Measured]:
    """Squeeze, knock, stretch and a snag of each claw: their cost for a solitaire, and how still they hold for all
    starter shapes."""
    from dataclasses import replace

    from ringwright import facts
    from ringwright.steps import metal

    shipped = facts.load()
    alloy = metal.resolve(
        "18k-3n", shipped.alloys, shipped.elements, heats=shipped.element_heats, rules=shipped.metal_rules
    ).result
    drawn = solitaire(shipped, 17.3)
    drawn = replace(drawn, bodies=(replace(drawn.bodies[0], mesh=split(drawn.metal)),))
    seconds = median_s(lambda: _worn(drawn, alloy, shipped, _CLAWS), 3)
    yield Measured(
        "elastic-cases",
        seconds,
        f"four cases (of the snag four claws) on {len(drawn.metal.faces)} triangles, measured and all, median of 3",
    )
    worst, where, many = 0.0, "", 0
    for name, drawn, claws in _starters(shipped):
        for one in _worn(drawn, alloy, shipped, claws).strengths:
            many += 1
            if abs(one.change_percent) > worst:
                worst, where = abs(one.change_percent), f"{one.kind.value} of the {name}"
    yield Measured("elastic-change", worst, f"how far the finest mesh moved the worst of {many} figures: {where}")


def _starters(shipped: Facts) -> Iterator[tuple[str, Drawn, int]]:
    """The starter shapes, those with claws for three stones."""
    from ringwright.steps import gems, piece
    from ringwright.terms.commission import StarterBrief, StoneBrief
    from ringwright.terms.piece import room_for

    def starter(shape: str, stone: StoneBrief | None = None, **given: Any) -> Drawn:
        room = None if stone is None else room_for(gems.shape(stone, shipped.cuts))
        return piece.starter(StarterBrief(shape=shape, **given), 17.3, shipped.starter_proportions, stone=room)

    def round_one(mm: float) -> StoneBrief:
        cut, deep = "round brilliant", round(0.61 * mm, 2)
        return StoneBrief(name="main", cut=cut, material="diamond", length_mm=mm, depth_mm=deep)

    oval = StoneBrief(name="main", cut="oval", material="diamond", length_mm=8.0, width_mm=6.0, depth_mm=3.8)
    yield "band", starter("band"), 0
    yield "wide band", starter("band", section="court", width_mm=7.5, thickness_mm=1.9), 0
    yield "signet", starter("signet"), 0
    yield "bezel", starter("bezel", round_one(6.5)), 0
    yield "solitaire of 6.5 mm", starter("solitaire", round_one(6.5)), _CLAWS
    yield "solitaire of 4 mm", starter("solitaire", round_one(4.0)), _CLAWS
    yield "oval solitaire", starter("solitaire", oval), _CLAWS


def _worn(drawn: Drawn, alloy: Alloy, shipped: Facts, claws: int) -> WearFigures:
    """The ring on a hand, its claws' tips where it stands highest."""
    import numpy as np

    from ringwright.steps import piece, wear

    ring, figures = piece.measure(drawn, (alloy,), shipped.piece_limits)
    top = ring.metal.vertices_mm[ring.metal.vertices_mm[:, 1] > ring.metal.vertices_mm[:, 1].max() - 0.3]
    corners = [top[np.argmax(top @ np.array([x, 0.0, z]))] for x in (-1, 1) for z in (-1, 1)][:claws]
    tips = tuple((float(p[0]), float(p[1]), float(p[2])) for p in corners)
    return wear.live(ring, figures.result, alloy, (), tips, shipped.load_cases, shipped.wear_limits).result
