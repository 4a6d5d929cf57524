"""The search of the way to lead the metal in: the tree names ways, the pour judges, the making takes the best."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from ringwright.making._leading import Searched, lead, search
from ringwright.terms.mistake import Stopped
from ringwright.terms.progress import anew
from ringwright.terms.workshop import Casting, CastingPlant, Habits
from tests.steps import tree_facts
from tests.steps.pour_facts import ROWS, alloy, investment, piece

HABITS = Habits(flask_C=560.0, superheat_C=90.0)
RING = replace(piece("small"), gates_mm=((0.0, -8.5, 0.0),))
TREE: dict[str, Any] = {
    "alloy": alloy(),
    "investment": investment(),
    "melt_C": 980.0,
    "habits": HABITS,
    "flasks": tree_facts.FLASKS,
    "crucibles": tree_facts.CRUCIBLES,
    "casting": Casting.VACUUM,
    "rules": tree_facts.FACTS.sprue_rules,
    "clearances": tree_facts.FACTS.flask_clearances,
    "losses": tree_facts.FACTS.casting_losses,
    "crucible_rules": tree_facts.FACTS.crucible_rules,
    "powder_rules": tree_facts.FACTS.powder_rules,
}
POUR: dict[str, Any] = {
    "alloy": alloy(),
    "investment": investment(),
    "plant": CastingPlant(),
    "habits": HABITS,
    "rows": ROWS,
}


@cache
def searched() -> tuple[Searched, tuple[float, ...]]:
    told: list[float] = []
    grown = tree_facts.build(RING, habits=HABITS)
    found = search(grown, (RING,), TREE, POUR, tree_facts.FLASKS, lambda share, _: told.append(share))
    return found, tuple(told)


def test_the_makers_gate_stays_and_its_sprues_are_tried() -> None:
    found, told = searched()
    tried = [one for one in found.variants if not one.usual]
    assert {(one.sprue_diameter_mm, round(one.sprue_length_mm or 0)) for one in tried} == {
        (d, length) for d in {one.sprue_diameter_mm for one in tried} for length in (6, 10)
    }
    assert len(tried) == 4
    assert all(one.what.startswith("one gate at the bottom of the shank") for one in tried)
    assert found.grown.result.gates[0].point_mm == pytest.approx((0.0, -8.5, 0.0), abs=0.05)
    assert list(told) == sorted(told)


def test_the_chosen_one_is_told_with_the_reason_and_is_the_tree_that_is_cast() -> None:
    found, _ = searched()
    (chosen,) = (one for one in found.variants if one.chosen)
    assert found.grown.result.sprue_diameter_mm == chosen.sprue_diameter_mm
    assert found.grown.result.charge_g == chosen.charge_g
    assert found.why.startswith("One gate at the bottom of the shank")
    # All fill; of those whose pore is as small as can be told, none leaves less to clean, or less to melt.
    tried = [one for one in found.variants if not one.usual]
    assert all(one.reserve_low_percent > 25 for one in tried)
    fed = [one for one in tried if (one.ball_mm or 0) <= min(o.ball_mm or 0 for o in tried) / 0.75]
    assert chosen in fed
    assert chosen.marks_mm2 == min(one.marks_mm2 for one in fed)
    assert all((one.charge_g or 0) > 0.9 * (chosen.charge_g or 0) for one in fed if one.marks_mm2 == chosen.marks_mm2)


def test_the_shops_usual_setting_stands_beside_and_is_never_chosen() -> None:
    found, _ = searched()
    (usual,) = (one for one in found.variants if one.usual)
    assert (usual.flask_C, usual.melt_C) == (560.0, alloy().liquidus_C + 90.0)
    assert not usual.chosen
    assert usual.what.startswith("as usual in this shop")
    first = found.variants[0]
    assert usual.reserve_percent > first.reserve_percent
    assert (usual.frozen_s or 0) > (first.frozen_s or 0)


def test_without_the_wish_nothing_is_searched_and_a_wish_to_stop_is_heard() -> None:
    grown = tree_facts.build(RING, habits=HABITS)
    same, told = lead(anew, grown, (RING,), TREE, POUR, tree_facts.FLASKS, thorough=False)
    assert same is grown
    assert told == {"thorough": False, "variants": (), "led_why": ""}

    def stop(share: float, doing: str) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        lead(anew, grown, (RING,), TREE, POUR, tree_facts.FLASKS, thorough=True, progress=stop)


def test_what_cannot_be_poured_at_all_stays_and_the_pour_says_why() -> None:
    grown = tree_facts.build(RING, habits=HABITS)
    cold = POUR | {"habits": Habits(flask_C=890.0)}
    same, told = lead(anew, grown, (RING,), TREE, cold, tree_facts.FLASKS, thorough=True)
    assert same is grown
    assert told["variants"] == ()
