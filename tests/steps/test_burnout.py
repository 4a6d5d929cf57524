"""The kiln's programme: holds wait for their core, limits are kept, resin takes longer, the clock is right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.facts import load
from ringwright.steps.burnout import check_limits, light_at, programme
from ringwright.steps.burnout.firing import Flask, ramp, until_there
from ringwright.steps.burnout.mould import ZERO_C_IN_K, flask, mould
from ringwright.terms.burnout import Programme
from ringwright.terms.facts import Facts, used
from ringwright.terms.mistake import BadInput, ComputingFault
from ringwright.terms.outcome import Outcome
from ringwright.terms.remark import Level
from ringwright.terms.workshop import Kiln

KILN = Kiln(name="small kiln", max_C=1100, max_ramp_C_per_h=400)


@pytest.fixture(autouse=True)
def coarse(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is tested here holds on any grid; test_burnout_core tests the grid that is used."""
    monkeypatch.setattr("ringwright.steps.burnout.kiln.FINE", (8, 12))
    monkeypatch.setattr("ringwright.steps.burnout.kiln.COARSE", (6, 8))


@cache
def tables() -> Facts:
    return load()


def fire(diameter: float = 50, height: float = 50, pattern: str = "wax", **other: Any) -> Outcome[Programme]:
    facts = tables()
    given_: dict[str, Any] = {
        "investment": used(facts.investments, "gypsum"),
        "flask_C": 540.0,
        "needs": facts.burnout_needs,
        "ramps": facts.burnout_ramps,
        "reactions": facts.mould_reactions,
        "heat": facts.burnout_heat,
        "schedules": facts.burnout_schedules,
    }
    return programme(diameter_mm=diameter, height_mm=height, pattern=used(facts.resins, pattern), **{**given_, **other})


once = cache(fire)


def sentence(call: Callable[[], object]) -> str:
    with pytest.raises(BadInput) as caught:
        call()
    assert len(caught.value.mistakes) == 1
    return str(caught.value)


def test_every_hold_outlasts_its_core_and_the_work_that_follows() -> None:
    for size in ((64, 64), (102, 203)):
        for line in once(*size).result.holds:
            assert line.hold_h >= line.core_there_after_h + line.core_later_h
            assert abs(line.core_C - line.to_C) <= line.core_within_C
            assert line.hold_h == pytest.approx(round(line.hold_h * 4) / 4)
            assert line.core_later_h >= 0
            assert line.set_by in {"core", "work", "practice"}


def test_total_is_ramps_and_holds_and_the_last_hold_is_the_casting_temperature() -> None:
    result = once(64, 64).result
    assert result.total_h == pytest.approx(sum(h.ramp_h + h.hold_h for h in result.holds))
    assert result.hold_h == pytest.approx(sum(h.hold_h for h in result.holds))
    assert [h.to_C for h in result.holds] == [149, 371, 732, 540]
    assert result.holds[1].ramp_h == pytest.approx((371 - 149) / result.holds[1].ramp_C_per_h)


def test_larger_flasks_take_longer_and_dry_later() -> None:
    results = [once(*size).result for size in ((64, 64), (89, 102), (102, 203))]
    assert [r.total_h for r in results] == sorted(r.total_h for r in results)
    assert [r.dry_after_h for r in results] == sorted(r.dry_after_h for r in results)
    assert results[-1].holds[1].core_there_after_h > 3 * results[0].holds[1].core_there_after_h


def test_the_core_boils_dry_before_the_second_hold_ends() -> None:
    result = once(89, 102).result
    first, second = result.holds[:2]
    end_of_second = first.ramp_h + first.hold_h + second.ramp_h + second.hold_h
    assert first.core_C == pytest.approx(100, abs=6)
    assert first.ramp_h + first.hold_h < result.dry_after_h < end_of_second


def test_water_driven_off_is_the_water_of_the_mix() -> None:
    """Powder and water of a 64 x 64 mm flask at 40:100, 0.815 L of slurry a kilogram."""
    litres = 3.14159265 * 0.32**2 * 0.64
    assert once(64, 64).result.water_g == pytest.approx(litres / 0.815 * 400, rel=1e-3)


def test_heat_is_accounted_for() -> None:
    outcome = once(64, 64)
    (balance,) = outcome.residuals
    assert balance.value < balance.bound == 1e-6
    # By hand: powder of the flask times (heat to 732 °C, water boiled off), plus the steel wall; within a twentieth.
    powder = 3.14159265 * 0.032**2 * 0.064 / 0.815e-3
    dry = powder * 0.815 * 1.19 * 0.98 * (732 - 20)
    water = powder * 0.35 * (4.186 * 76 + 2257) + powder * 0.05 * 3110
    steel = 3.14159265 * 0.064 * 0.064 * 0.002 * 7900 * 0.5 * (732 - 20)
    assert outcome.result.heat_kJ == pytest.approx(dry + water + steel, rel=0.05)


