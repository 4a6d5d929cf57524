"""Meshes that nobody here drew, from open repositories (tests/data/README.md): they load, and they are judged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ringwright import facts
from ringwright.science import solids
from ringwright.steps import metal, piece, setting, wear
from ringwright.terms.piece import Drawn, Piece
from ringwright.terms.remark import Level

DATA = Path(__file__).parents[1] / "data"
FACTS = facts.load()
ALLOY = metal.resolve("18k-3n", FACTS.alloys, FACTS.elements, heats=FACTS.element_heats, rules=FACTS.metal_rules).result


def drawn(file: str) -> Drawn:
    data = (DATA / file).read_bytes()
    return piece.read(data, Path(file).suffix, units="mm", name=file, limits=FACTS.piece_limits)


def narrowest_mm(ring: Piece) -> float:
    """The least wall between the hole and the outside, by the nearest two vertices: a bound from above."""
    away = np.hypot(*ring.metal.vertices_mm[:, :2].T)
    return float(away.max() - ring.hole.diameter_mm / 2)


@pytest.mark.parametrize(("file", "hole_mm"), [("open-ring.stl", 20.7), ("nut.ply", 28.56)])
def test_a_strangers_mesh_is_read_measured_and_judged(file: str, hole_mm: float) -> None:
    model = drawn(file)
    assert solids.is_closed(model.metal)
    ring, figures = piece.measure(model, (ALLOY,), FACTS.piece_limits)
    assert ring.hole.diameter_mm == pytest.approx(hole_mm, abs=0.2)
    assert figures.result.volume_mm3 == pytest.approx(solids.volume(model.metal), rel=1e-9)

    judged = setting.judge(ring, (), ALLOY, FACTS.wall_limits, FACTS.setting_limits, FACTS.setting_practice)
    walls = judged.result.walls
    assert 0.0 < walls.thinnest[0].drawn_mm <= narrowest_mm(ring)


def test_a_strangers_ring_is_judged_on_a_hand() -> None:
    """The thin spring of a ring bears no squeeze in gold, and that is said; its figures hold still all the same."""
    ring, figures = piece.measure(drawn("open-ring.stl"), (ALLOY,), FACTS.piece_limits)
    worn = wear.live(ring, figures.result, ALLOY, (), (), FACTS.load_cases, FACTS.wear_limits)
    by_kind = {one.kind.value: one for one in worn.result.strengths}
    assert {"squeeze", "knock", "stretch"} <= set(by_kind)
    assert all(abs(one.change_percent) < 5.0 for one in by_kind.values())
    assert by_kind["squeeze"].safety.value < 1.0
    assert any(remark.level is Level.HALT for remark in worn.remarks)
