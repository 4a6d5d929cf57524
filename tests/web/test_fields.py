"""Fields of a brief: shown as a form, and written back with comments and order kept."""

from __future__ import annotations

import pytest

from ringwright.desk.reading import commission_in
from ringwright.terms.mistake import BadInput
from ringwright.web import fields
from tests.desk.texts import COMMISSION


def value(text: str, place: str) -> str:
    return {one.place: one.value for part in fields.fields(text).values() for one in part}[place]


def test_every_field_of_a_brief_that_a_form_can_say_is_there() -> None:
    places = {one.place for part in fields.fields(COMMISSION).values() for one in part}
    assert {"commission.due", "finger.size", "metal.alloy", "stone.0.cut", "stone.0.seat.at", "model.state"} <= places
    assert "metal.own" not in places and "tree.gates" not in places


def test_a_change_keeps_all_else_as_it_was_written() -> None:
    text = "# first\n" + COMMISSION.replace('alloy = "18k-3n"', 'alloy = "18k-3n"  # as agreed')
    new = fields.changed(text, {"metal.alloy": "9k-yellow"})
    assert new == text.replace('"18k-3n"', '"9k-yellow"', 1)
    assert fields.changed(text, {"metal.alloy": "18k-3n", "finger.size": value(text, "finger.size")}) == text


def test_an_emptied_field_is_taken_out_with_its_table() -> None:
    text = COMMISSION + '\n[tree]\nflask = "small"\n'
    assert "[tree]" not in fields.changed(text, {"tree.flask": " "})
    assert fields.changed(COMMISSION, {"tree.flask": ""}) == COMMISSION


def test_a_whole_commission_is_made_of_fields() -> None:
    text = fields.changed(
        "",
        {
            "commission.number": "7", "commission.title": "Band", "commission.market": "uk",
            "commission.currency": "GBP", "commission.due": "2027-04-30", "finger.size": "M",
            "finger.system": "uk", "metal.alloy": "18k-3n",
            "starter.shape": "solitaire", "starter.claws": "4", "price.compare": "9k-yellow, ag925",
            "stone.0.name": "centre", "stone.0.cut": "oval", "stone.0.material": "sapphire", "stone.0.length": "7 mm",
            "stone.0.width": "5 mm", "stone.0.depth": "3 mm", "stone.0.seat.at": "0, 12, 0 mm",
        },
    )  # fmt: skip
    found = commission_in(text, "a.commission.toml")
    assert found.stone[0].seat is not None and found.stone[0].seat.at_mm == (0.0, 12.0, 0.0)
    assert found.commission.due is not None and found.starter is not None and found.starter.claws == 4
    assert found.price.compare == ("9k-yellow", "ag925")
    assert commission_in(fields.without_stone(text, 0), "a").stone == ()


@pytest.mark.parametrize(
    "place", ["commission.nothing", "__class__.x", "stone.0.nothing", "stone.x.cut", "metal", "", "stone.99999.cut"]
)
def test_a_place_that_no_form_has_is_refused(place: str) -> None:
    with pytest.raises(BadInput, match="is no field of a commission"):
        fields.changed(COMMISSION, {place: "a"})


def test_a_broken_text_is_told() -> None:
    with pytest.raises(BadInput, match="not TOML"):
        fields.fields("[commission\n")
