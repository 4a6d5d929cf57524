"""Blind feeders: sized by the rule of moduli, one solid with the tree, clear of all, and earned in the search."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ringwright.making._leading import _helped
from ringwright.science.solids import is_closed, shells
from ringwright.steps import bench, pour, tree
from ringwright.steps.pour._remarks import _feeders
from ringwright.steps.tree.feeders import feeder_at, sized, solid
from ringwright.steps.tree.heavy import part_about
from ringwright.terms.bench import BenchJob
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import Variant
from ringwright.terms.remark import Level
from ringwright.terms.tree import TreeFigures, Way
from ringwright.terms.workshop import CastingPlant, Habits
from tests.steps import solids
from tests.steps.pattern_facts import gold
from tests.steps.pour_facts import ROWS, alloy, investment
from tests.steps.pour_facts import piece as solitaire
from tests.steps.tree_facts import FACTS, build, piece
from tests.tables import tables

RULES = FACTS.sprue_rules
BAND = solids.band(17.3, 2.5, 1.5)
TOP = (0.0, 17.3 / 2 + 1.5, 0.0)
BOTTOM = (0.0, -17.3 / 2 - 1.5, 0.0)


@cache
def two_heads() -> Any:
    """Heavy at its bottom and at its head, thin between: one gate feeds but one of them."""
    low, high = solids.box((-2, -12, -2), (2, -9, 2)), solids.box((-1.8, 9, -1.8), (1.8, 11.9, 1.8))
    return piece(solids.united(solids.band(17.0, 2.0, 1.3), low, high), 17.0)


@cache
def plain() -> Outcome[TreeFigures]:
    return build(piece(BAND, 17.3))


@cache
def fed() -> Outcome[TreeFigures]:
    return build(piece(BAND, 17.3, feeders_mm=(TOP,)))


def test_the_feeder_is_sized_by_the_moduli_and_by_what_it_must_give() -> None:
    """A sixth of a ball's diameter and a quarter of a bar's are their volume over surface: 1.2 and 1.1 of the place."""
    modulus, diameter, neck, length = sized(40.0, 80.0, gold(), RULES)
    assert modulus == pytest.approx(40.0 / (80.0 - math.pi / 4 * neck**2), rel=0.02)
    assert 1.2 * modulus <= diameter / 6 <= 1.2 * modulus + 0.1 / 6
    assert 1.1 * 0.5 <= neck / 4 <= 1.1 * modulus + 0.1 / 4
    assert length == 1.0 and length <= diameter / 2
    # Much metal with much surface: then what it shrinks by decides.
    _, large, _, _ = sized(400.0, 2000.0, gold(), RULES)
    a, e = gold().freezing_shrinkage_percent / 100, 0.14
    assert math.pi / 6 * large**3 == pytest.approx(400.0 * a / (e - a), rel=0.1)
    # Next to nothing: it is still so large that its neck can be sawn.
    assert sized(0.01, 1.0, gold(), RULES)[1] == 2.0
    with pytest.raises(BadInput, match="shrinks by 20% in freezing; less than 14%, what feeders give"):
        sized(40.0, 80.0, replace(gold(), freezing_shrinkage_percent=20.0), RULES)


def test_the_tree_with_a_feeder_is_one_closed_solid_and_its_metal_is_in_the_charge() -> None:
    (feeder,), r, mesh = fed().result.feeders, fed().result, fed().body("tree").mesh
    assert is_closed(mesh) and len(shells(mesh)) == 1
    assert r.tree_mm3 == pytest.approx(r.pieces_mm3 + r.sprues_mm3 + r.feeders_mm3 + r.button_mm3, rel=1e-9)
    assert r.feeders_mm3 == feeder.volume_mm3
    ball, neck = math.pi / 6 * feeder.diameter_mm**3, math.pi / 4 * feeder.neck_diameter_mm**2 * feeder.neck_length_mm
    assert ball < feeder.volume_mm3 < ball + 1.5 * neck
    density = gold().density_g_cm3.value / 1000
    assert r.feeders_g == pytest.approx(r.feeders_mm3 * density)
    assert r.charge_g == pytest.approx(r.pieces_g + r.sprues_g + r.feeders_g + r.button_g + r.loss_g)
    bare = plain().result
    assert bare.feeders == () and bare.feeders_g == 0.0
    assert r.sprues_mm3 == pytest.approx(bare.sprues_mm3, rel=1e-3)
    assert r.charge_g - bare.charge_g == pytest.approx(1.5 * r.feeders_g, abs=0.06)  # the button grows with it
    said = next(x for x in fed().remarks if x.kind == "charge").says
    assert f"{r.feeders_g:.2f} in blind feeders" in said
    assert "feeders" not in next(x for x in plain().remarks if x.kind == "charge").says


def test_it_stands_where_it_was_asked_with_its_ball_clear_of_the_ring() -> None:
    (feeder,), (pose,) = fed().result.feeders, fed().result.poses
    assert feeder.point_mm == pytest.approx(TOP, abs=0.01) and feeder.outward == pytest.approx((0, 1, 0), abs=0.01)
    middle = pose.to_flask(np.array(feeder.centre_mm))
    at = fed().body("tree").mesh.vertices_mm
    near = np.linalg.norm(at - middle, axis=1)
    assert near.min() == pytest.approx(feeder.diameter_mm / 2, rel=0.02)
    # The tree hangs lower by it, and the flask is measured with it.
    deeper = fed().result.tree_height_mm - plain().result.tree_height_mm
    assert deeper > 0.9 * (feeder.diameter_mm + feeder.neck_length_mm)
    assert fed().result.end_clearance_mm >= 12.5
    told = next(x for x in fed().remarks if x.kind == "feeder")
    assert told.level is Level.FINE and told.point_mm == feeder.point_mm
    assert told.figure is not None and 1.2 <= told.figure < 1.25


def test_its_place_is_the_heaviest_metal_near_it() -> None:
    studied = tree.study(two_heads().pattern, 17.0)
    head = feeder_at("ring", studied, np.array([0.0, 11.9, 0.0]), gold(), RULES, "")
    assert head.ball_mm == pytest.approx(3.3, abs=0.35)
    volume, area = part_about(two_heads().pattern, np.array([0.0, 10.1, 0.0]), head.ball_mm)
    bare = volume / area
    assert bare < head.place_modulus_mm < 1.6 * bare
    shank = feeder_at("ring", studied, np.array([9.8, 0.0, 0.0]), gold(), RULES, "")
    assert shank.ball_mm == pytest.approx(1.3, abs=0.05) and shank.diameter_mm < head.diameter_mm
    assert is_closed(solid(head))


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (
            {"feeders_mm": ((0.0, 0.0, 0.0),)},
            r"tree\.feeders\[1\]: feeder 1 of ring lies 8\.\d mm off the metal; a point",
        ),
        (
            {"feeders_mm": (BOTTOM,), "gates_mm": (BOTTOM,)},
            r"tree\.feeders\[1\]: feeder 1 of ring comes within 0\.0 mm of a sprue; a place that leaves 2\.8 mm",
        ),
    ],
)
def test_feeders_that_cannot_be_are_told(more: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        build(piece(BAND, 17.3, **more))


def test_a_ball_that_would_touch_the_ring_is_told() -> None:
    """Between two walls there is no room for it."""
    walls = [solids.box((x, 8.0, -2.0), (x + 1.2, 14.0, 2.0)) for x in (-2.4, 1.2)]
    narrow = piece(solids.united(solids.band(17.0, 4.0, 1.6), *walls), 17.0, feeders_mm=((0.0, 10.1, 0.0),))
    with pytest.raises(
        BadInput, match=r"the ball of feeder 1 of ring, \d+\.\d mm, would touch the ring beside its neck"
    ):
        build(narrow)


def test_a_feeder_in_the_finger_hole_or_at_a_stone_is_heeded() -> None:
    stone = solids.box((-1.5, 10.2, -1.5), (1.5, 12.0, 1.5))
    hole = (0.0, 17.3 / 2, 0.0)
    found = build(piece(BAND, 17.3, feeders_mm=(TOP, hole), gates_mm=(BOTTOM,), stones=(stone,)))
    kinds = {r.kind: r.level for r in found.remarks}
    assert kinds["feeder-at-stone"] is kinds["feeder-in-hole"] is Level.HEED
    assert not {"feeder-at-stone", "feeder-in-hole"} & {r.kind for r in fed().remarks}


def test_gates_are_proposed_clear_of_the_makers_feeder_and_what_it_feeds_needs_none() -> None:
    found = build(piece(BAND, 17.3, feeders_mm=(BOTTOM,))).result
    (gate,) = found.gates
    assert math.dist(gate.point_mm, found.feeders[0].centre_mm) > found.feeders[0].diameter_mm / 2 + 3.0
    assert all(way.feeders_mm == (found.feeders[0].point_mm,) for way in found.ways)
    assert found.ways[0].what.endswith("and a feeder at the bottom of the shank")
    alone = build(two_heads())
    cut = next(r for r in alone.remarks if r.kind == "heavy-cut-off")
    assert cut.point_mm is not None and "blind feeder" in cut.change
    there = (0.0, math.copysign(12.0, cut.point_mm[1]), 0.0)
    helped = build(replace(two_heads(), feeders_mm=(there,), gates_mm=(alone.result.gates[0].point_mm,)))
    assert "heavy-cut-off" not in {r.kind for r in helped.remarks}


@cache
def judged() -> tuple[tuple[Way, Outcome[TreeFigures], Variant], ...]:
    """One gate at the bottom; with a feeder at the pore in the head; with a second gate there; in coarse cells."""
    ring = two_heads()
    studied = tree.study(ring.pattern, 17.0)
    bottom = Way(what="one gate at the bottom of the shank", gates_mm=((0.0, -12.0, 0.0),))
    given = {"alloy": alloy(), "rules": RULES, "clearances": FACTS.flask_clearances}
    at = {"flask_C": 480.0, "melt_C": 980.0, "h_mm": 0.7, "investment": investment(), "plant": CastingPlant()}

    def one(way: Way) -> tuple[Way, Outcome[TreeFigures], Variant]:
        made = build(ring, way=way, studied=[studied])
        led = pour.Led(what=way.what, tree=made.body("tree").mesh, figures=made.result, way=way)
        return way, made, pour.judge(led, (ring,), alloy=alloy(), rows=ROWS, **at)  # type: ignore[arg-type]

    first = one(bottom)
    return first, *(one(way) for way in _helped(first, ring, studied, given, {"rows": ROWS}))


def test_the_search_sets_a_feeder_against_a_second_gate_where_a_pore_counts() -> None:
    (bare, with_feeder, with_gate) = judged()
    assert bare[2].worst_mm is not None and bare[2].worst_mm[1] > 8 and pour.counts(bare[2], ROWS)
    assert len(with_feeder[0].feeders_mm) == 1 and len(with_feeder[0].gates_mm) == 1
    assert len(with_gate[0].gates_mm) == 2 and with_gate[0].feeders_mm == ()
    assert with_feeder[0].what == "one gate at the bottom of the shank, and a feeder at the head"
    assert (with_feeder[2].feeders, with_gate[2].feeders) == (1, 0)


def test_a_feeder_takes_the_pore_and_is_chosen_where_it_leaves_less_to_clean() -> None:
    bare, with_feeder, with_gate = (one[2] for one in judged())
    assert bare.pore_mm3 is not None and with_feeder.pore_mm3 is not None
    assert with_feeder.pore_mm3 < 0.1 * bare.pore_mm3
    (feeder,) = judged()[1][1].result.feeders
    sprue = math.pi / 4 * with_feeder.sprue_diameter_mm**2
    assert with_feeder.marks_mm2 == pytest.approx(sprue + math.pi / 4 * feeder.neck_diameter_mm**2)
    at, why = pour.best([bare, with_feeder, with_gate], ROWS)
    assert at == 1 and "less of it freezes cut off from feed" in why
    # It must earn its place: where the piece is sound without it, it is not taken.
    sound = replace(bare, pore_mm3=0.0, ball_mm=0.0)
    assert pour.best([sound, with_feeder], ROWS)[0] == 0
    assert not pour.counts(sound, ROWS)


def test_gates_of_the_makers_get_no_feeder_that_he_did_not_ask_for() -> None:
    way, made, found = judged()[0]
    own = replace(two_heads(), gates_mm=way.gates_mm)
    studied = tree.study(own.pattern, 17.0)
    given = {"alloy": alloy(), "rules": RULES, "clearances": FACTS.flask_clearances}
    assert _helped((way, made, found), own, studied, given, {"rows": ROWS}) == ()
    dry = replace(found, pore_mm3=0.0, ball_mm=0.0)
    assert _helped((way, made, dry), two_heads(), studied, given, {"rows": ROWS}) == ()


def test_the_pour_says_whether_the_feeder_lasts() -> None:
    """The ring whose head turns porous without it (tests of the pour)."""
    ring = replace(solitaire(), gates_mm=((0.0, -10.3, 0.0),), feeders_mm=((-3.17, 9.3, 0.79),))
    grown = build(ring)
    made = grown.body("tree").mesh
    habits, plant = Habits(), CastingPlant()
    found = pour.cast(
        made, grown.result, (ring,), alloy=alloy(), investment=investment(), plant=plant, habits=habits, rows=ROWS
    )
    (one,) = found.result.feeders
    said = next(r for r in found.remarks if r.kind == "feeder")
    assert one.fed_s < one.neck_s < one.feeder_s, "casting, neck and feeder freeze in this order, as the rule wants"
    assert said.level is Level.FINE and said.says.endswith("it lasts.")
    assert found.result.pore_mm3 == 0.0
    assert any(z.place == "feeder" for z in found.result.sprue_pores)
    # Where it would freeze first, it is told.
    early = replace(one, feeder_s=0.5 * one.fed_s, neck_s=0.4 * one.fed_s)
    (heed,) = _feeders(SimpleNamespace(result=replace(found.result, feeders=(early,))))  # type: ignore[arg-type]
    assert heed.level is Level.HEED and "its neck freezes too early" in heed.says and heed.change


def test_feeders_are_cut_off_at_the_bench() -> None:
    facts = tables("bench_tasks", "bench_rules", "quench")
    given: dict[str, Any] = {
        "alloy": gold(),
        "tasks": facts.bench_tasks,
        "quenches": facts.quench,
        "rules": facts.bench_rules,
        "bench_hours_per_day": 6.0,
    }
    without, one, two = (bench.plan(job=BenchJob(feeders=n), **given).result for n in (0, 1, 2))
    assert two.bench_h.value - one.bench_h.value == pytest.approx(one.bench_h.value - without.bench_h.value)
    assert one.bench_h.value > without.bench_h.value
    keys = [line.key for line in one.tasks]
    assert keys.index("cut-feeders") == keys.index("cut-sprue") + 1
    assert "cut-feeders" not in [line.key for line in without.tasks]
