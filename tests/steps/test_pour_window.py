"""The window and the choice in it, with the times of freezing given by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ringwright.steps.pour._rules import class_of, flask_row, flask_span, melt_row, mistakes
from ringwright.steps.pour._window import MISRUN, SOUND, Frozen, Window
from ringwright.terms.workshop import Casting, CastingPlant
from tests.steps.pour_facts import ROWS, alloy, flowing, hot, investment


def window(**more: Any) -> Window:
    flow = more.pop("flow", None) or flowing()
    given: dict[str, Any] = {
        "flow": flow,
        "cold": Frozen(mould_C=420, melt_C=980, frozen_s=5.0, pore_mm3=0.1, niyama=0.3),
        "hot": Frozen(mould_C=700, melt_C=980, frozen_s=30.0, pore_mm3=0.2, niyama=0.1),
        "drop": ((425.0, 420.0), (706.0, 700.0)),
        "flask": flask_row("gold", 1.8, ROWS.flasks),
        "span": flask_span("gold", ROWS.flasks),
        "melt": melt_row("gold", Casting.VACUUM, ROWS.melts),
    }
    return Window(**(given | more))


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("18k-3n", "gold"),
        ("18k-5n", "gold"),
        ("22k-yellow", "gold-22k"),
        ("ag925", "silver"),
        ("pt950-co", "platinum-cobalt"),
        ("pt950-ru", "platinum"),
        ("pd950-ga", "palladium"),
    ],
)
def test_alloys_are_poured_by_their_class(key: str, name: str) -> None:
    assert class_of(alloy(key), ROWS.classes).key == name


def test_every_class_has_a_flask_for_every_section_and_a_melt_for_every_method() -> None:
    for row in ROWS.classes:
        for section in (0.4, 0.99, 1.0, 1.7, 2.5, 12.0):
            assert flask_row(row.key, section, ROWS.flasks).section_from_mm <= section
        for method in Casting:
            assert melt_row(row.key, method, ROWS.melts).superheat_low_C > 0


def test_times_go_by_the_likeness_of_the_mould() -> None:
    found = window()
    at_cold, at_hot = found.setting(425, 980), found.setting(706, 980)
    assert at_cold.frozen_s == pytest.approx(5.0, rel=1e-9)
    assert at_hot.frozen_s == pytest.approx(30.0, rel=1e-9)
    assert at_cold.niyama == pytest.approx(0.3)
    assert at_hot.pore_mm3 == pytest.approx(0.2)
    between = found.setting(560, 980).frozen_s
    assert 5 < between < 30
    # A hotter melt freezes later, in the same flask.
    assert found.setting(560, 1010).frozen_s > between


def test_the_choice_stays_within_what_is_usual_and_the_shops_spread() -> None:
    found = window()
    chosen = found.choice()
    flask, melt = found.flask, found.melt
    assert chosen.verdict == SOUND
    assert flask.flask_low_C + 15 <= chosen.flask_C <= flask.flask_high_C - 15
    assert melt.superheat_low_C + 15 <= chosen.superheat_C <= melt.superheat_high_C - 15
    assert chosen.reserve_low_percent >= found.heed_percent
    # It is the coolest of the lowest melt: five degrees less of either leave the window's margin.
    assert chosen.flask_C - 5 < flask.flask_low_C + 15
    assert chosen.superheat_C - 5 < melt.superheat_low_C + 15


def test_a_part_that_is_hard_to_fill_gets_a_hotter_flask_and_then_a_hotter_melt() -> None:
    flow = flowing()
    easy = window(flow=flow).choice()
    thin = window(flow=replace(flow, way=replace(flow.way, ratio_1_m=flow.way.ratio_1_m * 2.2))).choice()
    assert (thin.melt_C, thin.flask_C) > (easy.melt_C, easy.flask_C)
    assert thin.reserve_low_percent >= 25


def test_where_nothing_fills_the_choice_leaves_most_heat_and_says_so() -> None:
    flow = flowing()
    bad = replace(flow, way=replace(flow.way, ratio_1_m=flow.way.ratio_1_m * 50))
    chosen = window(flow=bad).choice()
    assert chosen.verdict == MISRUN
    assert chosen.flask_C == 525
    assert chosen.reserve_low_percent < 0


def test_the_map_has_misruns_on_its_cold_side_and_the_edge_is_found() -> None:
    flow = flowing()
    found = window(flow=replace(flow, way=replace(flow.way, ratio_1_m=flow.way.ratio_1_m * 2.4)))
    cells = found.cells(6, 4)
    assert len(cells) == 24
    assert cells[0].verdict == MISRUN
    assert cells[-1].verdict not in (MISRUN,)
    edge = found.edge(cells)
    assert edge
    for melt in {c.melt_C for c in edge}:
        row = sorted((c for c in (*cells, *edge) if c.melt_C == melt), key=lambda c: c.flask_C)
        fills = [c.reserve_low_percent >= found.heed_percent for c in row]
        assert fills == sorted(fills)
        step = next(b.flask_C - a.flask_C for a, b, f in zip(row, row[1:], fills[1:], strict=False) if f)
        assert step <= 5


def test_a_shop_that_strays_more_needs_more() -> None:
    steady = window(flow=flowing(plant=CastingPlant(flask_spread_C=2, metal_spread_C=2)))
    loose = window(flow=flowing(plant=CastingPlant(flask_spread_C=60, metal_spread_C=40)))
    assert steady.low_percent(500, 970) > loose.low_percent(500, 970)


@pytest.mark.parametrize(
    ("flask", "melt", "key", "powder", "says"),
    [
        (540, 880, "18k-3n", "gypsum", "880 °C is not above the liquidus"),
        (900, 980, "18k-3n", "silica", "900 °C is not below the solidus"),
        (800, 1100, "22k-yellow", "gypsum", "800 °C is above what the binder of"),
        (700, 1900, "pt950-ru", "gypsum", "a melt of 1900 °C destroys"),
        (700, 1650, "pd950-ga", "gypsum", "a melt of 1650 °C destroys"),
    ],
)
def test_what_nobody_can_pour(flask: float, melt: float, key: str, powder: str, says: str) -> None:
    found = mistakes(flask, melt, alloy(key), investment(powder), hot())
    assert any(says in m.what for m in found)
    assert all(m.right for m in found)


def test_a_plant_that_does_not_reach_the_melt() -> None:
    found = mistakes(850, 1900, alloy("pt950-ru"), investment("silica"), CastingPlant())
    assert [m.what for m in found] == ["1900 °C is more than the plant reaches (1200 °C)"]


def test_usual_settings_are_no_mistake() -> None:
    assert not mistakes(540, 980, alloy(), investment(), CastingPlant())
    assert not mistakes(600, 1175, alloy("22k-yellow"), investment(), CastingPlant())
