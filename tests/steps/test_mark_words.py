"""Words in the papers: stones, weights and metals, right and wrong."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.steps.mark import check_carats, check_metal_words, check_stone_words, rows_of
from ringwright.terms.remark import Level
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_limits", "wordings", "letters"))


def stone(text: str, origin: str, market: str = "us", name: str = "diamond") -> set[str]:
    remarks = check_stone_words(text, name, origin, market, ROWS)
    assert all(r.level is Level.HALT and r.change for r in remarks)
    return {r.kind for r in remarks}


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        ("A ring with a diamond of 1.02 ct", {"stone-unqualified"}),
        ("A ring with a laboratory-grown diamond of 1.02 ct", set()),
        ("Lab-grown diamonds, 0.20 ct together", set()),
        ("laboratory-grown oval diamond", {"stone-unqualified"}),
        ("laboratory-grown cultured diamond", set()),
        ("a cultured diamond", {"stone-unqualified", "stone-word-alone"}),
        ("a genuine laboratory-grown diamond", {"stone-word-forbidden"}),
        ("laboratory-grown diamond; this diamond is lovely", {"stone-unqualified"}),
        ("a ring without a stone", set()),
    ],
)
def test_a_grown_diamond(text: str, kinds: set[str]) -> None:
    assert stone(text, "laboratory-grown") == kinds


def test_a_mined_diamond_is_a_diamond() -> None:
    assert stone("a diamond", "natural") == set()
    assert stone("a diamond", "") == set()
    assert stone("a diamond", "natural, Botswana") == set()


@pytest.mark.parametrize("origin", ["laboratory-grown", "lab grown", "Laboratory created", "CVD-grown", "synthetic"])
def test_an_origin_may_be_said_in_several_ways(origin: str) -> None:
    assert stone("a diamond", origin) == {"stone-unqualified"}


def test_other_stones_and_imitations() -> None:
    assert stone("a ruby", "laboratory-grown", name="ruby") == {"stone-unqualified"}
    assert stone("an imitation ruby", "glass", name="ruby") == set()
    assert stone("a faux ruby", "imitation", name="ruby") == {"stone-unqualified", "stone-word-forbidden"}
    assert stone("a treated ruby", "glass-filled", name="ruby") == {"stone-unqualified", "stone-word-forbidden"}
    assert stone("a composite ruby", "glass-filled", name="ruby") == set()


def test_a_market_without_rows_of_its_own_takes_those_that_hold_everywhere() -> None:
    assert stone("a diamond", "laboratory-grown", "uk") == {"stone-unqualified"}
    assert stone("a synthetic diamond", "laboratory-grown", "uk") == set()
    assert stone("a synthetic diamond", "laboratory-grown", "us") == {"stone-unqualified"}


def metal(text: str, name: str, fineness: float, market: str = "us") -> set[str]:
    return {r.kind for r in check_metal_words(text, name, fineness, market, ROWS)}


@pytest.mark.parametrize(
    ("text", "name", "fineness", "kinds"),
    [
        ("a gold ring", "gold", 750, {"metal-unqualified"}),
        ("an 18K gold ring", "gold", 750, set()),
        ("an 18 karat yellow gold ring", "gold", 750, set()),
        ("an 18 karat gold ring", "gold", 585, {"metal-overstated"}),
        ("a 14K gold ring", "gold", 583.3, set()),
        ("a 750 gold ring", "gold", 750, set()),
        ("a gold ring", "gold", 999.9, set()),
        ("sterling silver", "silver", 925, set()),
        ("a silver ring", "silver", 800, {"metal-unqualified"}),
        ("an 800 silver ring", "silver", 800, set()),
        ("a platinum ring", "platinum", 950, set()),
        ("a platinum ring", "platinum", 900, {"metal-unqualified"}),
        ("a 900 platinum ring", "platinum", 900, set()),
        ("a white ring", "palladium", 950, set()),
    ],
)
def test_the_metals_name(text: str, name: str, fineness: float, kinds: set[str]) -> None:
    assert metal(text, name, fineness) == kinds


def carats(text: str, mass: float) -> set[str]:
    return {r.kind for r in check_carats(text, mass, "us", ROWS)}


@pytest.mark.parametrize(
    ("text", "mass", "kinds"),
    [
        (".5 carat", 0.492, {"carats-untrue"}),
        (".5 carat", 0.4949, {"carats-untrue"}),
        (".5 carat", 0.495, set()),
        (".5 carat", 0.504, set()),
        (".5 carat", 0.505, {"carats-untrue"}),
        ("0.50 ct", 0.495, set()),
        ("1 ct", 0.96, {"carats-untrue"}),
        ("1 carat", 0.998, set()),
        ("1.31 ct", 1.31, set()),
        ("1.31ct", 1.297, {"carats-untrue"}),
        ("1.306 ct", 1.3061, set()),
        ("1.306 ct", 1.3052, {"carats-untrue"}),
        ("1/2 carat", 0.5, {"carats-fraction"}),
        ("1/2 carat (not exact: 0.47 to 0.54)", 0.5, set()),
        ("25 points", 0.25, {"carats-points"}),
        ("25 points (0.25 ct)", 0.25, set()),
        ("18 karat", 0.5, set()),
        ("a fine stone", 0.5, set()),
    ],
)
def test_stated_weights(text: str, mass: float, kinds: set[str]) -> None:
    assert carats(text, mass) == kinds


@given(st.integers(1, 5000))
def test_a_weight_rounded_to_two_decimals_is_always_right(thousandths: int) -> None:
    mass = thousandths / 1000
    remark = next(iter(check_carats("9.99 ct", mass, "us", ROWS)), None)
    right = remark.change.removeprefix("write ") if remark else "9.99 ct"
    assert carats(f"a stone of {right}", mass) == set()
