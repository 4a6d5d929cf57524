"""How the papers write numbers."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from enum import StrEnum
from typing import Any

import pytest

from ringwright.papers.say import cash, clock, dwt, measure, money, ozt, shown, span
from ringwright.terms.quantity import Estimate, Figure
from ringwright.words.numbers import number
from tests.agrees import agrees

THIN = "\u202f"
NBSP = "\u00a0"


class Way(StrEnum):
    UP = "up there"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (1234.5, 2, "1234.50"),
        (12345.678, 1, f"12{THIN}345.7"),
        (-0.301, 1, "−0.3"),
        (-0.04, 1, "0.0"),
        (1e6, 0, f"1{THIN}000{THIN}000"),
        (float("nan"), 1, "–"),
        (float("inf"), 1, "–"),
        (None, 1, "–"),
        (Decimal("-9999.5"), 1, "−9999.5"),
    ],
)
def test_numbers(value: Any, digits: int, text: str) -> None:
    assert number(value, digits) == text


@pytest.mark.parametrize(
    ("value", "about", "text"),
    [
        (17.349, Figure("mm", 2, ""), f"17.35{NBSP}mm"),
        (Estimate(17.349, 0.081), Figure("mm", 2, ""), f"17.35{NBSP}±{NBSP}0.08{NBSP}mm"),
        (750.0, Figure("permille", 0, ""), "750‰"),
        (45.0, Figure("deg", 0, ""), "45°"),
        (12.0, Figure("%", 0, ""), f"12{NBSP}%"),
        (3, Figure("", 0, ""), "3"),
        (True, Figure("", 0, ""), "yes"),
        (Way.UP, Figure("", 0, ""), "up there"),
        ((1.0, -2.0, 0.5), Figure("mm", 1, ""), f"1.0, −2.0, 0.5{NBSP}mm"),
        (("a", "b"), Figure("", 0, ""), "a; b"),
        (dt.date(2027, 3, 4), Figure("", 0, ""), "4 March 2027"),
        (None, Figure("mm", 1, ""), "–"),
        ("", Figure("", 0, ""), "–"),
    ],
)
def test_a_value_by_its_description(value: Any, about: Figure, text: str) -> None:
    assert shown(value, about) == text


def test_spans_and_money() -> None:
    assert clock(5.5) == f"5{NBSP}h{NBSP}30{NBSP}min"
    assert clock(2.0) == f"2{NBSP}h"
    assert clock(0.999) == f"1{NBSP}h", "sixty minutes are an hour"
    assert span(13.128888) == "13:08"
    assert span(0.9999) == "1:00"
    assert money(Decimal("1304.26"), "GBP") == f"1304.26{NBSP}GBP"
    assert cash(Decimal(1900)) == "1900"
    assert cash(Decimal("-132.29")) == "−132.29"
    assert measure(None, "mm", 2) == "–"


def test_troy_weights() -> None:
    for ours, published, what in (
        (float(dwt(311.034768).split(NBSP)[0]), 200.0, "ten troy ounces in pennyweight"),
        (float(ozt(311.034768).split(NBSP)[0]), 10.0, "ten troy ounces in grams"),
    ):
        agrees(
            ours,
            published,
            within=1e-3,
            source="NIST Handbook 44, appendix C: 1 ozt = 31.1034768 g = 20 dwt",
            what=what,
        )
