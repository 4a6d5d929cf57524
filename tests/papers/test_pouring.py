"""The card of the pour: every setting, times, the map, the ways, the shop's own log, cautions."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ringwright.papers.blocks import Paper
from ringwright.papers.pouring import pour_card
from ringwright.papers.press import pdf
from ringwright.steps.bench.danger import DEFERS
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import NotPoured, PourFigures
from ringwright.terms.workshop import Casting, CastingPlant
from tests.papers.pours import LOGGED, POUR, variant
from tests.papers.rings import Some, sapphire
from tests.papers.test_pdf import holds, pages, printed, whole


def poured(result: Any, plant: CastingPlant | None = None) -> Some:
    making = replace(sapphire(), pour=Outcome("pour", result))
    return making if plant is None else replace(making, workshop=replace(making.workshop, casting=plant))


def card(making: Some) -> str:
    found = pour_card(making)
    assert found is not None
    return whole(pdf(Paper("pour", "shop", "foot", (), (found,))))


def blocks(result: PourFigures, kind: str) -> list[dict[str, Any]]:
    found = pour_card(poured(result))
    assert found is not None
    rows = [b for b in found.blocks if b["kind"] == "row"]
    return [b for row in rows for cell in row["cells"] for b in cell if b["kind"] == kind]


def test_every_setting_and_every_time_stands_on_the_card() -> None:
    making = poured(POUR)
    assert making.tree is not None
    tree = making.tree.result
    holds(
        card(making), "495 °C", "965 °C", "70 K above the liquidus", "85 kPa", "91 kPa drive the metal", "484 °C about",
        f"{tree.charge_g:.2f} g", f"{tree.powder_g:.0f} g", f"{tree.water_g:.0f} g", tree.flask, tree.crucible, "40 s",
        "0.14 s", "3.7 s", "4.6 s", "451 °C", "± 12 K, ± 12 K", "0.41 mm³", POUR.why, POUR.led_why,
        "560 and 995 °C: coarse and porous side", POUR.measured, "computed, not measured",
    )  # fmt: skip


def test_the_card_has_its_cautions() -> None:
    holds(card(poured(POUR)), "Molten metal", "Hot flask", "Silica dust", "Vacuum", DEFERS)


def test_a_centrifuge_and_gravity_are_told_as_such() -> None:
    holds(card(poured(POUR, CastingPlant(method=Casting.CENTRIFUGAL, rpm=420.0))), "420 rpm", "arm 250 mm")
    holds(card(poured(POUR, CastingPlant(method=Casting.GRAVITY))), "Gravity alone")


def test_the_map_shows_every_setting_once_and_the_chosen_one_within_its_spread() -> None:
    (window,) = blocks(POUR, "window")
    assert len(window["cells"]) == len(POUR.window) == 12
    assert sum((c["to"][0] - c["from"][0]) * (c["to"][1] - c["from"][1]) for c in window["cells"]) == pytest.approx(1.0)
    (left, low), (right, top) = window["spread"]
    x, y = window["chosen"]
    assert left < x < right
    assert low < y < top
    assert window["habit"][0] > x
    assert {verdict for _, verdict in window["legend"]} == {c.verdict for c in POUR.window}
    shades = {cell["shade"] for cell in window["cells"]}
    assert len(shades) == 4


def test_cells_that_refine_the_edge_are_not_part_of_the_regular_map() -> None:
    more = replace(POUR, window=(*POUR.window, replace(POUR.window[0], flask_C=385.0)))
    assert len(blocks(more, "window")[0]["cells"]) == 12


def test_a_map_of_nothing_is_told_as_none() -> None:
    holds(card(poured(replace(POUR, window=()))), "There is no map of settings.")


def test_ways_stand_with_what_they_were_judged_by() -> None:
    holds(
        card(poured(POUR)), "One gate at the bottom of the shank", "One gate at the head", "1.23", "8.6",
        "judged by filling, and freezing in coarse cells",
    )  # fmt: skip
    quick = replace(POUR, variants=tuple(variant(w, pore_mm3=None) for w in ("one gate here", "one gate there")))
    told = card(poured(quick))
    holds(told, "judged by filling alone", "plan --thorough")
    assert "Not fed, mm³" not in told.split("Places to look at")[0].split("Ways of leading")[1]
    assert "Ways of leading" not in card(poured(replace(POUR, variants=())))


def test_the_shops_own_log_stands_beside_the_computed_times() -> None:
    holds(card(poured(LOGGED)), "Ring: bottom of the shank", "5.8", "4.4", "1.32", "No measured freezing time")


def test_what_cannot_be_poured_says_why_and_keeps_its_cautions() -> None:
    told = card(poured(NotPoured(why="800 °C is above what the binder bears")))
    holds(told, "It cannot be poured as asked: 800 °C is above what the binder bears.", "Molten metal", DEFERS)


def test_no_pour_no_card_and_with_one_the_tree_card_has_its_metal() -> None:
    assert pour_card(sapphire()) is None
    bench = pages(printed(poured(POUR))["bench.pdf"])
    titles = [page.split(" Will it fill")[0] for page in bench if page.startswith("Pour")]
    assert titles[:1] == ["Pour"]
    tree = next(page for page in bench if page.startswith("Tree and casting"))
    holds(tree, "965 °C")
    worn = " ".join(page for page in bench if page.startswith("As drawn"))
    assert "Alloys poured alike" not in worn
