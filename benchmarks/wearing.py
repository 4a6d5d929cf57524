"""Strength on a hand: what four elastic load cases cost, and how far the finer mesh moves their figures."""

from __future__ import annotations

from collections.abc import Iterator

from benchmarks import Bar, Measured, benchmark
from benchmarks.rings import solitaire

_CLAWS = 4


@benchmark(Bar("elastic-cases", "s", 20.0), Bar("elastic-change", "%", 5.0))
def elastic_cases() -> Iterator[Measured]:
    """Squeeze, knock, stretch and a snag of each claw of a solitaire, on two meshes each."""
    import time

    import numpy as np

    from ringwright import facts
    from ringwright.steps import metal, piece, wear

    shipped = facts.load()
    alloy = metal.resolve(
        "18k-3n", shipped.alloys, shipped.elements, heats=shipped.element_heats, rules=shipped.metal_rules
    ).result
    drawn = solitaire(shipped, 17.3)
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