def test_resin_takes_longer_and_wax_filled_resin_lies_between() -> None:
    wax, filled, resin = (once(64, 64, kind).result.total_h for kind in ("wax", "wax-filled-resin", "castable-resin"))
    assert wax < filled <= resin
    material = used(tables().resins, "wax-filled-resin")
    assert once(64, 64, "castable-resin").result.holds[2].hold_h > once(64, 64).result.holds[2].hold_h
    assert 1 < material.burnout_factor < used(tables().resins, "castable-resin").burnout_factor


def test_moving_air_is_quicker_and_asked_for_with_resin() -> None:
    still = fire(pattern="castable-resin", kiln=KILN)
    moving = fire(pattern="castable-resin", kiln=replace(KILN, moving_air=True))
    assert moving.result.holds[0].core_there_after_h < still.result.holds[0].core_there_after_h
    assert [r.kind for r in still.remarks if r.level is Level.HEED] == ["still-air"]
    assert not [r for r in moving.remarks if r.level is Level.HEED]


def test_ramps_keep_to_the_slow_bands_and_to_the_kiln() -> None:
    assert [h.ramp_C_per_h for h in once(64, 64).result.holds] == [300, 180, 180, 200]
    slow = fire(kiln=replace(KILN, max_ramp_C_per_h=100)).result
    assert [h.ramp_C_per_h for h in slow.holds] == [100, 100, 100, 100]
    assert slow.total_h > once(64, 64).result.total_h


def test_tall_flasks_soak_longer() -> None:
    assert once(64, 64).result.holds[-1].hold_h == 1
    assert once(102, 203).result.holds[-1].hold_h == 2


def test_hot_casting_temperature_above_the_last_hold_is_ramped_up_to() -> None:
    phosphate = used(tables().investments, "phosphate")
    holds = fire(investment=phosphate, flask_C=890).result.holds
    assert holds[-1].to_C == 890
    assert holds[-1].ramp_C_per_h == 300


def test_platinum_flask_cooled_to_hand_warm_never_grows_wet_again() -> None:
    silica = used(tables().investments, "silica")
    holds = fire(investment=silica, flask_C=60).result.holds
    assert abs(holds[-1].core_C - 60) < 15


def test_binder_limit() -> None:
    with pytest.raises(BadInput) as caught:
        fire(top_C=800)
    told = str(caught.value.mistakes[0])
    assert told.startswith("hottest hold: asked 800 °C, gypsum bears 750 °C (no source allows more than 788 °C)")
    assert fire(top_C=745).result.holds[2].to_C == 745
    assert "flask temperature: asked 800" in sentence(lambda: fire(flask_C=800))


def test_second_sheet_with_a_lower_limit_lowers_the_hottest_hold() -> None:
    lower = next(row for row in tables().investments if row.key == "gypsum" and not row.preference)
    lower = replace(lower, max_oven_C=725)
    assert fire(investment=lower).result.holds[2].to_C == 725


def test_kiln_that_is_too_weak() -> None:
    told = sentence(lambda: fire(kiln=replace(KILN, max_C=650)))
    assert "hold at 732 °C: asked 732 °C, the kiln 'small kiln' reaches 650 °C" in told


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"diameter": 0}, "flask diameter: 0 mm is no flask; between 20 and 350 mm"),
        ({"height": -5}, "flask height: -5 mm is no flask"),
        ({"diameter": float("nan")}, "flask diameter: nan mm is no flask"),
        ({"height": 6400}, "flask height: 6400 mm is no flask"),
        ({"flask_C": float("nan")}, "flask temperature: nan °C is no kiln temperature"),
        ({"top_C": -10.0}, "is no kiln temperature"),
        ({"top_C": 110.0}, "hottest hold: asked 110 °C, at which the mould does not dry"),
        ({"top_C": 380.0, "pattern": "castable-resin"}, "castable photopolymer resin does not go; 400 °C or more"),
        ({"flask_C": 5.0}, "flask temperature: 5 °C is colder than the workshop; 20 °C or more"),
        ({"water_per_100": 400.0}, "water_per_100: 400 g of water to 100 g of powder; gypsum is mixed at 38 to 42"),
        ({"kiln": replace(KILN, max_ramp_C_per_h=0)}, "kiln: there is no ramp to go by"),
        ({"needs": ()}, "pattern: no burnout is known for wax in gypsum"),
    ],
)
def test_bad_input_is_told_in_one_sentence(change: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInput) as caught:
        fire(**change)
    assert any(says in str(m) for m in caught.value.mistakes)


