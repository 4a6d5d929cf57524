"""Published burnout schedules: a makers' cycle by flask size, as quoted by a bench caster on a public forum."""

from __future__ import annotations

from functools import cache

import pytest

from ringwright.facts import load
from ringwright.steps.burnout import programme
from ringwright.steps.burnout.firing import Flask, ramp
from ringwright.steps.burnout.mould import ZERO_C_IN_K, flask, mould
from ringwright.terms.burnout import BurnoutScheduleFact, Programme
from ringwright.terms.facts import Facts, used
from tests.agrees import COMMON_PRACTICE, agrees

MAKERS = "makers' burnout cycle for gypsum-bonded powder, as quoted by a bench caster on a public bench forum"


@cache
def tables() -> Facts:
    return load()


@cache
def ours(diameter: float, height: float, pattern: str = "wax") -> Programme:
    facts = tables()
    return programme(
        diameter_mm=diameter,
        height_mm=height,
        pattern=used(facts.resins, pattern),
        investment=used(facts.investments, "gypsum"),
        flask_C=540,
        needs=facts.burnout_needs,
        ramps=facts.burnout_ramps,
        reactions=facts.mould_reactions,
        heat=facts.burnout_heat,
        schedules=facts.burnout_schedules,
    ).result


def schedule(key: str) -> BurnoutScheduleFact:
    return used(tables().burnout_schedules, key)


@pytest.mark.parametrize(
    ("key", "hours"), [("wax-to-64x64", 6), ("wax-to-89x102", 8), ("wax-to-102x203", 12), ("wax-nine-hours", 9)]
)
def test_rows_add_up_to_the_published_total(key: str, hours: float) -> None:
    row = schedule(key)
    agrees(sum(row.hold_h) + row.soak_h, hours, within=1e-9, source=MAKERS, what=f"hours of {row.title}")


@pytest.mark.parametrize(("size", "hours"), [((64, 64), 6), ((89, 102), 8), ((102, 203), 12)])
def test_our_holds_from_conduction_take_the_published_hours(size: tuple[float, float], hours: float) -> None:
    agrees(
        ours(*size).hold_h,
        hours,
        within=0.10,
        source=MAKERS,
        what=f"holds of a wax burnout, flask {size[0]} x {size[1]} mm, without ramps, h",
    )


def core_off_at_ends(row: BurnoutScheduleFact) -> list[float]:
    """How far the furthest place of the mould is from each published hold when it ends, ramps at 300 °C/h besides."""
    facts = tables()
    filled = mould(used(facts.investments, "gypsum"), facts.mould_reactions)
    heat = {r.key: r for r in facts.burnout_heat}
    body = flask(
        row.diameter_most_mm,
        row.height_most_mm,
        filled.wet,
        heat["still air"],
        heat["flask surface"],
        heat["flask wall"],
        slow=False,
        cells=(12, 18),
    )
    now, at, off = Flask(body=body, state=body.at(20 + ZERO_C_IN_K)), 20.0, []
    for to_C, hours in zip(row.hold_at_C, row.hold_h, strict=True):
        now = ramp(now, at, to_C, (to_C - at) / 300, filled.dry_above_C)
        # A hair of difference, so that the hold is worked in the small steps of a ramp.
        now = ramp(now, to_C, to_C + 1e-9, hours, filled.dry_above_C)
        at = to_C
        off.append(now.off_by_C(to_C))
    return off


@pytest.mark.parametrize("key", ["wax-to-64x64", "wax-to-89x102", "wax-to-102x203"])
def test_published_holds_outlast_the_core_where_carbon_burns(key: str) -> None:
    """The first hold melts the wax to the core but dries no flask through; the hottest hold gets to the core."""
    row, wax = schedule(key), used(tables().resins, "wax")
    off = core_off_at_ends(row)
    core_C = row.hold_at_C[0] - off[0]
    assert wax.breakdown_high_C < core_C < 105, off
    assert off[-1] < 5, off


def test_resin_takes_three_to_five_tenths_longer_than_wax() -> None:
    for size in ((64, 64), (89, 102)):
        agrees(
            ours(*size, "castable-resin").hold_h / ours(*size).hold_h,
            1.4,
            within=0.1,
            absolute=True,
            source=COMMON_PRACTICE,
            what=f"hours of resin over hours of wax, flask {size[0]} x {size[1]} mm",
        )


def test_resin_programme_lies_in_the_range_of_practice() -> None:
    total = ours(89, 102, "castable-resin").total_h
    row = schedule("resin")
    assert row.total_low_h <= total <= row.total_high_h


def test_gypsum_at_800_is_refused_and_750_is_not() -> None:
    gypsum = used(tables().investments, "gypsum")
    agrees(
        gypsum.never_oven_C,
        788,
        within=1e-9,
        source="a bench checklist: do not exceed 1450 °F",
        what="highest oven for gypsum in any source, °C",
    )
    assert gypsum.max_oven_C < 800
