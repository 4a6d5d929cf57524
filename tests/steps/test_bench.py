"""The hands' tasks: order, hours, what the stones bear, the quench, the days, the cautions."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.facts import load
from ringwright.steps.bench import (
    cautions,
    judge_air,
    judge_due,
    judge_exposure,
    judge_flash,
    plan,
    quench_of,
    ready_on,
    working_days,
)
from ringwright.steps.bench.danger import DEFERS
from ringwright.terms.alloy import Alloy
from ringwright.terms.bench import BenchJob, BenchPlan, BenchStone
from ringwright.terms.commission import Setting
from ringwright.terms.facts import Facts, used
from ringwright.terms.gems import Bears
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level


@cache
def tables() -> Facts:
    return load()


def alloy(**other: Any) -> Alloy:
    figures: dict[str, Any] = {
        "key": "18k-3n",
        "title": "18k yellow",
        "metal": "gold",
        "colour": "yellow",
        "composition": {"Au": 75.0, "Ag": 12.5, "Cu": 12.5},
        "fineness_permille": 750.0,
        "density_g_cm3": Estimate(15.45, 0.05),
        "ideal_density_g_cm3": 15.45,
        "liquid_density_g_cm3": 14.0,
        "solidus_C": 885.0,
        "liquidus_C": 895.0,
        "cp_solid_J_kgK": 210.0,
        "cp_liquid_J_kgK": 220.0,
        "latent_kJ_kg": 76.0,
        "k_solid_W_mK": 100.0,
        "k_liquid_W_mK": 80.0,
        "freezing_shrinkage_percent": 5.2,
        "mean_expansion_per_MK": 16.5,
        "viscosity_mPas": 4.8,
        "surface_tension_N_m": 1.1,
        "youngs_GPa": 90.0,
        "poisson": 0.4,
        "yield_cast_MPa": Estimate(350, 70),
        "yield_annealed_MPa": Estimate(270, 50),
        "elongation_percent": 40.0,
        "hardness_HV": 150.0,
    }
    return Alloy(**{**figures, **other})


NICKEL = alloy(
    key="14k-ni", title="14k nickel white", colour="white", composition={"Au": 58.5, "Cu": 22.0, "Ni": 12.0, "Zn": 7.5}
)
DIAMOND = BenchStone(
    name="centre",
    material="diamond",
    setting=Setting.CLAW,
    torch=Bears.USUALLY,
    ultrasonic=Bears.YES,
    steam=Bears.YES,
    pickle=Bears.YES,
)
EMERALD = BenchStone(
    name="green",
    material="emerald",
    setting=Setting.BEZEL,
    setting_risk=4,
    pickle=Bears.RISKY,
    source="two suppliers' charts",
)


def work(job: BenchJob | None = None, metal: Alloy | None = None, **other: Any) -> Outcome[BenchPlan]:
    given_: dict[str, Any] = {"bench_hours_per_day": 6.0, **other}
    return plan(
        job=job or BenchJob(stones=(DIAMOND,), area_cm2=7.0, print_h=3, set_h=2, burnout_h=12),
        alloy=metal or alloy(),
        tasks=tables().bench_tasks,
        quenches=tables().quench,
        rules=tables().bench_rules,
        **given_,
    )


def keys(outcome: Outcome[BenchPlan]) -> list[str]:
    return [line.key for line in outcome.result.tasks]


def test_the_work_goes_in_order_and_each_task_has_hours() -> None:
    outcome = work()
    order = keys(outcome)
    wanted = ["invest", "burnout", "pour", "quench", "break-out", "pickle", "cut-sprue", "true-up", "file-and-emery"]
    wanted += ["polish-hidden", "stamp", "set-claw", "polish", "clean-ultrasonic", "check"]
    assert [key for key in order if key in wanted] == wanted
    assert all(line.hands_h.value > 0 and line.hands_h.plus_minus > 0 for line in outcome.result.tasks)
    assert not outcome.remarks


def test_hours_add_up_and_spreads_lie_between_squares_and_straight() -> None:
    result = work().result
    assert result.hands_h.value == pytest.approx(sum(t.hands_h.value for t in result.tasks))
    spreads = [t.hands_h.plus_minus for t in result.tasks]
    squares, straight = sum(s**2 for s in spreads), sum(spreads) ** 2
    assert result.hands_h.plus_minus == pytest.approx((0.3 * straight + 0.7 * squares) ** 0.5)
    assert squares**0.5 < result.hands_h.plus_minus < straight**0.5
    assert result.bench_h.value + result.setting_h.value == pytest.approx(result.hands_h.value)
    assert result.unattended_h == pytest.approx(3 + 1 + 2 + 12 + 15 / 60 + 0.25)
    assert 5 < result.hands_h.value < 16


def test_hours_follow_stones_surface_letters_and_risk() -> None:
    one = work(BenchJob(stones=(DIAMOND,))).result
    two = work(BenchJob(stones=(DIAMOND, replace(DIAMOND, name="second")))).result
    risky = work(BenchJob(stones=(replace(DIAMOND, setting_risk=5),))).result
    assert two.setting_h.value == pytest.approx(2 * one.setting_h.value)
    assert risky.setting_h.value == pytest.approx(one.setting_h.value * (1 + 4 * 0.35))
    wide = work(BenchJob(area_cm2=20)).result
    assert wide.hands_h.value - work(BenchJob(area_cm2=10)).result.hands_h.value == pytest.approx(10 * 0.18)
    lettered = work(BenchJob(letters=20))
    assert "engrave" in keys(lettered) and "engrave" not in keys(work(BenchJob()))


def test_a_band_without_stones_has_no_setting_and_nothing_hidden() -> None:
    outcome = work(BenchJob())
    assert outcome.result.setting_h == Estimate(0, 0)
    assert not {"set-claw", "polish-hidden"} & set(keys(outcome))
    assert outcome.result.cleaning == ("Clean in the ultrasonic bath", "Clean with steam")


def test_wax_drawing_assay_and_matt_bring_their_tasks() -> None:
    job = BenchJob(drawn=False, pattern="wax", assayed=True, assay_days=7, matt=True, marked=False)
    outcome = work(job)
    assert {"draw", "wax-pattern", "assay", "matt"} <= set(keys(outcome))
    assert not {"check-model", "print", "wash-and-cure", "stamp"} & set(keys(outcome))
    assert outcome.result.away_days == 7
    assert "pickle" not in keys(work(BenchJob(), alloy(metal="platinum", title="platinum", composition={"Pt": 95.0})))


def test_workshop_hours_replace_the_facts() -> None:
    own = work(hours={"polish": 2.0, "set-claw": 1.5})
    line = {t.key: t for t in own.result.tasks}
    assert line["polish"].hands_h.value == 2.0 and line["polish"].own_hours
    assert line["set-claw"].hands_h.value == 1.5
    assert not line["check"].own_hours


def test_hidden_places_are_named_before_the_stones_go_in() -> None:
    outcome = work(BenchJob(stones=(DIAMOND,), hidden=("gallery", "under centre")))
    line = next(t for t in outcome.result.tasks if t.key == "polish-hidden")
    assert "gallery, under centre" in line.note
    assert [r.kind for r in outcome.remarks] == ["hidden"]
    assert keys(outcome).index("polish-hidden") < keys(outcome).index("set-claw")


@pytest.mark.parametrize("material", ["peridot", "pearl"])
def test_pickle_with_a_set_stone_that_never_bears_it_is_halted(material: str) -> None:
    stone = replace(EMERALD, name=material, material=material, pickle=Bears.NEVER)
    outcome = work(BenchJob(stones=(stone,), asked=("pickle-set",)))
    (remark,) = [r for r in outcome.remarks if r.kind == "stone-pickle"]
    assert outcome.verdict is Level.HALT
    assert f"'{material}'" in remark.says and "before the stone is set" in remark.change
    assert work(BenchJob(stones=(stone,))).verdict is Level.FINE
    assert work(BenchJob(stones=(DIAMOND,), asked=("pickle-set",))).verdict is Level.FINE


@pytest.mark.parametrize("task", ["clean-ultrasonic", "clean-steam"])
def test_ultrasonic_and_steam_with_an_emerald_are_halted_and_not_chosen(task: str) -> None:
    asked = work(BenchJob(stones=(EMERALD,), asked=(task,)))
    assert asked.verdict is Level.HALT
    assert "emerald" in asked.remarks[0].says
    left = work(BenchJob(stones=(EMERALD,)))
    assert left.verdict is Level.FINE
    assert left.result.cleaning == ("Clean with warm soapy water and a soft brush",)
    assert work(BenchJob(stones=(DIAMOND, EMERALD))).result.cleaning == left.result.cleaning


def test_torch_halts_a_glass_filled_ruby_and_warns_of_flux_on_a_sapphire() -> None:
    ruby = BenchStone(name="red", material="ruby", setting=Setting.CLAW, torch=Bears.NEVER, pickle=Bears.NEVER)
    sapphire = replace(
        DIAMOND,
        name="blue",
        material="sapphire",
        torch=Bears.USUALLY,
        cautions=("No flux or boric acid on the stone.",),
    )
    assert work(BenchJob(stones=(ruby,), asked=("solder-set",))).verdict is Level.HALT
    allowed = work(BenchJob(stones=(sapphire,), asked=("solder-set",)))
    assert allowed.verdict is Level.FINE
    assert "No flux" in allowed.remarks[0].says


def test_risky_is_to_heed_and_clean_usually_is_fine() -> None:
    remarks = judge_exposure("pickle", (EMERALD, replace(EMERALD, pickle=Bears.YES)), "Pickle")
    assert [r.level for r in remarks] == [Level.HEED]
    assert remarks[0].limit_source == "two suppliers' charts"
    with pytest.raises(KeyError):
        judge_exposure("sandblast", (EMERALD,), "Blast")


def test_nickel_white_must_not_meet_water_while_red() -> None:
    asked = work(BenchJob(coolant="water", quench_min=0.5), NICKEL)
    assert asked.verdict is Level.HALT
    (halt,) = [r for r in asked.remarks if r.level is Level.HALT]
    assert halt.kind == "quench-water" and "cool in air" in halt.change
    left = work(BenchJob(), NICKEL)
    assert left.verdict is Level.FINE and left.result.coolant == "air"
    assert work(BenchJob(coolant="air"), NICKEL).verdict is Level.FINE


def test_quench_by_alloy() -> None:
    def row(**other: Any) -> tuple[str, float, float]:
        height = other.pop("height", 60.0)
        found, low, high, _ = quench_of(alloy(**other), tables().quench, flask_height_mm=height)
        return found.key, low, high

    assert row() == ("gold-yellow", 8, 15)
    assert row(colour="red") == ("gold-red", 4, 8)
    assert row(composition={"Au": 75.0, "Pd": 15.0, "Ni": 7.0, "Cu": 3.0})[0] == "gold-nickel-white"
    assert row(composition={"Au": 75.0, "Pd": 15.0, "Ag": 10.0}) == ("gold-palladium-white", 10, 20)
    assert row(composition={"Au": 99.5}, fineness_permille=995.0)[1] == 30
    silver = {"metal": "silver", "fineness_permille": 925.0, "composition": {"Ag": 92.5, "Cu": 7.5}}
    assert row(**silver) == ("silver", 5, 10)
    assert row(**silver, height=200) == ("silver", 15, 20)
    assert row(metal="silver", fineness_permille=935.0, composition={"Ag": 93.5, "Ge": 1.0})[1:] == (20, 25)
    with pytest.raises(BadInput, match="no row of the quench table"):
        row(metal="steel")


def test_early_and_slow_quench_are_to_heed() -> None:
    assert [r.kind for r in work(BenchJob(coolant="water", quench_min=2.5)).remarks] == ["quench-early"]
    assert not work(BenchJob(coolant="water", quench_min=10)).remarks
    red = alloy(colour="red")
    assert [r.kind for r in work(BenchJob(coolant="air"), red).remarks] == ["quench-slow"]
    assert not work(BenchJob(coolant="alcohol", quench_min=5), red).remarks


@pytest.mark.parametrize(
    ("job", "hours", "says"),
    [
        (BenchJob(asked=("polishh",)), {}, "asked.polishh: no bench task is called 'polishh'; did you mean 'polish'?"),
        (BenchJob(), {"pollish": 1.0}, "hours.pollish: no bench task is called 'pollish'; did you mean 'polish'?"),
        (BenchJob(), {"polish": -1.0}, "hours.polish: -1 h"),
        (BenchJob(area_cm2=-2), {}, "area_cm2: -2; zero or more"),
        (BenchJob(burnout_h=float("nan")), {}, "burnout_h: nan"),
        (BenchJob(stones=(replace(DIAMOND, setting_risk=9),)), {}, "stone centre: setting risk 9; 1 (low) to 5 (high)"),
        (BenchJob(quench_min=-1), {}, "quench: a wait of -1 min"),
    ],
)
def test_bad_input_is_told_in_one_sentence(job: BenchJob, hours: dict[str, float], says: str) -> None:
    with pytest.raises(BadInput) as caught:
        work(job, hours=hours)
    assert len(caught.value.mistakes) == 1
    assert str(caught.value).startswith(says)


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(BadInput) as caught:
        work(BenchJob(area_cm2=-1, letters=-1), hours={"nothing-like-it": 1.0})
    assert len(caught.value.mistakes) == 3


def test_working_days_by_hand() -> None:
    assert working_days([(3, 0)], 6) == 0.5
    assert working_days([(6, 0), (3, 0)], 6) == 1.5
    # Six hours, then the kiln from hour 6 to 20 of the first day; the next task starts on the second morning.
    assert working_days([(6, 14), (3, 0)], 6) == 1.5
    # The kiln runs into the bench hours of the second day.
    assert working_days([(6, 20), (1, 0)], 6) == pytest.approx(1 + 3 / 6)
    # What ends at night is done at the end of that working day.
    assert working_days([(2, 10)], 6) == 1
    assert working_days([], 6) == 0
    for wrong in (0, -1, 25, float("nan")):
        with pytest.raises(BadInput):
            working_days([(1, 0)], wrong)


@given(
    st.lists(st.tuples(st.floats(0, 9), st.floats(0, 30)), max_size=12),
    st.floats(0.5, 12),
    st.floats(0, 5),
)
def test_more_work_never_ends_sooner(lines: list[tuple[float, float]], day: float, more: float) -> None:
    shorter = working_days(lines, day)
    assert working_days([*lines, (more, 0)], day) >= shorter - 1e-6
    hands = sum(h for h, _ in lines)
    assert shorter >= hands / day - 1e-6


def test_ready_on_skips_closed_days() -> None:
    friday = dt.date(2026, 1, 2)
    assert ready_on(friday, 1) == friday
    assert ready_on(friday, 1.2) == dt.date(2026, 1, 5)
    assert ready_on(dt.date(2026, 1, 3), 0.5) == dt.date(2026, 1, 5)
    assert ready_on(friday, 2, closed_dates={dt.date(2026, 1, 5)}) == dt.date(2026, 1, 6)
    assert ready_on(friday, 1, away_days=7) == dt.date(2026, 1, 9)
    assert ready_on(friday, 1, away_days=8) == dt.date(2026, 1, 12)
    with pytest.raises(BadInput):
        ready_on(friday, -1)
    with pytest.raises(BadInput, match="never open"):
        ready_on(friday, 1, closed_weekdays=range(7))


def test_a_promise_that_cannot_be_kept_is_to_heed() -> None:
    ready = dt.date(2026, 3, 12)
    (late,) = judge_due(ready, dt.date(2026, 3, 10))
    assert late.level is Level.HEED and late.figure == 2
    assert [r.level for r in judge_due(ready, ready)] == [Level.FINE]
    assert judge_due(ready, None) == ()


def test_elapsed_days_carry_the_spread_of_the_hours() -> None:
    result = work().result
    assert 1.5 < result.elapsed_days.value < 5
    assert 0 < result.elapsed_days.plus_minus < result.elapsed_days.value


def test_every_caution_defers_and_every_key_used_is_a_caution() -> None:
    facts = tables()
    everything = cautions((row.key for row in facts.cautions), facts.cautions, facts.hazards)
    assert everything and all(c.says.endswith(DEFERS) for c in everything)
    used_keys = {key for row in facts.bench_tasks for key in row.cautions}
    assert used_keys <= {row.key for row in facts.cautions}
    burnout_keys = {"burnout-smoke", "sulfur-dioxide", "hot-flask", "silica-dust", "resin"}
    assert burnout_keys <= {row.key for row in facts.cautions}
    silica = next(c for c in everything if c.key == "silica-dust")
    assert "limit 50 µg/m³" in silica.figures[0] and "action level 25" in silica.figures[0]
    twice = cautions(("pickle", "pickle"), facts.cautions, facts.hazards)
    assert len(twice) == 1
    with pytest.raises(BadInput, match="did you mean 'pickle'"):
        cautions(("pickel",), facts.cautions, facts.hazards)


def test_plan_gathers_the_cautions_of_its_tasks_in_order() -> None:
    result = work().result
    assert result.cautions[0] == "resin" and "molten-metal" in result.cautions
    assert len(set(result.cautions)) == len(result.cautions)


def test_air_against_limits() -> None:
    silica = used(tables().hazards, "silica")
    assert [judge_air(silica, ug_m3=x).level for x in (10, 30, 60)] == [Level.FINE, Level.HEED, Level.HALT]
    assert judge_air(silica, ug_m3=30).limit == 25
    for wrong in ({"ppm": 3.0}, {}, {"ug_m3": -1.0}, {"ug_m3": 1.0, "ppm": 1.0}):
        with pytest.raises(BadInput):
            judge_air(silica, **wrong)


def test_wash_station_against_the_flash_point() -> None:
    wash = used(tables().hazards, "isopropanol")
    assert judge_flash(wash, 21).level is Level.HEED
    assert judge_flash(wash, 5).level is Level.FINE
    with pytest.raises(BadInput):
        judge_flash(used(tables().hazards, "silica"), 21)
