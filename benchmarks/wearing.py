"""Strength on a hand: what four elastic load cases cost, and how far the finer mesh moves their figures."""

from __future__ import annotations

from collections.abc import Iterator

from benchmarks import Bar, Measured, benchmark

_CLAWS = 4


@benchmark(Bar("elastic-cases", "s", 20.0), Bar("elastic-change", "%", 5.0))
def elastic_cases() -> Iterator[Measured]:
    """Squeeze, knock, stretch and a snag of each claw of a solitaire, on two meshes each."""
    import time

    import numpy as np

    from ringwright import facts
    from ringwright.steps import gems, metal, piece, wear
    from ringwright.terms.commission import StarterBrief, StoneBrief
    from ringwright.terms.piece import StoneRoom

    shipped = facts.load()
    stone = gems.shape(
        StoneBrief(name="main", cut="round brilliant", material="diamond", length_mm=6.5, depth_mm=3.95), shipped.cuts
    )
    room = StoneRoom(
        name="main",
        outline_mm=tuple((float(x), float(y)) for x, y in stone.outline_mm),
        crown_mm=stone.crown_height_mm,
        girdle_mm=stone.girdle_thickest_mm,
        pavilion_mm=stone.pavilion_depth_mm,
    )
    alloy = metal.resolve(
        "18k-3n", shipped.alloys, shipped.elements, heats=shipped.element_heats, rules=shipped.metal_rules
    ).result
    drawn = piece.starter(StarterBrief(shape="solitaire"), 17.3, shipped.starter_proportions, stone=room)
    ring, figures = piece.measure(drawn, (alloy,), shipped.piece_limits)
    top = ring.metal.vertices_mm[ring.metal.vertices_mm[:, 1] > ring.metal.vertices_mm[:, 1].max() - 0.3]
    corners = [top[np.argmax(top @ np.array([x, 0.0, z]))] for x in (-1, 1) for z in (-1, 1)]
    tips = tuple((float(p[0]), float(p[1]), float(p[2])) for p in corners[:_CLAWS])

    def run() -> tuple[float, float]:
        start = time.perf_counter()
        worked = wear.live(ring, figures.result, alloy, (), tips, shipped.load_cases, shipped.wear_limits).result
        return time.perf_counter() - start, max(abs(one.change_percent) for one in worked.strengths)

    run()
    seconds, change = min(run() for _ in range(3))
    yield Measured(
        "elastic-cases", seconds, "four cases (of the snag four claws) on two meshes each, best of 3, compiled"
    )
    yield Measured("elastic-change", change, "how far the finer mesh moves the worst of the four figures")
