"""Walls and gaps: closed forms, names of places, each remark both ways."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from ringwright.steps.setting._bend import bending_strain, springback_deg
from ringwright.steps.setting._where import roles
from ringwright.terms.outcome import Outcome
from ringwright.terms.remark import Level
from ringwright.terms.setting import SettingFigures
from tests.steps import setting_rings as rings
from tests.steps.setting_rings import fin, judged, moved, on_shank, piece, prism, shank, solitaire, stone, warned
from tests.steps.solids import box, united

ROUND = stone()
Made = Callable[[], Outcome[SettingFigures]]


def apart(gap_mm: float) -> Outcome[SettingFigures]:
    """A claw-like block over the top of the band, touching it or not."""
    block = box((-0.6, 10.65 + gap_mm, -0.6), (0.6, 13.0, 0.6))
    both = rings.Mesh(
        np.vstack([shank().vertices_mm, block.vertices_mm]),
        np.vstack([shank().faces, block.faces + len(shank().vertices_mm)]),
    )
    return judged(piece(both if gap_mm > 0 else united(shank(), moved(block, y=-0.3))))


def notch(half_mm: float) -> Outcome[SettingFigures]:
    """A block on the band with a V cut into its top, 1.5 mm deep."""
    low = [(-2.5, 10.0), (2.5, 10.0), (2.5, 11.5), (-2.5, 11.5)]
    left = [(-2.5, 11.4), (0.0, 11.4), (0.0, 11.5), (-half_mm, 13.0), (-2.5, 13.0)]
    right = [(0.0, 11.4), (2.5, 11.4), (2.5, 13.0), (half_mm, 13.0), (0.0, 11.5)]
    return judged(on_shank(*(prism(p, -1.2, 1.2) for p in (low, left, right))))


BOTH_WAYS: dict[str, tuple[str, Made, Made]] = {
    "a thin plate": ("wall-thin", lambda: judged(on_shank(fin(0.35))), lambda: judged(on_shank(fin(0.8)))),
    "a thin shank": ("bottom-thin", lambda: judged(on_shank(thick_mm=1.1)), lambda: judged(on_shank(thick_mm=1.6))),
    "a narrow gap": (
        "gap-narrow",
        lambda: judged(on_shank(moved(fin(1.0), -0.62), moved(fin(1.0), 0.62))),
        lambda: judged(on_shank(moved(fin(1.0), -0.9), moved(fin(1.0), 0.9))),
    ),
    "a knife edge": (
        "knife-edge",
        lambda: judged(on_shank(prism([(-0.7, 10.0), (0.7, 10.0), (0.0, 13.5)], -1.2, 1.2))),
        lambda: judged(on_shank(prism([(-0.7, 10.0), (0.7, 10.0), (0.6, 13.5), (-0.6, 13.5)], -1.2, 1.2))),
    ),
    "a crevice": ("crevice", lambda: notch(0.4), lambda: notch(1.6)),
    "a body that stands by itself": ("metal-apart", lambda: apart(0.2), lambda: apart(0.0)),
}


@pytest.mark.parametrize("case", BOTH_WAYS)
def test_a_remark_comes_and_goes(case: str) -> None:
    kind, faulty, mended = BOTH_WAYS[case]
    said = warned(faulty(), kind)
    assert said, [(r.kind, r.says) for r in faulty().remarks]
    assert all(r.change and r.place and r.point_mm is not None for r in said)
    assert not warned(mended(), kind), [r.says for r in warned(mended(), kind)]


def test_a_thin_plate_is_refused_with_its_thickness_and_place() -> None:
    said = warned(judged(on_shank(fin(0.25))), "wall-thin")[0]
    assert said.level is Level.HALT
    assert said.figure == pytest.approx(0.25, abs=0.01)
    assert said.place == "top of the ring"
    assert said.point_mm is not None and abs(said.point_mm[0]) == pytest.approx(0.125, abs=0.02)


def test_stock_is_added_for_the_casting_and_taken_off_one_drawn_so() -> None:
    """0.35 mm drawn finished is cast 0.55 mm with 0.1 mm of stock on each side; drawn as a casting it wears 0.15 mm."""
    from dataclasses import replace

    from ringwright.terms.commission import State

    ring = on_shank(fin(0.45))
    finished = judged(ring, stock_mm=0.1).result.walls.thinnest[0]
    assert (finished.cast_mm, finished.worn_mm) == pytest.approx((0.65, 0.45), abs=0.01)
    raw = judged(replace(ring, state=State.RAW_CASTING), stock_mm=0.1)
    assert (raw.result.walls.thinnest[0].cast_mm, raw.result.walls.thinnest[0].worn_mm) == pytest.approx(
        (0.45, 0.25), abs=0.01
    )
    assert warned(raw, "wall-thin")[0].level is Level.HALT


def test_platinum_may_be_thinner() -> None:
    ring = on_shank(thick_mm=1.4)
    assert warned(judged(ring), "bottom-thin")
    assert not warned(judged(ring, alloy="pt950-ru"), "bottom-thin")


def test_places_have_names() -> None:
    ring = solitaire(ROUND[2])
    from ringwright.science.solids import to_manifold
    from ringwright.steps.setting._head import about, look
    from ringwright.steps.setting._pose import places

    (placed,), _ = places(ring, [ROUND], rings.FACTS.setting_limits)
    head = look(placed, about(placed, to_manifold(ring.metal)), 0.5)
    claw = placed.to_ring(np.append(1.1 * head.girdle.points[head.holders[2].middle], 0.8))
    points = np.array([[0, -9.5, 0], [9.5, 0, 0], [-7.0, 6.8, 0], claw, [3.3, 12.0, 0.0]])
    assert list(roles(ring, [(placed, head)], points)[1]) == [
        "bottom of the shank", "shank, right", "shoulder, left", "claw 3", "gallery",
    ]  # fmt: skip
    assert roles(ring, [], np.array([[0, 9.5, 0.0]]))[1][0] == "top of the ring"


def test_bending_is_that_of_a_strip() -> None:
    """A strip of 0.6 mm bent through a quarter turn over pi / 2 mm has a radius of 1 mm: its outside strains by 0.3."""
    assert bending_strain(0.6, 90.0, np.pi / 2) == pytest.approx(0.3)
    # Plastic moment 400 * 0.6^2 / 4 per mm of width over E I = 90000 * 0.6^3 / 12, along 2 mm.
    assert springback_deg(400.0, 90.0, 0.6, 2.0) == pytest.approx(np.degrees(36.0 / 1620.0 * 2.0))


def test_the_thinnest_wall_is_handed_to_the_pattern_unless_it_has_been_told() -> None:
    from ringwright.making._handed import thinnest_wall

    thick = judged(on_shank(fin(0.85)))
    assert thinnest_wall(thick) == pytest.approx(0.85, abs=0.02)
    thin = judged(on_shank(fin(0.35)))
    assert warned(thin, "wall-thin") and thinnest_wall(thin) is None
