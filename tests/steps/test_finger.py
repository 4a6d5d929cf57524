"""The finger: sizes both ways, the tables that quarrel, the fit, and every kind of bad input."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.steps.finger import (
    blank_length_mm,
    circumference_mm,
    disagreements,
    fit,
    labels,
    rows_of,
    system_of,
)
from ringwright.terms.commission import FingerBrief
from ringwright.terms.facts import used
from ringwright.terms.mistake import BadInput
from ringwright.terms.remark import Level
from tests.tables import tables

ROWS = rows_of(tables("size_systems", "size_charts", "fit_allowances"))
KEYS = tuple(dict.fromkeys(row.key for row in ROWS.systems))


@pytest.mark.parametrize(
    ("text", "system", "same_as"),
    [
        ("N½", "uk", "N 1/2"),
        ("n 1/2", "uk", "N 1/2"),
        ("N.5", "uk", "N 1/2"),
        ("  N  1/2 ", "gb", "N 1/2"),
        ("UK N 1/2", None, "N 1/2"),
        ("D 1/2", "uk", "D½"),
        ("Z + 1", "au", "Z+1"),
        ("6.25", "us", "6 1/4"),
        ("6,25", "us", "6 1/4"),
        ("6¼", "us", "6 1/4"),
        ("6-1/4", "US", "6 1/4"),
        ("US 6 1/4", "us", "6 1/4"),
        ("ISO 8653-54", "iso", "54"),
        ("ISO 8653:2014-54", None, "54"),
        ("54 mm", "iso", "54"),
        ("54,0", "fr", "54"),
        ("17.3 mm", "diameter", "17.3"),
        ("17 1/4", "d", "17.25"),
    ],
)
def test_a_size_may_be_said_in_several_ways(text: str, system: str | None, same_as: str) -> None:
    key = system_of(system, ROWS).key if system else {"U": "uk", "I": "iso"}[text[0]]
    assert circumference_mm(text, system, ROWS) == circumference_mm(same_as, key, ROWS)


@pytest.mark.parametrize(
    ("text", "system", "sentence"),
    [
        ("N 1/4", "uk", "'N 1/4' is no size of United Kingdom"),
        ("NN", "uk", "a size is written like 'Q' or 'Q 1/2'"),
        ("A+1", "uk", "'A+1' is no size"),
        ("", "uk", "'' is no size"),
        ("6.3", "us", "6 1/4 or 6 3/8"),
        ("6 5/4", "us", "'6 5/4' is no size"),
        ("1/0", "us", "'1/0' is no size"),
        ("-3", "us", "'-3' is no size"),
        ("13.5", "jp", "13 or 14"),
        ("0", "jp", "1 or more"),
        ("nan", "iso", "'nan' is no size of ISO 8653"),
        ("17.3 mm", "us", "'17.3 mm' is no size"),
        ("54 mm", "ch", "'54 mm' is no size"),
        ("900", "iso", "an inner diameter of 10 to 28 mm"),
        ("5", "iso", "an inner diameter of 10 to 28 mm"),
        ("7", None, "the size '7' names no system; say which: ch, diameter, iso, jp, uk, us"),
        ("7", "uss", "no ring size system is called 'uss'; did you mean 'us'?"),
        ("US 7", "uk", "'US 7' names the system us, but the system is uk"),
        ("9" * 400, "iso", "is no size of ISO 8653"),
    ],
)
def test_what_is_no_size_gets_one_clear_sentence(text: str, system: str | None, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        circumference_mm(text, system, ROWS)
    assert len(caught.value.mistakes) == 1
    assert sentence in str(caught.value)


@given(key=st.sampled_from(KEYS), share=st.floats(0, 1))
def test_a_label_read_again_is_the_same_size(key: str, share: float) -> None:
    """Any circumference between 34 and 85 mm: the label is within half a step, and reads back to itself."""
    circumference = 34 + share * 51
    found = labels(circumference, ROWS).labels[key]
    system = used(ROWS.systems, key)
    step = system.step_mm / system.per_numbers / system.parts * (math.pi if system.measures == "diameter" else 1)
    again = circumference_mm(found.label, key, ROWS)
    assert again + found.residual_mm == pytest.approx(circumference, abs=1e-9)
    lowest = circumference_mm(labels(34, ROWS).labels[key].label, key, ROWS)
    if circumference >= lowest - step / 2:
        assert abs(found.residual_mm) <= step / 2 + 1e-9
    assert labels(again, ROWS).labels[key].label == found.label
    assert labels(again, ROWS).labels[key].residual_mm == pytest.approx(0, abs=1e-9)


@given(key=st.sampled_from(KEYS), low=st.floats(34, 85), more=st.floats(0, 5))
def test_more_finger_is_never_a_smaller_size(key: str, low: float, more: float) -> None:
    small, large = (labels(c, ROWS) for c in (low, min(low + more, 86)))
    inner = [circumference_mm(one.labels[key].label, key, ROWS) for one in (small, large)]
    assert inner[0] <= inner[1]


@given(st.text(max_size=12), st.sampled_from((*KEYS, None)))
def test_any_text_is_a_size_or_a_mistake(text: str, system: str | None) -> None:
    try:
        found = circumference_mm(text, system, ROWS)
    except BadInput as fault:
        assert len(fault.mistakes) == 1
    else:
        assert 10 * math.pi <= found <= 28 * math.pi


def test_half_way_between_two_sizes_the_larger_is_taken() -> None:
    assert labels(54.5, ROWS).labels["iso"].label == "55"
    assert labels(54.6875, ROWS).labels["uk"].label == "O"


def test_letters_go_on_beyond_z() -> None:
    assert circumference_mm("Z+1", "uk", ROWS) == 70.0
    assert labels(70.625, ROWS).labels["uk"].label == "Z+1 1/2"


def test_a_small_ring_gets_the_smallest_size_and_the_rest_as_residual() -> None:
    found = labels(36.0, ROWS).labels
    assert found["uk"].label == "A" and found["uk"].residual_mm == pytest.approx(-1.5)
    assert found["us"].label == "0"


def test_the_standard_writes_its_own_designation() -> None:
    assert labels(43.0, ROWS).labels["iso"].written == "ISO 8653-43"
    assert labels(43.0, ROWS).labels["iso"].residual_mm == 0.0


def test_tables_that_quarrel_are_told_with_the_difference() -> None:
    found = disagreements("7", "us", ROWS)
    letters = [one for one in found if one.theirs == "uk O"]
    assert len(letters) == 1
    assert letters[0].ours == "uk N 1/2" and letters[0].other_label
    assert letters[0].difference_mm == pytest.approx(55.0 - math.pi * 17.3228, abs=1e-9)
    assert [abs(one.difference_mm) for one in found] == sorted((abs(one.difference_mm) for one in found), reverse=True)


def test_a_quarrel_is_found_from_the_other_column_too() -> None:
    assert any(one.theirs == "us 7" and one.other_label for one in disagreements("O", "uk", ROWS))


def test_another_rule_of_the_same_system_is_told() -> None:
    found = [one for one in disagreements("N 1/2", "uk", ROWS) if "open code base" in one.source]
    assert [round(one.difference_mm, 3) for one in found] == [0.3]
    assert not found[0].other_label


def test_only_a_size_that_tables_dispute_is_to_be_heeded() -> None:
    def level(size: str, system: str) -> list[Level]:
        outcome = fit(FingerBrief(size=size, system=system), None, ROWS)
        return [r.level for r in outcome.remarks if r.kind == "size-tables-quarrel"]

    assert level("7", "us") == [Level.HEED]
    assert level("N 1/2", "uk") == []
    assert level("54", "iso") == [Level.FINE]  # 54 mm are 54 mm, whatever a chart calls them


@pytest.mark.parametrize(("width", "gauge"), [(3.5, "narrow"), (4.0, "narrow"), (4.01, "wide"), (5.0, "wide")])
def test_the_gauge_for_the_width(width: float, gauge: str) -> None:
    assert fit(FingerBrief(size="54", system="iso"), width, ROWS).result.gauge == gauge


@pytest.mark.parametrize(
    ("width", "added"), [(None, 0.0), (4.99, 0.0), (5.0, 0.4), (7.99, 0.4), (8.0, 0.6), (20.0, 0.6)]
)
def test_a_wide_band_is_made_larger(width: float | None, added: float) -> None:
    result = fit(FingerBrief(size="54", system="iso"), width, ROWS).result
    assert result.width_allowance_mm.value == added
    assert result.inner_diameter_mm.value == pytest.approx(54 / math.pi + added)
    assert result.inner_circumference_mm.value == pytest.approx(54 + math.pi * added)
    assert result.made.inner_diameter_mm == result.inner_diameter_mm.value


def test_a_finger_measured_with_the_wide_gauge_needs_nothing_added() -> None:
    outcome = fit(FingerBrief(size="54", system="iso", gauge="wide"), 7.0, ROWS)
    assert outcome.result.width_allowance_mm.value == 0.0
    assert "wide gauge" in next(r.says for r in outcome.remarks if r.kind == "band-wide")


def test_an_inner_diameter_is_what_the_ring_must_have() -> None:
    outcome = fit(FingerBrief(inner_diameter_mm=17.3, inside="comfort"), 9.0, ROWS)
    assert outcome.result.inner_diameter_mm.value == pytest.approx(17.3)
    assert outcome.result.inner_diameter_mm.plus_minus == 0.0
    assert outcome.result.comfort_allowance_mm.value == 0.0
    assert outcome.verdict is Level.FINE


def test_a_domed_inside_is_made_smaller_and_read_at_the_middle() -> None:
    flat = fit(FingerBrief(size="54", system="iso"), None, ROWS).result
    comfort = fit(FingerBrief(size="54", system="iso", inside="comfort"), None, ROWS).result
    assert comfort.inner_diameter_mm.value == pytest.approx(flat.inner_diameter_mm.value - 0.3)
    assert "lower edge" in flat.read_at and "middle" in comfort.read_at


def test_spreads_add_in_squares() -> None:
    result = fit(FingerBrief(size="7", system="us", inside="comfort"), 6.0, ROWS).result
    assert result.inner_diameter_mm.plus_minus == pytest.approx(math.sqrt(0.1016**2 + 0.2**2 + 0.1**2))
    assert result.inner_circumference_mm.plus_minus == pytest.approx(math.pi * result.inner_diameter_mm.plus_minus)


def test_the_width_that_was_drawn_counts_before_the_one_that_was_said() -> None:
    brief = FingerBrief(size="54", system="iso", band_width_mm=9.0)
    assert fit(brief, 3.0, ROWS).result.band_width_mm == 3.0
    assert fit(brief, None, ROWS).result.band_width_mm == 9.0


@pytest.mark.parametrize(("size", "off"), [("40.4", True), ("41", False), ("76", False), ("76.6", True)])
def test_a_ring_beyond_the_stick_is_told(size: str, off: bool) -> None:
    outcome = fit(FingerBrief(size=size, system="iso"), None, ROWS)
    told = [r for r in outcome.remarks if r.kind == "size-off-stick"]
    assert bool(told) is off
    assert all(r.level is Level.HEED and r.limit in {41, 76} and "ISO 8653" in r.limit_source for r in told)


@pytest.mark.parametrize(
    ("brief", "sentence"),
    [
        (FingerBrief(), "neither a size nor an inner diameter is given"),
        (FingerBrief(size="54", system="iso", inner_diameter_mm=17.2), "both a size and an inner diameter"),
        (FingerBrief(system="iso"), "the system iso stands without a size"),
        (FingerBrief(size="54"), "the size '54' names no system"),
        (FingerBrief(inner_diameter_mm=-1), "-1 mm is no diameter"),
        (FingerBrief(inner_diameter_mm=math.nan), "nan mm is no diameter"),
        (FingerBrief(inner_diameter_mm=1.72), "an inner diameter of 10 to 28 mm"),
        (FingerBrief(inner_diameter_mm=172), "an inner diameter of 10 to 28 mm"),
        (FingerBrief(size="54", system="iso", inside="round"), "'round' is no profile of the inside; flat or comfort"),
        (FingerBrief(size="54", system="iso", gauge="thick"), "'thick' is no finger gauge; narrow or wide"),
        (FingerBrief(size="54", system="iso", band_width_mm=0), "0 mm is no width of a band"),
        (FingerBrief(size="54", system="iso", band_width_mm=70), "wider than any in the tables"),
    ],
)
def test_bad_briefs(brief: FingerBrief, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        fit(brief, None, ROWS)
    assert sentence in str(caught.value)


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(BadInput) as caught:
        fit(FingerBrief(inside="x", gauge="y", band_width_mm=-1), None, ROWS)
    assert len(caught.value.mistakes) == 4


@pytest.mark.parametrize("circumference", [0.0, -54.0, math.nan, math.inf, 300.0])
def test_a_circumference_that_is_none(circumference: float) -> None:
    with pytest.raises(BadInput):
        labels(circumference, ROWS)


def test_the_strip_for_a_ring() -> None:
    narrow = blank_length_mm(54.0, 1.5, 4.0, ROWS)
    assert narrow == pytest.approx(54 + 1.5 * math.pi)
    assert blank_length_mm(54.0, 1.5, 4.1, ROWS) == pytest.approx(narrow + 0.5)


def test_every_chart_row_can_be_read() -> None:
    """A row that no system can read would never be set against anything."""
    for row in ROWS.charts:
        for key, size in {row.system: row.size, **(row.same_as or {})}.items():
            assert circumference_mm(size, key, ROWS) > 0


def test_every_system_is_a_rising_line() -> None:
    for row in ROWS.systems:
        assert row.step_mm > 0 and row.parts in {1, 2, 4} and row.measures in {"circumference", "diameter"}
        assert Fraction(row.lowest).denominator in {1, 2, 4}
