"""The pattern on the plate: islands, hollows, overhang, layers and hours, the orientation that is chosen."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from ringwright.science.heights import lows, neighbours
from ringwright.science.solids import without
from ringwright.steps.pattern import turned_to_plate
from ringwright.steps.pattern.plate import directions, hollows, in_words, laid, plain, ready, upright
from ringwright.terms.body import Mesh
from ringwright.terms.commission import State
from ringwright.terms.remark import Level
from tests.steps import solids
from tests.steps.pattern_facts import FACTS, PRINTER, prepare

RULES = FACTS.print_rules[0]
UP = (0.0, 0.0, 1.0)


def slow_lows(mesh: Mesh, height: np.ndarray) -> dict[int, float]:
    """Twin: for every vertex the least height that must be climbed to reach a lower one, by search."""
    beside: dict[int, set[int]] = {}
    for face in mesh.faces:
        for a, b in itertools.permutations(face, 2):
            beside.setdefault(int(a), set()).add(int(b))
    rank = {int(v): n for n, v in enumerate(np.argsort(height, kind="stable"))}
    found = {}
    for v, near in beside.items():
        if any(rank[u] < rank[v] for u in near):
            continue
        for level in sorted(height):
            if level < height[v]:
                continue
            reached, todo = {v}, [v]
            while todo:
                for u in beside[todo.pop()]:
                    if u not in reached and height[u] <= level:
                        reached.add(u)
                        todo.append(u)
            if any(rank[u] < rank[v] for u in reached):
                found[v] = level - height[v]
                break
        else:
            found[v] = np.inf
    return {v: d for v, d in found.items() if d > 0}


@pytest.mark.parametrize("seed", range(6))
def test_lows_agree_with_their_slow_twin(seed: int) -> None:
    mesh = solids.turned([(3.0, -1.0), (4.0, -1.0), (4.0, 1.0), (3.0, 1.0)], 12)
    height = np.random.default_rng(seed).normal(size=len(mesh.vertices_mm))
    begun, depth = lows(neighbours(mesh), height)
    assert dict(zip(begun.tolist(), depth.tolist(), strict=True)) == pytest.approx(slow_lows(mesh, height))


def test_a_comb_has_an_island_for_each_tooth() -> None:
    teeth = [solids.box((3.0 * n, 0, 0.1 * n), (3.0 * n + 1, 1, 5)) for n in range(4)]
    comb = solids.united(solids.box((0, 0, 5), (10, 1, 6)), *teeth)
    surface = ready(comb, 17.0, RULES)
    assert hollows(surface, UP, 0.05, RULES).islands == 4
    # Teeth up, only the back begins in the air; between the teeth the comb stays open at its sides.
    other = hollows(surface, (0.0, 0.0, -1.0), 0.05, RULES)
    assert (other.islands, other.cups) == (1, 0)


def test_a_bowl_holds_resin_either_way_up() -> None:
    bowl = without(solids.box((0, 0, 0), (8, 8, 3)), [solids.box((1, 1, 1), (7, 7, 4))])
    surface = ready(bowl, 17.0, RULES)
    for up in (UP, (0.0, 0.0, -1.0)):
        found = hollows(surface, up, 0.05, RULES)
        assert found.cups == 1
        assert found.deepest_cup_mm == pytest.approx(2.0)
    on_edge = hollows(surface, (1.0, 0.0, 0.0), 0.05, RULES)
    assert on_edge.cups == 0


def test_overhang_and_steps_of_a_box() -> None:
    surface = ready(solids.box((0, 0, 0), (4, 5, 6)), 17.0, RULES)
    flat = plain(surface, UP, 0.05, RULES)
    assert flat.overhang_mm2 == pytest.approx(20.0)
    assert flat.stair_mm == pytest.approx(0.0)
    assert flat.extent_mm == pytest.approx(6.0)
    tilted = plain(surface, (0.0, np.sin(np.radians(30)), np.cos(np.radians(30))), 0.05, RULES)
    assert tilted.overhang_mm2 == pytest.approx(20.0)
    assert tilted.stair_mm > 0
    steep = plain(surface, (0.0, np.sin(np.radians(50)), np.cos(np.radians(50))), 0.05, RULES)
    assert steep.overhang_mm2 == pytest.approx(24.0)


def test_layers_and_hours_follow_from_the_height() -> None:
    found = prepare(solids.band(), 17.3, State.RAW_CASTING).result
    on = found.printers[0]
    assert on.layers == int(np.ceil(on.height_mm / 0.05 - 1e-9))
    assert on.hours == pytest.approx(on.layers * 8 / 3600)
    thin = prepare(solids.band(), 17.3, State.RAW_CASTING, printers=(replace(PRINTER, layer_mm=0.025),)).result
    assert thin.printers[0].hours > 1.5 * on.hours


def test_the_chosen_orientation_is_the_cheapest_of_all() -> None:
    surface = ready(solids.solitaire(), 17.0, RULES)
    chosen = laid(surface, (PRINTER,), RULES)[0]
    costs = []
    for up in directions():
        one = plain(surface, up, PRINTER.layer_mm, RULES)
        hours = np.ceil((one.extent_mm + RULES.support_height_mm) / PRINTER.layer_mm - 1e-9) * PRINTER.layer_s / 3600
        found = hollows(surface, up, PRINTER.layer_mm, RULES)
        costs.append(one.hand_min + found.hand_min + hours * RULES.print_min_per_h)
    assert chosen.clean_up_min == pytest.approx(min(costs))
    assert chosen.fits


def test_the_pattern_lies_on_its_plate_as_told() -> None:
    found = prepare(solids.solitaire(), 17.0, State.RAW_CASTING)
    on = found.result.printers[0]
    laid_down = turned_to_plate(found.body("pattern").mesh, on)
    low, high = laid_down.vertices_mm.min(axis=0), laid_down.vertices_mm.max(axis=0)
    assert low[2] == pytest.approx(0.0, abs=1e-9)
    assert high[2] == pytest.approx(on.height_mm - RULES.support_height_mm, abs=1e-6)
    assert (high - low)[:2] == pytest.approx(on.footprint_mm, abs=1e-6)
    assert solids.volume(laid_down) == pytest.approx(on.resin_mm3, rel=1e-9)


@pytest.mark.parametrize("up", directions())
def test_upright_is_a_rotation_to_z(up: tuple[float, float, float]) -> None:
    turn = upright(up)
    assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)
    assert turn @ np.array(up) == pytest.approx([0, 0, 1], abs=1e-12)
    assert in_words(up)


def test_a_plate_too_small_halts_and_a_larger_printer_is_named() -> None:
    tiny = replace(PRINTER, name="tiny", plate_length_mm=20, plate_width_mm=12, height_mm=20)
    alone = prepare(solids.band(), 17.3, State.RAW_CASTING, printers=(tiny,))
    assert alone.verdict is Level.HALT
    both = prepare(solids.band(), 17.3, State.RAW_CASTING, printers=(tiny, PRINTER))
    assert both.result.printer == "small vat"
    remark = next(r for r in both.remarks if r.kind == "plate")
    assert remark.level is Level.HEED and "tiny" in remark.says and "small vat" in remark.change
