"""An alloy with every figure: published, or by a rule that is named."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import pytest

from ringwright.steps import metal
from ringwright.steps.metal import mixing
from ringwright.terms.alloy import Alloy, AlloyFact
from ringwright.terms.facts import used
from ringwright.terms.metal import OwnAlloy
from ringwright.terms.mistake import BadInput
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level
from tests.steps.metal_facts import ELEMENTS, FACTS, KEYS, resolve, row_of

THERMAL = {
    "cp_solid_J_kgK": "cp-solid",
    "cp_liquid_J_kgK": "cp-liquid",
    "latent_kJ_kg": "latent",
    "liquid_density_g_cm3": "liquid-density",
    "freezing_shrinkage_percent": "shrinkage",
    "viscosity_mPas": "viscosity",
    "surface_tension_N_m": "surface-tension",
}


def kinds(remarks: object) -> list[str]:
    return [remark.kind for remark in remarks]  # type: ignore[attr-defined]


@pytest.mark.parametrize("key", KEYS)
def test_every_alloy_is_whole_or_refused_for_want_of_a_melting_range(key: str) -> None:
    row = row_of(key)
    if row.solidus_C is None or row.liquidus_C is None:
        with pytest.raises(BadInput, match="no solidus is published") as caught:
            resolve(key)
        assert len(caught.value.mistakes) == 1
        return
    alloy = resolve(key).result
    for field in fields(Alloy):
        value = getattr(alloy, field.name)
        if isinstance(value, Estimate):
            assert 0 < value.plus_minus < value.value, field.name
        elif isinstance(value, float):
            assert math.isfinite(value) and value > 0, field.name
    assert alloy.solidus_C <= alloy.liquidus_C
    assert alloy.liquid_density_g_cm3 < alloy.density_g_cm3.value
    assert alloy.source and alloy.quench


@pytest.mark.parametrize("key", KEYS)
def test_every_density_lies_within_the_limit_of_ideal_mixing(key: str) -> None:
    found = metal.density(key, FACTS.alloys, FACTS.elements, rules=FACTS.metal_rules)
    assert abs(found.value_g_cm3 / found.ideal_g_cm3 - 1) < 0.0241
    assert found.plus_minus_g_cm3 > 0


def test_white_golds_are_weighed_and_priced_though_they_cannot_be_cast() -> None:
    alloy = resolve("18k-pd15", casting=False).result
    assert alloy.density_g_cm3.value == 16.4
    assert math.isnan(alloy.solidus_C) and alloy.liquidus_C == 1300
    assert math.isfinite(alloy.mean_expansion_per_MK)


def test_the_refusal_names_alloys_of_the_same_colour_that_can_be_cast() -> None:
    with pytest.raises(BadInput) as caught:
        resolve("18k-ni17")
    assert "pt950-ru" in caught.value.mistakes[0].right
    assert "18k-pd15" not in caught.value.mistakes[0].right


def test_what_a_rule_gave_is_named_and_what_is_published_is_not() -> None:
    alloy = resolve("18k-3n").result
    assert alloy.from_rule == ("poisson",)
    assert "latent_kJ_kg" in resolve("18k-4n").result.from_rule
    assert "density_g_cm3" in resolve("ag958").result.from_rule
    assert "solidus_C" not in resolve("18k-4n").result.from_rule


def without(row: AlloyFact, *names: str) -> AlloyFact:
    return replace(row, **dict.fromkeys(names))


@pytest.mark.parametrize("key", ["18k-3n", "ag925", "pt950-ru"])
def test_each_rule_finds_the_recommended_set_of_the_working_alloys_within_its_stated_error(key: str) -> None:
    row = row_of(key)
    bare = tuple(without(r, *THERMAL) if r.key == key else r for r in FACTS.alloys)
    ruled = resolve(key, bare).result
    for name, rule in THERMAL.items():
        error = used(FACTS.metal_rules, rule).rule_error_percent or 0
        assert getattr(ruled, name) == pytest.approx(getattr(row, name), rel=error / 100), name
        assert name in ruled.from_rule


def test_mixing_the_heats_by_mass_would_be_far_too_high() -> None:
    shares = {"Au": 0.75, "Ag": 0.125, "Cu": 0.125}
    by_mass = sum(w * (ELEMENTS[s].latent_kJ_kg or 0) for s, w in shares.items())
    richards = mixing.latent(shares, ELEMENTS, 890, 0.15)
    assert by_mass == pytest.approx(87, abs=0.5)
    assert richards == pytest.approx(76, abs=0.5)


def test_conductivity_is_that_of_the_nearest_published_alloy_and_never_a_linear_mean() -> None:
    alloy = resolve("14k-yellow").result
    assert alloy.k_solid_W_mK == row_of("18k-3n").k_solid_W_mK
    linear = sum(w / 100 * ELEMENTS[s].k_W_mK for s, w in alloy.composition.items())
    assert alloy.k_solid_W_mK < linear / 2
    assert resolve("pd950-ru").result.k_solid_W_mK == row_of("pt950-ru").k_solid_W_mK
    assert resolve("ag958").result.k_solid_W_mK == row_of("ag925").k_solid_W_mK


def test_expansion_is_set_to_the_nearest_published_alloy() -> None:
    near = resolve("18k-4n").result.mean_expansion_per_MK
    assert near == pytest.approx(row_of("18k-3n").mean_expansion_per_MK, rel=0.02)
    alone = mixing.expansion({"Au": 0.75, "Ag": 0.125, "Cu": 0.125}, ELEMENTS, 1.22)
    assert alone == pytest.approx(18.5, abs=0.1)


def test_a_pure_metal_keeps_its_own_figures_under_every_rule() -> None:
    for symbol in ("Au", "Ag", "Cu", "Pt"):
        element, pure = ELEMENTS[symbol], {symbol: 1.0}
        assert mixing.ideal_density(pure, ELEMENTS) == pytest.approx(element.density_g_cm3)
        assert mixing.latent(pure, ELEMENTS, element.melting_C, 0) == pytest.approx(element.latent_kJ_kg)
        assert mixing.liquid_density(pure, ELEMENTS, element.melting_C) == pytest.approx(element.liquid_density_g_cm3)
        assert mixing.viscosity(pure, ELEMENTS, 0) == pytest.approx(element.viscosity_mPas)
        assert mixing.surface_tension(pure, ELEMENTS, trace=0.01, error=0.2, left_out=0) == pytest.approx(
            element.surface_tension_N_m
        )
        assert mixing.expansion(pure, ELEMENTS, 1.22) == pytest.approx(element.mean_expansion_per_MK)


def test_shares_sum_to_one() -> None:
    for key in KEYS:
        composition = row_of(key).composition
        assert sum(mixing.mole_shares(composition, ELEMENTS).values()) == pytest.approx(1)
        assert sum(mixing.volume_shares(composition, ELEMENTS).values()) == pytest.approx(1)


def test_too_much_left_out_gives_no_mean() -> None:
    assert mixing.mean({"a": 0.5, "b": 0.5}, {"a": 1.0, "b": None}, 0.15) is None
    assert mixing.mean({"a": 0.9, "b": 0.1}, {"a": 2.0, "b": None}, 0.15) == 2.0


def entered(key: str, **figures: object) -> tuple[AlloyFact, ...]:
    row = replace(row_of(key), preference="entered by the user", **figures)
    return (row, *(replace(r, preference="") for r in FACTS.alloys))


def test_a_density_far_above_ideal_mixing_is_doubted_and_one_just_below_the_limit_is_not() -> None:
    doubted = resolve("pt950-co", entered("pt950-co", density_g_cm3=20.80)).remarks
    remark = next(r for r in doubted if r.kind == "density-above-ideal")
    assert remark.level is Level.HEED
    assert "3.9 % above ideal 20.03" in remark.says
    assert remark.limit == 3 and remark.limit_source and remark.change
    assert "density-above-ideal" not in kinds(resolve("pt950-co", entered("pt950-co", density_g_cm3=20.5)).remarks)


def test_sources_that_disagree_are_told() -> None:
    outcome = resolve("pt950-co")
    assert outcome.result.density_g_cm3.value == pytest.approx(20.03, abs=0.01)
    assert "density-disagrees" in kinds(outcome.remarks)
    assert "density-disagrees" not in kinds(resolve("ag925").remarks)
    wide = resolve("9k-yellow").result.density_g_cm3
    assert wide.low <= 10.9 and wide.high >= 11.39


@pytest.mark.parametrize(
    ("key", "market", "expected"),
    [
        ("18k-ni17", "uk", ["nickel-release", "nickel-high"]),
        ("18k-ni17", "fr", ["nickel-release", "nickel-high"]),
        ("18k-ni17", "us", []),
        ("18k-pd15-ni7", "uk", ["nickel-release"]),
        ("18k-pd15", "uk", []),
        ("pt950-co", "us", ["cobalt"]),
    ],
)
def test_limited_elements_by_market(key: str, market: str, expected: list[str]) -> None:
    remarks = resolve(key, casting=False, market=market).remarks
    found = [r for r in remarks if r.kind in {row.key for row in FACTS.metal_limits}]
    assert kinds(found) == expected
    assert all(r.level is Level.HEED for r in found)


@pytest.mark.parametrize(("percent", "halts"), [(0.02, True), (0.01, True), (0.009, False)])
def test_cadmium_is_refused_from_its_limit_on(percent: float, halts: bool) -> None:
    remarks = metal.limited({"Ag": 60, "Cu": 40 - percent, "Cd": percent}, FACTS.metal_limits, "us", what="solder")
    assert (kinds(remarks) == ["cadmium"]) is halts
    assert all(r.level is Level.HALT for r in remarks)


def test_strengths_carry_their_spread() -> None:
    published = resolve("18k-3n").result
    assert published.yield_annealed_MPa == Estimate(265, pytest.approx(53))
    assert published.yield_cast_MPa.value == 400
    ruled = resolve("18k-4n").result
    assert ruled.yield_annealed_MPa == Estimate(pytest.approx(336), 45)
    assert {"yield_annealed_MPa", "yield_cast_MPa"} <= set(ruled.from_rule)


def test_an_alloy_that_hardens_on_slow_cooling_says_so() -> None:
    assert "age-hardening" in kinds(resolve("14k-yellow").remarks)
    assert "age-hardening" not in kinds(resolve("22k-yellow").remarks)


def test_unknown_alloy_names_the_nearest() -> None:
    with pytest.raises(BadInput) as caught:
        resolve("18k-3m")
    assert "no alloy is called '18k-3m'" in str(caught.value)
    assert "18k-3n" in str(caught.value)


@pytest.mark.parametrize(
    ("figures", "says"),
    [
        ({"composition": {"Au": 75, "Pd": 6.4, "Ag": 9.9, "Cu": 5.1, "Ni": 1.1, "Zn": 3.5}}, "sums to 101 %"),
        ({"solidus_C": 893.0, "liquidus_C": 802.0}, "solidus 893 °C above liquidus 802 °C"),
        ({"composition": {"Au": 75, "Xx": 25}}, "no figures for 25 % of 'Xx'"),
        ({"liquidus_C": None}, "no liquidus is published"),
    ],
)
def test_bad_rows_are_told_in_one_sentence(figures: dict[str, object], says: str) -> None:
    with pytest.raises(BadInput) as caught:
        resolve("18k-3n", entered("18k-3n", **figures))
    assert len(caught.value.mistakes) == 1
    assert says in str(caught.value)


def test_a_suppliers_solidus_makes_a_white_gold_castable() -> None:
    rows = metal.with_own(FACTS.alloys, [OwnAlloy(name="18k-pd15", like="18k-pd15", solidus_C=1240)])
    alloy = resolve("18k-pd15", rows).result
    assert (alloy.solidus_C, alloy.liquidus_C, alloy.density_g_cm3.value) == (1240, 1300, 16.4)
    assert "workshop's own" in alloy.source


def test_an_own_composition_takes_no_figure_of_another_alloy() -> None:
    own = OwnAlloy(
        name="our red",
        like="18k-5n",
        composition={"Au": 752, "Cu": 218, "Ag": 30},
        solidus_C=890,
        liquidus_C=900,
        density_g_cm3=15.1,
        hardness_annealed_HV=170,
    )
    alloy = resolve("our red", metal.with_own(FACTS.alloys, [own])).result
    assert alloy.fineness_permille == 752
    assert alloy.yield_annealed_MPa.value == pytest.approx(2.1 * 170)
    assert alloy.ideal_density_g_cm3 == pytest.approx(15.13, abs=0.03)
    assert resolve("18k-5n", metal.with_own(FACTS.alloys, [own])).result == resolve("18k-5n").result


def test_own_alloys_that_cannot_be_are_told() -> None:
    own = OwnAlloy(name="a", like="18k-3n")
    with pytest.raises(BadInput, match="it is given twice"):
        metal.with_own(FACTS.alloys, [own, own])
    with pytest.raises(BadInput, match="no alloy is called"):
        metal.with_own(FACTS.alloys, [OwnAlloy(name="a", like="19k")])


def test_hardness_of_an_own_platinum_alloy_comes_from_the_published_regression() -> None:
    own = OwnAlloy(name="pt-pd", like="pt950-ru", composition={"Pt": 950, "Pd": 50}, solidus_C=1730, liquidus_C=1760)
    alloy = resolve("pt-pd", metal.with_own(FACTS.alloys, [own])).result
    assert alloy.hardness_HV == pytest.approx(72.5)
    assert "hardness_HV" in alloy.from_rule


def test_an_own_alloy_is_read_from_the_workshops_file() -> None:
    from ringwright.desk.reading import workshop_in

    text = """
    [shop]
    name = "A shop"
    currency = "EUR"
    hour_rate = 60

    [[fine_price]]
    metal = "Au"
    per_g = 95

    [[alloy]]
    name = "our white"
    like = "18k-pd15"
    solidus = "1240 °C"
    density = "16.45 g/cm3"
    hardness_annealed = "110 HV"
    yield_annealed = "210 MPa"
    composition = { Au = "752 permille", Pd = "150 permille", Ag = "98 permille" }
    """
    own = workshop_in(text, "workshop.toml").alloy
    with pytest.raises(BadInput, match="no liquidus is published"):
        resolve("our white", metal.with_own(FACTS.alloys, own))
    alloy = resolve("our white", metal.with_own(FACTS.alloys, [replace(own[0], liquidus_C=1300)])).result
    assert (alloy.density_g_cm3.value, alloy.hardness_HV, alloy.yield_annealed_MPa.value) == (16.45, 110, 210)
    assert alloy.composition == {"Au": 75.2, "Pd": 15.0, "Ag": 9.8}
