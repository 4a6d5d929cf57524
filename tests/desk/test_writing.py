"""What is written reads back as the same values; an edit leaves the rest of the text alone."""

from __future__ import annotations

import dataclasses
import datetime as dt
import typing
from dataclasses import replace
from decimal import Decimal
from enum import Enum
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ringwright.desk._fields import slots
from ringwright.desk._values import Slot
from ringwright.desk.reading import commission_in, workshop_in
from ringwright.desk.writing import edited, toml_of
from ringwright.terms.commission import Commission, FingerBrief, ModelBrief
from ringwright.terms.workshop import Workshop
from tests.desk.texts import COMMISSION, WORKSHOP

TEXT = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=8)


def number(slot: Slot) -> st.SearchStrategy[float]:
    about = slot.about
    low = about.above if about.above is not None else about.low
    high = about.below if about.below is not None else about.high
    return st.floats(
        min_value=-1e6 if low is None else low,
        max_value=1e6 if high is None else high,
        exclude_min=about.above is not None,
        exclude_max=about.below is not None,
        allow_nan=False,
    )


def value(slot: Slot, hint: Any) -> st.SearchStrategy[Any]:
    args = typing.get_args(hint)
    if typing.get_origin(hint) is tuple:
        if args[-1] is Ellipsis:
            unique = (lambda one: getattr(one, "name", getattr(one, "metal", one))) if args[0] is not str else None
            return st.lists(value(slot, args[0]), max_size=3, unique_by=unique).map(tuple)
        return st.tuples(*[st.floats(-1e3, 1e3, allow_nan=False) for _ in args])
    if typing.get_origin(hint) is dict:
        return st.dictionaries(TEXT, number(slot), max_size=2)
    if dataclasses.is_dataclass(hint):
        return whole(typing.cast("type[Any]", hint))
    if issubclass(hint, Enum):
        return st.sampled_from(list(hint))
    if slot.about.choices:
        return st.sampled_from(slot.about.choices)
    if hint is Decimal:
        return st.integers(1, 10**7).map(lambda cents: Decimal(cents) / 100)
    return {
        str: TEXT,
        bool: st.booleans(),
        int: st.integers(int(slot.about.low or 0), 1000),
        float: number(slot),
        dt.date: st.dates(),
    }[hint]


def whole(kind: type[Any]) -> st.SearchStrategy[Any]:
    return st.builds(
        kind,
        **{
            slot.name: value(slot, slot.hint) if slot.required else st.just(slot.default()) | value(slot, slot.hint)
            for slot in slots(kind)
        },
    )


def consistent(found: Commission) -> Commission:
    return replace(
        found,
        commission=replace(found.commission, currency="GBP"),
        finger=FingerBrief(size="M", system="uk", inside=found.finger.inside, band_width_mm=found.finger.band_width_mm),
        model=None if found.starter else found.model or ModelBrief(file="a.stl"),
        stone=tuple(
            replace(s, seat=replace(s.seat, facing=(0.0, 0.0, 1.0)) if s.seat and not any(s.seat.facing) else s.seat)
            for s in found.stone
        ),
    )


def consistent_shop(found: Workshop) -> Workshop:
    return replace(
        found,
        shop=replace(found.shop, currency="GBP"),
        stock=tuple(replace(lot, composition={"Au": 999.9, "Ag": 0.1}) for lot in found.stock),
    )


quick = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@quick
@given(whole(Commission).map(consistent))
def test_a_commission_reads_back_as_it_was_written(found: Commission) -> None:
    assert commission_in(toml_of(found), "a.toml") == found


@quick
@given(whole(Workshop).map(consistent_shop))
def test_a_workshop_reads_back_as_it_was_written(found: Workshop) -> None:
    assert workshop_in(toml_of(found), "w.toml") == found


@quick
@given(whole(Commission).map(consistent))
def test_any_edit_reads_back_as_what_was_meant(found: Commission) -> None:
    assert commission_in(edited(COMMISSION, "a.toml", found), "a.toml") == found


@quick
@given(whole(Workshop).map(consistent_shop))
def test_any_edit_of_a_workshop_reads_back_as_what_was_meant(found: Workshop) -> None:
    assert workshop_in(edited(WORKSHOP, "w.toml", found), "w.toml") == found


def test_an_edit_without_a_change_leaves_the_text_as_it_is() -> None:
    assert edited(COMMISSION, "a.toml", commission_in(COMMISSION, "a.toml")) == COMMISSION
    assert edited(WORKSHOP, "w.toml", workshop_in(WORKSHOP, "w.toml")) == WORKSHOP


def test_an_edit_changes_its_own_line_only() -> None:
    found = commission_in(COMMISSION, "a.toml")
    stone = replace(found.stone[0], depth_mm=3.55, owner=type(found.stone[0].owner).SHOP)
    after = edited(COMMISSION, "a.toml", replace(found, stone=(stone,)))
    want = COMMISSION.replace('depth = "3.4 mm"', 'depth = "3.55 mm"').replace('owner = "client"', 'owner = "shop"')
    assert after == want


def test_a_text_is_quoted_whatever_it_holds() -> None:
    found = commission_in(COMMISSION, "a.toml")
    nasty = 'a "quoted"\n[metal]\nalloy = "x" \\ é 金'
    changed = replace(found, commission=replace(found.commission, title=nasty))
    assert commission_in(edited(COMMISSION, "a.toml", changed), "a.toml") == changed
    assert commission_in(toml_of(changed), "a.toml") == changed
