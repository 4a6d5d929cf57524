"""One ring measured at four stages: Teague, Santa Fe Symposium, quoted by a practitioner."""

from __future__ import annotations

import pytest

from ringwright.steps.pattern import Chain, back, forward
from tests.agrees import agrees
from tests.steps.pattern_facts import FACTS

SOURCE = "Teague, Santa Fe Symposium, ring measured as model, wax, casting and finished"
MODEL, WAX, CAST, DONE = (19.95, 4.05, 1.93), (19.88, 4.00, 1.98), (19.63, 4.12, 1.91), (19.82, 3.82, 1.72)


def flat(ring: tuple[float, float, float]) -> float:
    """Volume of a flat band by Pappus, mm3."""
    import math

    inner, width, thick = ring
    return math.pi * (inner + thick) * thick * width


def chain() -> Chain:
    row = next(r for r in FACTS.contraction if "Teague" in r.source)
    stock = next(r for r in FACTS.stock if "finger hole" in r.what)
    assert stock.stock_mm is not None
    return Chain(
        contraction_percent=row.contraction_percent,
        print_shrink_percent=100 * (1 - WAX[0] / MODEL[0]),
        inside_stock_mm=stock.stock_mm,
    )


def test_inside_diameter_forward_through_all_stages() -> None:
    stages = forward(MODEL[0], chain(), hole=True)
    agrees(stages.pattern_mm, WAX[0], within=0.005, absolute=True, source=SOURCE, what="inside diameter of the wax, mm")
    agrees(stages.cast_mm, CAST[0], within=0.005, absolute=True, source=SOURCE, what="inside diameter as cast, mm")
    agrees(stages.finished_mm, DONE[0], within=0.005, absolute=True, source=SOURCE, what="inside diameter finished, mm")


def test_and_back_to_the_model() -> None:
    agrees(back(DONE[0], chain(), hole=True).set_mm, MODEL[0], within=0.005, absolute=True, source=SOURCE,
           what="inside diameter of the model from the finished ring, mm")  # fmt: skip


def test_contraction_of_the_row() -> None:
    row = next(r for r in FACTS.contraction if "Teague" in r.source)
    agrees(row.contraction_percent, 100 * (1 - CAST[0] / WAX[0]), within=0.02, absolute=True, source=SOURCE,
           what="contraction from wax to casting, %")  # fmt: skip


@pytest.mark.parametrize(
    ("one", "other", "masses", "what"),
    [(CAST, MODEL, (5.877, 5.930), "cast over model"), (DONE, CAST, (4.907, 5.877), "finished over cast")],
)
def test_volume_ratios_are_the_mass_ratios(
    one: tuple[float, float, float], other: tuple[float, float, float], masses: tuple[float, float], what: str
) -> None:
    agrees(flat(one) / flat(other), masses[0] / masses[1], within=0.0005, absolute=True, source=SOURCE,
           what=f"volume ratio {what}")  # fmt: skip


def test_mass_lost_in_finishing() -> None:
    row = next(r for r in FACTS.stock if r.key == "mass" and r.preference)
    assert row.stock_loss_percent is not None
    agrees(row.stock_loss_percent, 100 * (1 - 4.907 / 5.877), within=0.05, absolute=True, source=SOURCE,
           what="mass lost from casting to finished, %")  # fmt: skip


def test_a_trade_casters_rule() -> None:
    row = next(r for r in FACTS.contraction if "trade caster" in r.route)
    set_mm = back(17.30, Chain(contraction_percent=row.contraction_percent), hole=True).set_mm
    agrees(set_mm, 17.475, within=0.005, absolute=True, source="a trade caster's published rule of 1 %",
           what="pattern's inside diameter for 17.30 mm as cast, mm")  # fmt: skip
