"""United States: the Federal Trade Commission's Guides, 16 CFR 23 as revised 16 August 2018."""

from __future__ import annotations

import pytest

from ringwright.steps.mark import check_carats, check_metal_words, check_stone_words, rows_of
from tests.agrees import agrees
from tests.tables import tables

ROWS = rows_of(tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings"))

SOURCE = "16 CFR 23.18(c): '.5 carat' could represent a diamond weight between .495 and .504"


def bounds_of(text: str, around: float) -> tuple[float, float]:
    """The least and the greatest thousandth of a carat that a text may stand for."""
    good = [
        i / 1000
        for i in range(int(around * 1000) - 30, int(around * 1000) + 31)
        if not check_carats(text, i / 1000, "us", ROWS)
    ]
    return min(good), max(good)


def test_the_guides_own_range() -> None:
    low, high = bounds_of(".5 carat", 0.5)
    agrees(low, 0.495, within=1e-9, absolute=True, source=SOURCE, what="'.5 carat', least weight in ct")
    agrees(high, 0.504, within=1e-9, absolute=True, source=SOURCE, what="'.5 carat', greatest weight in ct")


def test_half_a_carat_that_is_none() -> None:
    assert check_carats(".5 carat", 0.492, "us", ROWS)


def test_a_grown_stone_is_not_a_diamond_without_the_word() -> None:
    """16 CFR 23.12(c)(3) and 23.25(b)."""
    assert check_stone_words("diamond ring", "diamond", "laboratory-grown", "us", ROWS)
    assert not check_stone_words("laboratory-grown diamond ring", "diamond", "laboratory-grown", "us", ROWS)


@pytest.mark.parametrize("word", ["real", "genuine", "natural"])
def test_words_that_nothing_artificial_may_bear(word: str) -> None:
    """16 CFR 23.27."""
    text = f"{word} laboratory-grown diamond"
    assert {r.kind for r in check_stone_words(text, "diamond", "laboratory-grown", "us", ROWS)} == {
        "stone-word-forbidden"
    }


def test_gold_of_less_than_24_karat_needs_its_karat() -> None:
    """16 CFR 23.3(b)."""
    assert check_metal_words("gold ring", "gold", 750, "us", ROWS)
    assert not check_metal_words("18 karat gold ring", "gold", 750, "us", ROWS)


@pytest.mark.parametrize(("fineness", "plain"), [(950, True), (949, False), (900, False)])
def test_plain_platinum_begins_at_950(fineness: float, plain: bool) -> None:
    """16 CFR 23.6 by trade press."""
    assert (not check_metal_words("platinum ring", "platinum", fineness, "us", ROWS)) is plain


@pytest.mark.parametrize(("fineness", "plain"), [(925, True), (924, False)])
def test_plain_silver_begins_at_925(fineness: float, plain: bool) -> None:
    """16 CFR 23.5 by trade press."""
    assert (not check_metal_words("silver ring", "silver", fineness, "us", ROWS)) is plain
