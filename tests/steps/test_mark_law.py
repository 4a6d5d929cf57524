"""The law of marks: which figure, exempt or not, what must, may and must never be done; and bad input."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.steps.mark import floor_permille, law, passes, permille_of, rows_of
from ringwright.terms.commission import MarkBrief
from ringwright.terms.mark import MarkPlace
from ringwright.terms.mistake import BadInput
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level
from tests.tables import tables

ROWS = rows_of(
    tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings", "letters")
)
MARKETS = tuple(row.key for row in ROWS.markets)
METALS = ("gold", "silver", "platinum", "palladium")
PLACE = MarkPlace(inner_diameter_mm=17.2, band_width_mm=4.0, wall_mm=1.5)


@pytest.mark.parametrize(
    ("market", "metal", "fineness", "figure", "mark"),
    [
        ("uk", "gold", 750, 750, "750"),
        ("uk", "gold", 916.7, 916, "916"),
        ("uk", "gold", 583.3, 375, "375"),
        ("uk", "gold", 585, 585, "585"),
        ("uk", "silver", 958.4, 958, "958"),
        ("ie", "gold", 840, 833, "833"),
        ("us", "gold", 585, 14 / 24 * 1000, "14K"),
        ("us", "gold", 583.3, 14 / 24 * 1000, "14K"),
        ("us", "gold", 750, 750, "18K"),
        ("us", "silver", 925, 925, "STERLING or 925"),
        ("us", "platinum", 950, 950, "PLAT or 950Pt"),
        ("us", "platinum", 900, 900, "900Pt"),
        ("ch", "platinum", 950, 950, "950 Pt"),
        ("no", "platinum", 952, 950, "950Pt"),
        ("de", "gold", 333.4, 333, "333"),
        ("de", "gold", 751.9, 751, "751"),
        ("in", "gold", 917, 916, "22K916"),
        ("nl", "gold", 999, 916, "916"),
        ("convention", "silver", 935, 925, "925"),
    ],
)
def test_the_figure_that_may_be_marked(market: str, metal: str, fineness: float, figure: float, mark: str) -> None:
    result = law(market, metal, fineness, 5.0, ROWS).result
    assert result.fineness_permille == pytest.approx(figure)
    assert result.mark == mark


@given(st.sampled_from(MARKETS), st.sampled_from(METALS), st.floats(300, 1000), st.floats(0.1, 60))
def test_no_mark_ever_claims_more_than_the_law_lets_it(market: str, metal: str, fineness: float, mass: float) -> None:
    outcome = law(market, metal, fineness, mass, ROWS)
    result = outcome.result
    if result.fineness_permille is None:
        assert outcome.verdict is not Level.FINE
        assert result.mark == ""
    else:
        assert result.fineness_permille <= fineness + result.minus_permille + 1e-5
        assert passes(market, metal, str(result.fineness_permille)[:5], fineness, "body", ROWS)
    assert result.exempt is (
        result.duty == "marks" and result.exempt_below_g is not None and mass < result.exempt_below_g
    )
    if result.exempt_below_g is not None and result.exempt:
        assert not any("struck by an assay office" in line for line in result.must)
    assert result.source and result.note


@given(st.sampled_from(MARKETS), st.sampled_from(METALS), st.floats(300, 999), st.floats(0, 1))
def test_a_finer_alloy_never_gets_a_lower_mark(market: str, metal: str, fineness: float, more: float) -> None:
    low, high = (law(market, metal, f, 5.0, ROWS).result.fineness_permille for f in (fineness, fineness + more))
    assert (low or 0) <= (high or 0)


def test_an_alloy_that_just_misses_a_figure_is_told_so() -> None:
    """14 karat is 583.3: in a market that knows no minus tolerance it is sold as 375."""
    outcome = law("uk", "gold", 14 / 24 * 1000, 5.0, ROWS)
    remark = next(r for r in outcome.remarks if r.kind == "mark-just-missed")
    assert remark.level is Level.HEED and remark.limit == 585
    mended = law("uk", "gold", 585.0, 5.0, ROWS)
    assert mended.result.fineness_permille == 585
    assert "mark-just-missed" not in {r.kind for r in mended.remarks}


def test_a_mark_that_leans_on_the_tolerance_is_told_so() -> None:
    leaning = law("us", "gold", 580.9, 5.0, ROWS)
    assert leaning.result.mark == "14K"
    assert [r.level for r in leaning.remarks if r.kind == "mark-leans"] == [Level.HEED]
    assert law("us", "gold", 580.3, 5.0, ROWS).result.mark == "12K"  # 3.03 under 14 karat is too much
    assert not [r for r in law("us", "gold", 583.0, 5.0, ROWS).remarks if r.kind == "mark-leans"]


def test_a_metal_under_the_lowest_figure_may_not_be_called_so() -> None:
    outcome = law("nl", "gold", 375, 5.0, ROWS)
    assert outcome.verdict is Level.HALT
    assert outcome.result.fineness_permille is None and outcome.result.must == ()
    assert "call it gold" in outcome.result.never[0]


def test_a_metal_that_the_law_does_not_know() -> None:
    outcome = law("fr", "palladium", 950, 5.0, ROWS)
    assert outcome.result.duty == "none" and outcome.result.must == ()
    assert [r.kind for r in outcome.remarks if r.level is Level.HEED] == ["metal-not-covered"]


def test_marks_that_the_maker_must_have_struck() -> None:
    result = law("uk", "gold", 750, 5.2, ROWS).result
    assert [line.split(",")[0] for line in result.must] == ["sponsor's mark", "fineness mark 750", "assay office mark"]
    assert any("common control mark" in line for line in result.may)
    assert any("above the assay" in line for line in result.never)


def test_four_marks_under_the_convention() -> None:
    result = law("convention", "gold", 750, 0.3, ROWS).result
    assert len(result.must) == 4 and "common control mark" in result.must
    assert not result.exempt and result.duty == "route"


def test_an_exempt_ring_may_still_be_marked() -> None:
    heavy, light = (law("uk", "silver", 925, mass, ROWS).result for mass in (8.0, 7.0))
    assert set(heavy.must) <= set(light.may)


def test_what_stays_a_duty_under_the_french_limit() -> None:
    result = law("fr", "silver", 925, 29.0, ROWS).result
    assert result.exempt
    assert any("maker's mark" in line for line in result.must)
    assert not any(line.startswith("guarantee mark") for line in result.must)
    assert any(line.startswith("guarantee mark") for line in law("fr", "silver", 925, 30.0, ROWS).result.must)


@pytest.mark.parametrize(("mass", "spread", "told"), [(0.98, 0.05, True), (1.02, 0.05, True), (1.2, 0.05, False)])
def test_a_mass_near_the_limit_is_told(mass: float, spread: float, told: bool) -> None:
    outcome = law("uk", "gold", 750, Estimate(mass, spread), ROWS)
    assert bool([r for r in outcome.remarks if r.kind == "mass-near-limit"]) is told
    assert outcome.result.exempt is (mass < 1.0)


def test_a_missing_sponsor_is_told_and_mended() -> None:
    def kinds(brief: MarkBrief, mass: float = 5.0) -> set[str]:
        return {r.kind for r in law("uk", "gold", 750, mass, ROWS, brief).remarks}

    assert "sponsor-missing" in kinds(MarkBrief())
    assert "sponsor-missing" not in kinds(MarkBrief(sponsor="RW"))


def test_rows_from_memory_are_told() -> None:
    swiss = law("ch", "gold", 750, 5.0, ROWS)
    assert "law-from-memory" in {r.kind for r in swiss.remarks} and swiss.result.checked_on is None
    british = law("uk", "gold", 750, 5.0, ROWS)
    assert "law-from-memory" not in {r.kind for r in british.remarks} and british.result.checked_on is not None


@pytest.mark.parametrize(("height", "kinds"), [(0.45, {"mark-too-low"}), (0.5, set()), (1.2, set())])
def test_the_swiss_height_of_figures(height: float, kinds: set[str]) -> None:
    outcome = law("ch", "gold", 750, 5.0, ROWS, MarkBrief(sponsor="RW", height_mm=height), PLACE)
    assert {r.kind for r in outcome.remarks} & {"mark-too-low", "letters-small"} == kinds


def test_small_letters_elsewhere_are_to_be_heeded_only() -> None:
    outcome = law("fi", "gold", 750, 5.0, ROWS, MarkBrief(sponsor="RW", height_mm=0.45), PLACE)
    assert [r.level for r in outcome.remarks if r.kind == "letters-small"] == [Level.HEED]


@pytest.mark.parametrize(("wall", "told"), [(0.79, True), (0.8, False), (1.5, False), (None, False)])
def test_metal_behind_the_punch(wall: float | None, told: bool) -> None:
    place = MarkPlace(inner_diameter_mm=17.2, band_width_mm=4.0, wall_mm=wall)
    outcome = law("uk", "gold", 750, 5.0, ROWS, MarkBrief(sponsor="RW"), place)
    thin = [r for r in outcome.remarks if r.kind == "wall-thin-for-punch"]
    assert bool(thin) is told
    assert bool([r for r in outcome.remarks if r.kind == "laser-caution"]) is told
    for remark in thin:
        assert remark.point_mm is not None
        assert math.hypot(*remark.point_mm[:2]) == pytest.approx(8.6)


@pytest.mark.parametrize(
    ("mark", "permille"),
    [
        ("14K", 14 / 24 * 1000),
        ("14 kt", 14 / 24 * 1000),
        ("585", 585),
        ("22K916", 916),
        ("950 Pt", 950),
        ("958.4", 958.4),
    ],
)
def test_what_a_mark_claims(mark: str, permille: float) -> None:
    assert permille_of(mark) == pytest.approx(permille)


@pytest.mark.parametrize(("mark", "permille"), [("sterling", 925), ("COIN", 900)])
def test_words_that_are_marks(mark: str, permille: float) -> None:
    assert permille_of(mark, ROWS) == permille


@pytest.mark.parametrize("mark", ["", "K", "25K", "gold", "5", "12345", "14K14K"])
def test_what_is_no_mark(mark: str) -> None:
    with pytest.raises(BadInput, match="is no fineness mark"):
        permille_of(mark, ROWS)


@pytest.mark.parametrize(
    ("market", "metal", "fineness", "mass", "sentence"),
    [
        ("ukk", "gold", 750, 5, "no market is called 'ukk'; did you mean 'uk'?"),
        ("atlantis", "gold", 750, 5, "no market is called 'atlantis'; known: ch, convention, de"),
        ("uk", "brass", 750, 5, "'brass' is no precious metal"),
        ("uk", "gold", 0, 5, "0 thousandths is no fineness"),
        ("uk", "gold", 1001, 5, "1001 thousandths is no fineness"),
        ("uk", "gold", math.nan, 5, "nan thousandths is no fineness"),
        ("uk", "gold", 750, 0, "0 g is no mass"),
        ("uk", "gold", 750, -2, "-2 g is no mass"),
        ("uk", "gold", 750, math.inf, "inf g is no mass"),
    ],
)
def test_bad_input(market: str, metal: str, fineness: float, mass: float, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        law(market, metal, fineness, mass, ROWS)
    assert sentence in str(caught.value)


def test_a_part_that_is_none() -> None:
    with pytest.raises(BadInput, match="body or whole"):
        floor_permille("us", "gold", "14K", "half", ROWS)


def test_a_market_may_be_named_in_full() -> None:
    assert law("Switzerland", "gold", 750, 5, ROWS).result.market == "ch"
    assert law("GB", "gold", 750, 5, ROWS).result.market == "uk"


def test_every_market_knows_every_metal_or_says_that_it_does_not() -> None:
    keys = {row.key for row in ROWS.finenesses}
    assert keys == {f"{market}-{metal}" for market in MARKETS for metal in METALS}
    for row in ROWS.finenesses:
        assert row.covered is bool(row.legal_permille or row.legal_karat or row.any_fineness), row.key


def test_no_placeholder_is_left_in_a_text() -> None:
    for market in MARKETS:
        for metal in METALS:
            for mass in (0.3, 50.0):
                result = law(market, metal, 925, mass, ROWS).result
                assert not [line for line in (*result.must, *result.may, *result.never) if "{" in line]
