"""The pattern: sizes back and forward, the stocked solid, the remarks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.steps.pattern import Chain, back, closed_cavities, forward, inscribed_hole_mm, stocked
from ringwright.terms.commission import State
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.remark import Level
from ringwright.terms.workshop import Habits
from tests.steps import solids
from tests.steps.pattern_facts import FACTS, GYPSUM, gold, prepare

WIDTH, THICK = 2.4, 1.6
BAND = solids.band(17.3, WIDTH, THICK)
SOLITAIRE = solids.solitaire(17.0)


@pytest.fixture(scope="module")
def finished() -> Outcome[PatternFigures]:
    return prepare(BAND, 17.3, ordered_inner_diameter_mm=17.3, thinnest_wall_mm=0.7)


def kinds(outcome: object) -> dict[str, Level]:
    return {r.kind: r.level for r in outcome.remarks}  # type: ignore[attr-defined]


chains = st.builds(
    Chain,
    contraction_percent=st.floats(-1, 8),
    print_shrink_percent=st.floats(-0.5, 3),
    inside_stock_mm=st.floats(0, 0.3),
    outside_stock_mm=st.floats(0, 0.3),
)


@given(chains, st.floats(2, 40), st.booleans())
def test_back_and_forward_is_the_same_length(chain: Chain, length: float, hole: bool) -> None:
    there = back(length, chain, hole=hole)
    again = forward(there.set_mm, chain, hole=hole)
    assert again.finished_mm == pytest.approx(length, abs=1e-9)
    assert again.cast_mm == pytest.approx(there.cast_mm, abs=1e-9)


@given(chains, st.floats(0.01, 3), st.booleans())
def test_more_contraction_makes_a_larger_pattern(chain: Chain, more: float, hole: bool) -> None:
    larger = replace(chain, contraction_percent=chain.contraction_percent + more)
    assert back(17.3, larger, hole=hole).set_mm > back(17.3, chain, hole=hole).set_mm


@given(chains, st.floats(0.001, 0.3))
def test_more_stock_narrows_the_hole_and_widens_the_outside(chain: Chain, more: float) -> None:
    thick = replace(
        chain,
        inside_stock_mm=chain.inside_stock_mm + more,
        outside_stock_mm=chain.outside_stock_mm + more,
    )
    assert back(17.3, thick, hole=True).set_mm < back(17.3, chain, hole=True).set_mm
    assert back(17.3, thick).set_mm > back(17.3, chain).set_mm


@pytest.mark.parametrize(
    "wrong", [{"inside_stock_mm": -0.1}, {"contraction_percent": 40.0}, {"outside_stock_mm": float("nan")}]
)
def test_a_chain_that_cannot_be(wrong: dict[str, float]) -> None:
    with pytest.raises(BadInput, match="habits"):
        Chain(**({"contraction_percent": 1.3} | wrong))


def test_stock_on_a_band_is_exact() -> None:
    inside, outside = 0.06, 0.13
    grown = stocked(BAND, 17.3, inside, outside)
    assert solids.closed(grown)
    assert inscribed_hole_mm(grown, 17.2) == pytest.approx(inscribed_hole_mm(BAND, 17.3) - 2 * inside, abs=0.003)
    low, high = grown.vertices_mm.min(axis=0), grown.vertices_mm.max(axis=0)
    assert high[2] - low[2] == pytest.approx(WIDTH + 2 * outside, abs=0.002)
    assert high[1] == pytest.approx(17.3 / 2 + THICK + outside, abs=0.003)
    # The grown rectangle less what the two outer edges lose by being round; every edge loses a bevel of half a cell.
    deep, wide = THICK + inside + outside, WIDTH + 2 * outside
    section = deep * wide - 2 * (1 - np.pi / 4) * outside**2
    exact = 2 * np.pi * (17.3 / 2 - inside + deep / 2) * section
    bevels = 4 * 2 * np.pi * 10 * 0.1**2 / 2
    assert exact - bevels < solids.volume(grown) < exact * 1.0001


def test_stock_on_a_solitaire_is_closed_and_everywhere_as_thick_as_asked() -> None:
    from ringwright.science.surface import surface

    grown = stocked(SOLITAIRE, 17.0, 0.06, 0.13)
    assert solids.closed(grown)
    assert inscribed_hole_mm(grown, 16.9) == pytest.approx(inscribed_hole_mm(SOLITAIRE, 17.0) - 0.12, abs=0.004)
    away = surface(SOLITAIRE).distance_mm(grown.vertices_mm)
    assert away.max() < np.hypot(0.13, 0.06) + 0.01
    head = grown.vertices_mm[:, 1] > 12.5
    assert away[head].min() > 0.12
    assert np.median(away[head]) == pytest.approx(0.13, abs=0.001)


def test_no_stock_leaves_the_solid_as_it_is() -> None:
    assert stocked(BAND, 17.3, 0.0, 0.0) is BAND


def test_equal_stock_inside_and_outside_and_none_inside() -> None:
    narrow = solids.band(17.3, 1.2, 1.0)
    for inside in (0.0, 0.13):
        grown = stocked(narrow, 17.3, inside, 0.13)
        assert solids.closed(grown)
        assert inscribed_hole_mm(grown, 17.2) == pytest.approx(17.2987 - 2 * inside, abs=0.004)


def test_a_brace_across_the_hole_is_not_the_hole() -> None:
    braced = solids.united(BAND, solids.rod((-9.0, 0, 0), (9.0, 0, 0), 0.5))
    assert inscribed_hole_mm(braced, 17.3) == pytest.approx(17.3, abs=0.01)


def test_finished_ring_of_the_ordered_size(finished: Outcome[PatternFigures]) -> None:
    found = finished
    r = found.result
    assert r.scale_percent == pytest.approx(101.3)
    assert r.set_inner_diameter_mm == pytest.approx((17.3 - 0.12) * 1.013)
    assert r.inner_diameter_mm.value == pytest.approx(17.3, abs=17.3 * 0.025 / 100)
    # Added in quadrature: 0.4 % of contraction, twice 0.03 mm of stock, 0.03 mm and 0.2 % of print.
    pattern = r.pattern_inner_diameter_mm
    causes = (pattern * 0.004, 2 * 0.03, 0.03 * 0.987, pattern * 0.002 * 0.987)
    assert r.inner_diameter_mm.plus_minus == pytest.approx(float(np.sqrt(np.sum(np.square(causes)))))
    assert r.cast_mass_g.value > r.finished_mass_g.value
    assert abs(r.hole_error_mm) < 0.02
    assert inscribed_hole_mm(found.body("pattern").mesh, 17.4) == pytest.approx(r.set_inner_diameter_mm, abs=0.02)
    assert kinds(found)["size-spread"] is Level.FINE
    assert all(abs(one.value) <= one.bound for one in found.residuals)


def test_the_state_says_what_is_done(finished: Outcome[PatternFigures]) -> None:
    cast = prepare(BAND, 17.3, State.RAW_CASTING).result
    pattern = prepare(BAND, 17.3, State.PATTERN).result
    assert finished.result.outside_stock_mm == pytest.approx(0.13)
    assert (cast.outside_stock_mm, cast.inside_stock_mm) == (0.0, 0.0)
    assert cast.cast_inner_diameter_mm.value == pytest.approx(17.3, abs=0.005)
    assert cast.inner_diameter_mm.value == pytest.approx(17.42, abs=0.005)
    assert pattern.scale_percent == 100.0
    assert pattern.pattern_inner_diameter_mm == pytest.approx(17.3)
    assert pattern.inner_diameter_mm.value == pytest.approx(17.3 * 0.987 + 0.12)
    assert cast.finished_mass_g.value < cast.cast_mass_g.value


def test_the_shops_own_contraction_takes_the_place_of_the_facts() -> None:
    own = prepare(
        BAND, 17.3, State.RAW_CASTING, habits=Habits(contraction_percent=1.1, contraction_spread_percent=0.1)
    ).result
    assert own.contraction_percent.value == 1.1
    assert own.scale_percent == pytest.approx(101.1)
    assert own.spread_contraction_mm == pytest.approx(own.pattern_inner_diameter_mm * 0.001)


def test_a_wide_spread_is_told_and_the_remedy_takes_it_away() -> None:
    wide = Habits(contraction_percent=1.3, contraction_spread_percent=1.0)
    assert kinds(prepare(BAND, 17.3, State.RAW_CASTING, habits=wide))["size-spread"] is Level.HEED
    narrow = replace(wide, contraction_spread_percent=0.2)
    assert kinds(prepare(BAND, 17.3, State.RAW_CASTING, habits=narrow))["size-spread"] is Level.FINE


def test_a_contraction_that_metal_and_mould_do_not_explain() -> None:
    odd = prepare(BAND, 17.3, State.RAW_CASTING, habits=Habits(contraction_percent=2.0))
    assert kinds(odd)["contraction-odd"] is Level.HEED
    assert "contraction-odd" not in kinds(prepare(BAND, 17.3, State.RAW_CASTING))


def test_a_wrong_size_is_told_with_what_to_draw() -> None:
    off = prepare(BAND, 17.3, State.PATTERN, ordered_inner_diameter_mm=17.6)
    remark = next(r for r in off.remarks if r.kind == "size-off")
    assert remark.level is Level.HEED and "small" in remark.says
    assert "larger" in remark.change


def test_thin_walls_and_walls_that_go(finished: Outcome[PatternFigures]) -> None:
    cast = State.RAW_CASTING
    assert kinds(prepare(BAND, 17.3, cast, thinnest_wall_mm=0.6))["wall-cast"] is Level.HEED
    assert kinds(prepare(BAND, 17.3, cast, thinnest_wall_mm=1.2))["wall-cast"] is Level.FINE
    assert kinds(prepare(BAND, 17.3, cast, thinnest_wall_mm=0.2))["wall-gone"] is Level.HALT
    assert finished.result.cast_wall_mm == pytest.approx(0.7 + 0.06 + 0.13, abs=0.001)


def test_a_shut_hollow_halts() -> None:
    from ringwright.science.solids import without

    hollow = solids.united(BAND, solids.box((-4, 8.6, -1.9), (4, 14, 1.9)))
    shut = without(hollow, [solids.box((-1.5, 11, -1.5), (1.5, 13, 1.5))])
    assert closed_cavities(shut) == 1
    assert kinds(prepare(shut, 17.3, State.RAW_CASTING))["cavity"] is Level.HALT
    opened = without(shut, [solids.rod((0, 12, 0), (0, 15, 0), 0.5)])
    assert "cavity" not in kinds(prepare(opened, 17.3, State.RAW_CASTING))


def test_habits_that_no_source_knows() -> None:
    much = prepare(BAND, 17.3, State.RAW_CASTING, habits=Habits(polish_stock_mm=0.5))
    little = prepare(BAND, 17.3, State.RAW_CASTING, habits=Habits(polish_stock_mm=0.0, filing_stock_mm=0.01))
    assert [r.figure for r in much.remarks if r.kind == "stock-odd"] == [0.55]
    assert [r.figure for r in little.remarks if r.kind == "stock-odd"] == [0.01]


@pytest.mark.parametrize(
    ("hole", "more", "words"),
    [
        (0.0, {}, "finger hole of 0.0 mm"),
        (float("nan"), {}, "finger hole of nan mm"),
        (17.3, {"size_step_mm": 0.0}, "size step"),
        (17.3, {"habits": Habits(inside_stock_mm=9.0)}, "close the finger hole"),
        (17.3, {"printers": (), "by_hand": "waks"}, "did you mean 'wax'"),
        (17.3, {"investment": replace(GYPSUM, binder="plaster")}, "no contraction for a binder"),
    ],
)
def test_bad_input_is_one_sentence(hole: float, more: dict[str, object], words: str) -> None:
    with pytest.raises(BadInput) as told:
        prepare(BAND, hole, State.RAW_CASTING, **more)
    assert words in str(told.value)
    assert len(told.value.mistakes) == 1


def test_an_open_or_inside_out_solid_is_refused() -> None:
    from ringwright.terms.body import Mesh

    with pytest.raises(BadInput, match="closed"):
        prepare(Mesh(BAND.vertices_mm, BAND.faces[5:]), 17.3)
    with pytest.raises(BadInput, match="face outward"):
        prepare(Mesh(BAND.vertices_mm, BAND.faces[:, ::-1]), 17.3, State.RAW_CASTING)


def test_a_shop_without_a_printer_carves_it() -> None:
    r = prepare(BAND, 17.3, State.RAW_CASTING, printers=()).result
    assert (r.printer, r.layers, r.printers) == (None, None, ())
    assert r.material == "wax"


def test_every_mould_has_a_route_and_every_route_a_mould() -> None:
    binders = {row.binder for row in FACTS.investments}
    routes = {row.key for row in FACTS.contraction}
    assert binders <= routes


def test_metal_alone_and_mould_alone() -> None:
    r = prepare(BAND, 17.3, State.RAW_CASTING).result
    alloy = gold()
    assert r.metal_contraction_percent == pytest.approx(alloy.mean_expansion_per_MK * 1e-4 * (alloy.solidus_C - 20))
    assert 0.7 < r.mould_expansion_percent < 0.85


def test_a_wall_that_becomes_known_later_says_the_same(finished: Outcome[PatternFigures]) -> None:
    from ringwright.steps.pattern import with_wall
    from ringwright.terms.workshop import Habits

    later = with_wall(replace(finished, remarks=()), 0.7, Habits())
    assert later.result.cast_wall_mm == pytest.approx(finished.result.cast_wall_mm)
    assert kinds(later)["wall-cast"] is kinds(finished)["wall-cast"]
    assert with_wall(finished, None, Habits()) is finished
