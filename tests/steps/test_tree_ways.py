"""Ways of leading the metal in: what the tree proposes beside its own, and how they are built."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from ringwright.steps import tree
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.tree import Gate, TreeFigures, TreePiece, Way
from ringwright.terms.workshop import Habits
from tests.steps import tree_facts
from tests.steps.pattern_facts import gold
from tests.steps.solids import solitaire


@cache
def ring() -> TreePiece:
    return tree_facts.piece(solitaire(), 17.0)


@cache
def grown() -> Outcome[TreeFigures]:
    return tree_facts.build(ring())


def named(what: str) -> Way:
    return next(way for way in grown().result.ways if way.what == what)


def test_the_trees_own_way_is_the_first() -> None:
    own = grown().result.ways[0]
    assert own.gates_mm == tuple(gate.point_mm for gate in grown().result.gates)
    assert own.what == "one gate at the bottom of the shank"


def test_other_ways_stand_where_they_say_on_the_metal_and_none_twice() -> None:
    ways = grown().result.ways
    assert len({way.what for way in ways}) == len(ways) >= 6
    for way in ways:
        for x, y, _ in way.gates_mm:
            turned = abs(math.degrees(math.atan2(x, y)))
            part = "bottom" if turned >= 135 else "side" if turned >= 75 else "shoulder" if turned >= 30 else "head"
            assert part in way.what
        if len(way.gates_mm) == 2:
            (x, y, _), (u, v, _) = way.gates_mm
            assert x * u < 0
            assert abs(x + u) < 1.5
            assert abs(y - v) < 1.5
    with pytest.raises(BadInput):
        tree_facts.build(replace(ring(), gates_mm=((0.0, 0.0, 0.0),)))


def test_a_way_is_built_with_its_gates_and_its_sprue() -> None:
    way = replace(named("one gate at a shoulder"), sprue_diameter_mm=3.3, sprue_length_mm=7.0)
    found = tree_facts.build(ring(), way=way)
    assert found.result.gates[0].point_mm == pytest.approx(way.gates_mm[0], abs=0.05)
    assert found.result.sprue_diameter_mm == 3.3
    assert found.result.sprue_length_mm >= 7.0
    assert "searched" in found.result.gates[0].why
    plain = tree_facts.build(ring(), way=named("one gate at a shoulder"))
    assert plain.result.sprue_diameter_mm == grown().result.sprue_diameter_mm
    assert plain.result.charge_g != found.result.charge_g


def test_a_way_that_no_fork_reaches_is_refused() -> None:
    r = 10.3
    around = ((0.0, -r, 0.0), (0.0, r, 0.0), (r, 0.0, 0.0), (-r, 0.0, 0.0), (9.4, 0.0, 0.9), (9.4, 0.0, -0.9))
    with pytest.raises(BadInput, match="no fork reaches"):
        tree_facts.build(ring(), way=Way(what="all around", gates_mm=around))


def test_the_makers_own_gates_are_not_searched() -> None:
    found = tree_facts.build(replace(ring(), gates_mm=((10.3, 0.0, 0.0),))).result
    (own,) = found.ways
    assert own.what == "one gate at the side of the shank"
    several = tree_facts.build(ring(), replace(ring(), name="other")).result
    assert several.ways == ()


def test_sprues_to_try() -> None:
    figures, way = grown().result, grown().result.ways[0]
    found = tree.sprues_of(way, figures, Habits(), gold(), tree_facts.FACTS.sprue_rules)
    sizes = {(one.sprue_diameter_mm, one.sprue_length_mm) for one in found}
    assert len(sizes) == len(found) == 3
    assert (figures.sprue_diameter_mm, figures.sprue_length_mm) not in sizes
    assert min(length or 0 for _, length in sizes) == 6.0
    assert all(one.gates_mm == way.gates_mm for one in found)
    # A shop whose usual sprue is thin is shown the one by the rules too.
    thin = Habits(sprue_diameter_mm=1.6)
    usual = tree_facts.build(ring(), habits=thin).result
    tried = tree.sprues_of(usual.ways[0], usual, thin, gold(), tree_facts.FACTS.sprue_rules)
    assert tried[0].sprue_diameter_mm == pytest.approx(figures.sprue_diameter_mm)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([], "no gate"),
        ([(0, 10, 0)], "one gate at the head"),
        ([(9, 5, 0)], "one gate at a shoulder"),
        ([(9, 5, 0), (-9, 5, 0)], "two gates at both shoulders"),
        ([(9, 5, 0), (8, 6, 0)], "2 gates: a shoulder, a shoulder"),
        ([(0, -10, 0), (0, 10, 0)], "2 gates: the bottom of the shank, the head"),
    ],
)
def test_where_in_words(points: list[tuple[float, float, float]], words: str) -> None:
    gates = [Gate(piece="", point_mm=p, outward=(0, 1, 0), ball_mm=2.0, why="") for p in points]
    assert tree.where(gates) == words


def test_a_heavy_place_that_the_rule_calls_not_fed_is_told() -> None:
    """Two blocks on a thin shank: a gate on one of them does not feed the other."""
    from tests.steps.solids import band, box, united

    one, other = box((-2.5, -12, -2.5), (2.5, -8.5, 2.5)), box((-2.5, 8.5, -2.5), (2.5, 12, 2.5))
    blocks = united(band(17.0, 2.0, 1.0), one, other)
    found = tree_facts.build(tree_facts.piece(blocks, 17.0)).result
    assert found.ways[0].unfed_ball_mm > 2.0
    assert np.isfinite([way.counts for way in found.ways]).all()