def test_cool_hottest_hold_is_a_remark_that_goes_away() -> None:
    cool = fire(top_C=427)
    (remark,) = [r for r in cool.remarks if r.level is Level.HEED]
    assert (remark.kind, remark.figure, remark.limit) == ("burnout-cool", 427, 732)
    assert not [r for r in once(64, 64).remarks if r.level is Level.HEED]


def test_stray_of_the_kiln_is_a_remark_that_goes_away() -> None:
    near = fire(kiln=replace(KILN, spread_C=25))
    (remark,) = [r for r in near.remarks if r.kind == "kiln-stray"]
    assert remark.figure == 757 and remark.limit == 750
    assert not [r for r in fire(kiln=replace(KILN, spread_C=10)).remarks if r.kind == "kiln-stray"]


def test_investment_for_other_patterns_is_a_remark() -> None:
    resin_only = used(tables().investments, "gypsum-resin")
    assert [r.kind for r in fire(investment=resin_only).remarks if r.level is Level.HEED] == ["investment-pattern"]
    assert not [r for r in fire(pattern="castable-resin", investment=resin_only).remarks if r.level is Level.HEED]


def test_cautions_go_with_binder_and_pattern() -> None:
    assert "sulfur-dioxide" in once(64, 64).result.cautions
    assert "sulfur-dioxide" not in fire(investment=used(tables().investments, "silica")).result.cautions
    assert "resin" in once(64, 64, "castable-resin").result.cautions


def test_published_holds_are_shown_beside_ours() -> None:
    outcome = once(64, 64)
    assert outcome.result.published_h == 6
    assert any(r.kind == "published" and r.level is Level.FINE for r in outcome.remarks)
    assert fire(104, 64).result.published_h is None


def test_progress_is_told_and_same_input_gives_same_programme() -> None:
    told: list[tuple[float, str]] = []
    outcome = fire(progress=lambda share, doing: told.append((share, doing)))
    assert [share for share, _ in told] == [0, 0.25, 0.5, 0.75]
    assert told[0][1] == "heating to 149 °C" and told[-1][1] == "cooling to 540 °C"
    assert outcome == fire()


def test_a_core_that_never_comes_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ringwright.steps.burnout.firing._LONGEST_H", 4.0)
    facts = tables()
    filled = mould(used(facts.investments, "gypsum"), facts.mould_reactions)
    heat = {row.key: row for row in facts.burnout_heat}
    body = flask(
        64, 64, filled.wet, heat["still air"], heat["flask surface"], heat["flask wall"], slow=False, cells=(4, 6)
    )
    cold = Flask(body=body, state=body.at(20 + ZERO_C_IN_K))
    with pytest.raises(ComputingFault, match="the core is still"):
        until_there(cold, 300, -1.0, 104)
    assert ramp(cold, 20, 20, 1.0, 104).core_C == pytest.approx(20, abs=1e-6)


def test_check_limits_alone() -> None:
    gypsum = used(tables().investments, "gypsum")
    check_limits(gypsum, KILN, 750, "hottest hold")
    with pytest.raises(BadInput):
        check_limits(gypsum, None, 751, "hottest hold")


@settings(max_examples=60)
@given(
    st.datetimes(min_value=dt.datetime(2001, 1, 1), max_value=dt.datetime(2099, 1, 1)),
    st.floats(min_value=0.25, max_value=60),
)
def test_light_at_leaves_exactly_the_hours(pour: dt.datetime, hours: float) -> None:
    aware = pour.replace(tzinfo=dt.UTC)
    assert aware - light_at(aware, hours) == dt.timedelta(hours=hours)
    assert pour - light_at(pour, hours) == dt.timedelta(hours=hours)


def test_light_at_counts_hours_as_they_pass_when_the_clocks_change() -> None:
    zurich = ZoneInfo("Europe/Zurich")
    pour = dt.datetime(2026, 3, 29, 9, 0, tzinfo=zurich)
    lit = light_at(pour, 12)
    assert lit == dt.datetime(2026, 3, 28, 20, 0, tzinfo=zurich)
    assert light_at(pour.replace(tzinfo=None), 12).hour == 21


@pytest.mark.parametrize("hours", [0, -3, float("nan"), float("inf")])
def test_light_at_refuses_hours_that_are_none(hours: float) -> None:
    assert "burnout of" in sentence(lambda: light_at(dt.datetime(2026, 1, 1, tzinfo=dt.UTC), hours))
