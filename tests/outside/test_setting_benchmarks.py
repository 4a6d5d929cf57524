"""What published bench guides and standards say a good setting looks like, held against a ring drawn by them."""

from __future__ import annotations

from ringwright.terms.facts import used
from ringwright.terms.remark import Level
from tests.agrees import agrees
from tests.steps.setting_rings import FACTS, judged, solitaire, stone, warned

INSTITUTE = "an institute's published quality benchmark for claw settings (seat 40 to 50 % of the claw, 70 % fails)"


def test_the_benchmark_seat_is_fine_and_the_published_fail_is_refused() -> None:
    round_stone = stone()
    good = judged(solitaire(round_stone[2], bite=0.40), round_stone)
    agrees(
        good.result.stones[0].claws[0].seat_percent, 40, within=0.05, source=INSTITUTE, what="seat as measured, percent"
    )
    assert not warned(good, "seat-depth")
    bad = judged(solitaire(round_stone[2], bite=0.75), round_stone)
    assert warned(bad, "seat-depth")[0].level is Level.HALT
    agrees(
        used(FACTS.setting_limits, "seat depth").never_above or 0,
        70,
        within=0.01,
        source=INSTITUTE,
        what="seat that fails",
    )


def test_a_claw_at_the_quarter_that_a_caster_cuts_leaves_three_quarters() -> None:
    found = judged(solitaire(stone()[2], bite=0.25), stone()).result.stones[0].claws[0]
    agrees(
        found.seat_percent, 25, within=0.08,
        source="a casting supplier's published production standard: seat no deeper than a quarter of the claw",
        what="seat as drawn, percent",
    )  # fmt: skip
