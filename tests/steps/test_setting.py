"""Stones in their places, held or not, and set: figures against what was built, and each remark both ways."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from ringwright.terms.body import Body, Role
from ringwright.terms.commission import SeatBrief, Setting
from ringwright.terms.outcome import Outcome
from ringwright.terms.remark import Level
from ringwright.terms.setting import Seated, SettingFigures, Temper
from tests.steps import setting_rings as rings
from tests.steps.setting_rings import GIRDLE_MM, INNER_MM, judged, piece, placed, solitaire, stone, tube, warned
from tests.steps.solids import box, united

ROUND = stone()
SOLID = ROUND[2]
Made = Callable[[], Outcome[SettingFigures]]


@cache
def good() -> Outcome[SettingFigures]:
    return judged(solitaire(SOLID), ROUND)


def test_a_claw_is_measured_as_it_was_built() -> None:
    (found,) = good().result.stones
    assert found.seated is Seated.GIVEN
    assert [claw.at_deg for claw in found.claws] == pytest.approx([45, 135, 225, 315], abs=1.1)
    for claw in found.claws:
        assert not claw.wall
        assert claw.width_mm == pytest.approx(1.1, rel=0.02)
        assert claw.thickness_mm == pytest.approx(1.1, rel=0.02)
        assert claw.section_mm2 == pytest.approx(np.pi * 0.55**2, rel=0.03)
        assert claw.above_mm == pytest.approx(1.2, abs=0.01)
        assert claw.lean_deg == pytest.approx(0, abs=0.5)
        assert claw.seat_mm == pytest.approx(0.3 * 1.1, abs=0.03)
        assert claw.bearing and claw.gap_mm == 0
    assert found.arcs == 4 and found.tilt_deg < 1e-6
    assert found.height_mm == pytest.approx(GIRDLE_MM + SOLID.table_z_mm - INNER_MM / 2, abs=0.15)
    assert found.culet_mm == pytest.approx(GIRDLE_MM + SOLID.culet_z_mm - INNER_MM / 2, abs=1e-6)
    assert good().verdict is not Level.HALT, [r.says for r in good().remarks if r.level is Level.HALT]


def test_the_stone_is_handed_on_as_a_body_with_its_tips_and_centre() -> None:
    body = good().body("main")
    assert body.role is Role.STONE
    assert body.mesh.vertices_mm[:, 1].max() == pytest.approx(GIRDLE_MM + SOLID.table_z_mm)
    tips = np.array(good().result.claw_tips_mm)
    assert len(tips) == 4 and tips[:, 1] == pytest.approx(GIRDLE_MM + 1.2, abs=0.01)
    assert good().result.stones[0].centre_mm[1] < GIRDLE_MM


def test_a_round_stone_in_four_claws_is_held_and_only_turns() -> None:
    hold = good().result.stones[0].hold
    assert hold is not None and hold.held and hold.turns
    assert len(hold.losses) == 4 and all(loss.held for loss in hold.losses)
    assert all(loss.margin < hold.margin for loss in hold.losses), "a claw less is weaker"


def test_six_claws_lose_less_with_one_than_four() -> None:
    six = judged(solitaire(SOLID, at_deg=range(0, 360, 60)), ROUND).result.stones[0].hold
    four = good().result.stones[0].hold
    assert six is not None and four is not None
    assert min(loss.margin for loss in six.losses) > 1.5 * min(loss.margin for loss in four.losses)


def test_three_claws_hold_until_one_is_gone() -> None:
    out = judged(solitaire(SOLID, at_deg=(90, 210, 330)), ROUND)
    hold = out.result.stones[0].hold
    assert hold is not None and hold.held
    assert not any(loss.held for loss in hold.losses)
    assert all(f"where claw {loss.claw} was" in loss.leaves for loss in hold.losses), "it leaves where the claw was"


def test_a_tube_is_one_wall_and_holds() -> None:
    out = judged(tube(SOLID), stone(setting=Setting.BEZEL))
    (found,) = out.result.stones
    (wall,) = found.claws
    assert wall.wall and wall.thickness_mm == pytest.approx(0.8, abs=0.01)
    assert wall.above_mm == pytest.approx(0.6, abs=0.01)
    assert wall.gap_mm == pytest.approx(0.08, abs=0.01)
    assert found.gap_mm == pytest.approx(0.08, abs=0.01)
    assert found.contact_percent == pytest.approx(100)
    assert found.hold is not None and found.hold.held and found.hold.losses == ()
    assert not out.result.claw_tips_mm


@pytest.mark.parametrize("make", [lambda: solitaire(SOLID), lambda: tube(SOLID)], ids=["claws", "tube"])
def test_the_place_is_found_where_none_is_given(make: Callable[[], Any]) -> None:
    out = judged(make(), stone(seat=None))
    (found,) = out.result.stones
    assert found.seated is Seated.FOUND
    assert found.tilt_deg < 2.0
    assert np.hypot(found.at_mm[0], found.at_mm[2]) < 0.12
    assert "pose-found" in [r.kind for r in out.remarks]
    # Upright claws and a tube let the stone go up and down: it must sit between the rail and the tips.
    assert GIRDLE_MM - 1.0 < found.at_mm[1] < GIRDLE_MM + 0.6


def test_leaning_claws_give_the_height_too() -> None:
    """The starter solitaire's claws lean: the girdle bites them by a quarter at one height only."""
    from ringwright.steps import piece as pieces
    from ringwright.terms.commission import StarterBrief
    from ringwright.terms.piece import StoneRoom
    from tests.tables import tables

    facts = tables("piece_limits", "starter_proportions")
    outline = tuple((float(x), float(y)) for x, y in SOLID.outline_mm)
    room = StoneRoom(
        name="main", outline_mm=outline, crown_mm=SOLID.crown_height_mm, girdle_mm=SOLID.girdle_thickest_mm,
        pavilion_mm=SOLID.pavilion_depth_mm,
    )  # fmt: skip
    drawn = pieces.starter(StarterBrief(shape="solitaire"), INNER_MM, facts.starter_proportions, stone=room)
    ring, _ = pieces.measure(drawn, (), facts.piece_limits)
    out = judged(replace(ring, seats=()), stone(seat=None))
    offered = judged(ring, stone(seat=None)).result.stones[0]
    found = out.result.stones[0]
    assert (offered.seated, found.seated) == (Seated.STARTER, Seated.FOUND)
    assert np.linalg.norm(np.subtract(found.at_mm, offered.at_mm)) < 0.15
    assert found.tilt_deg < 2.0


def test_a_drawn_stone_says_where_it_sits() -> None:
    seat = SeatBrief(at_mm=(0.1, GIRDLE_MM, -0.1), facing=(0.05, 1.0, 0.1), turn_deg=20.0)
    one = stone("oval", seat=None)
    ring = piece(solitaire(one[2]).metal, [Body("gem", Role.STONE, placed(one[2].mesh, seat))])
    (found,) = judged(ring, one).result.stones
    assert found.seated is Seated.DRAWN
    assert found.at_mm == pytest.approx(seat.at_mm, abs=0.02)
    facing = np.array(seat.facing) / np.linalg.norm(seat.facing)
    assert np.degrees(np.arccos(np.array(found.facing) @ facing)) < 1.0
    assert (found.turn_deg - 20.0 + 90.0) % 180.0 - 90.0 == pytest.approx(0.0, abs=2.0), (
        "an oval is the same turned about"
    )


def test_a_band_without_stones_is_judged_by_its_walls_alone() -> None:
    out = judged(rings.on_shank())
    assert out.result.stones == () and out.bodies == ()
    assert [field.name for field in out.fields] == ["wall", "gap"]
    assert out.result.walls.median_mm == pytest.approx(2.0, abs=0.05)
    assert out.verdict is Level.FINE


def two(apart_mm: float) -> Outcome[SettingFigures]:
    size = float(np.ptp(SOLID.outline_mm[:, 0]))
    other = SeatBrief(at_mm=(size + apart_mm, GIRDLE_MM, 0.0), facing=(0.0, 1.0, 0.0))
    return judged(solitaire(SOLID), ROUND, rings.renamed(ROUND, "second", other))


def princess(*at_deg: float) -> Outcome[SettingFigures]:
    one = stone("princess")
    return judged(solitaire(one[2], at_deg=at_deg, bite=0.35), one)


def sunk(
    thick_mm: float, material: str = "diamond", proud_mm: float = 0.0, side_mm: float = 2.5
) -> Outcome[SettingFigures]:
    """A 2 mm stone sunk into the top of a thick band."""
    small = {"length_mm": 2.0, "width_mm": 2.0, "depth_mm": 1.2}
    table = rings.stone(**small, material=material, setting=Setting.FLUSH)[2].table_z_mm
    y = INNER_MM / 2 + thick_mm - table + proud_mm
    seat = SeatBrief(at_mm=(0.0, y, 0.0), facing=(0.0, 1.0, 0.0))
    top = box((-3.0, 8.9, -side_mm), (3.0, INNER_MM / 2 + thick_mm, side_mm))
    ring = rings.on_shank(top, thick_mm=min(thick_mm, 2.0))
    return judged(ring, rings.stone(seat=seat, **small, material=material, setting=Setting.FLUSH))


def channel(wall_mm: float) -> Outcome[SettingFigures]:
    one = stone("baguette", setting=Setting.CHANNEL)
    half = one[0].width_mm / 2
    z = float(one[2].girdle_bottom_mm.min())
    parts = [box((-4, -4.3, -1.6), (4, -3.0, 1.6))]
    for side in (1, -1):
        for low, high, y0 in ((-4.3, 0.6, half), (-4.3, z, half - 0.2)):
            y1 = half + wall_mm
            ys = sorted((side * y0, side * y1))
            parts.append(box((-4.0, ys[0], low), (4.0, ys[1], high)))
    return judged(piece(united(rings.shank(), *(placed(p) for p in parts))), one)


def cabochon(ledge_mm: float) -> Outcome[SettingFigures]:
    one = stone("cabochon", length_mm=7.0, width_mm=7.0, depth_mm=3.2, setting=Setting.BEZEL)
    return judged(tube(one[2], ledge_mm=ledge_mm, above_mm=1.4), one)


def drawn(scale: float, length_mm: float = 6.5, name: str = "main", more: bool = False) -> Outcome[SettingFigures]:
    mesh = rings.stone(length_mm=length_mm, width_mm=length_mm, depth_mm=0.6 * length_mm)[2].mesh.scaled(scale)
    bodies = [Body(name, Role.STONE, placed(mesh))]
    if more:
        bodies.append(Body("left over", Role.STONE, rings.moved(placed(mesh), 12.0)))
    return judged(piece(solitaire(SOLID).metal, bodies), stone(seat=None))


def at(x: float = 0.0, y: float = GIRDLE_MM) -> Outcome[SettingFigures]:
    return judged(solitaire(SOLID), stone(seat=SeatBrief(at_mm=(x, y, 0.0), facing=(0.0, 1.0, 0.0))))


def claws(temper: Temper = Temper.ANNEALED, material: str = "diamond", **given: Any) -> Outcome[SettingFigures]:
    return judged(solitaire(SOLID, **given), stone(material=material), temper=temper)


def girdled(word: str) -> Outcome[SettingFigures]:
    """The same stone with another girdle, in claws that take more force than a thin one bears."""
    brief, gem, solid = stone()
    return judged(solitaire(SOLID, thick_mm=1.3), (brief, replace(gem, girdle_word=word), solid), temper=Temper.WORKED)


def finger(inner_mm: float) -> Outcome[SettingFigures]:
    """The same head over a wider finger, so that the culet comes nearer to it."""
    ring = solitaire(SOLID)
    return judged(replace(ring, hole=replace(ring.hole, diameter_mm=inner_mm)), ROUND)


def coarse(sides: int) -> Outcome[SettingFigures]:
    return judged(
        replace(solitaire(SOLID, sides=sides), hole=replace(piece(SOLID.mesh).hole, facet_diameter_mm=17.1)), ROUND
    )


BOTH_WAYS: dict[str, tuple[str, Made, Made]] = {
    "no metal near the stone": ("no-metal", lambda: at(y=22.0), good),
    "a stone inside the metal": (
        "stone-inside",
        lambda: judged(rings.on_shank(box((-5, 9, -5), (5, 15, 5))), ROUND),
        good,
    ),
    "two stones in one another": ("stones-overlap", lambda: two(-1.0), lambda: two(0.3)),
    "two stones too close": ("stones-close", lambda: two(0.03), lambda: two(0.3)),
    "a culet at the finger": ("culet-low", lambda: finger(22.2), good),
    "a seat too deep": ("seat-depth", lambda: claws(bite=0.6), lambda: claws(bite=0.4)),
    "a seat too shallow": ("seat-depth", lambda: claws(bite=0.05), lambda: claws(bite=0.3)),
    "claws too short": ("claw-short", lambda: claws(above_mm=0.6), lambda: claws(above_mm=1.1)),
    "claws off the stone": ("claw-gap", lambda: claws(bite=0.0, gap_mm=0.32), lambda: claws(bite=0.0, gap_mm=0.1)),
    "claws too thin": ("claw-thin", lambda: claws(thick_mm=0.5), lambda: claws(thick_mm=0.8)),
    "claws on one side": ("not-held", lambda: claws(at_deg=(0, 50, 100)), lambda: claws(at_deg=(0, 120, 240))),
    "claws that end below the girdle": ("not-held", lambda: claws(above_mm=0.15), lambda: claws(above_mm=1.2)),
    "three claws, one worn": (
        "claw-loss",
        lambda: claws(at_deg=(90, 210, 330)),
        lambda: claws(at_deg=range(0, 360, 60)),
    ),
    "two claws": ("hold-weak", lambda: claws(at_deg=(0, 180)), lambda: claws(at_deg=(0, 120, 240))),
    "bent when hard": ("claw-strain", lambda: claws(Temper.WORKED), lambda: claws(Temper.ANNEALED)),
    "a root far down": ("claw-root", lambda: claws(rail_mm=3.3), lambda: claws(rail_mm=0.9)),
    "a hard push on opal": (
        "push-hard",
        lambda: claws(Temper.WORKED, "opal", thick_mm=1.3),
        lambda: claws(material="opal", thick_mm=0.9),
    ),
    "a hard push on a thin girdle": (
        "push-hard",
        lambda: girdled("very thin"),
        lambda: girdled("medium"),
    ),
    "a claw that dents a pearl": (
        "press-dents",
        lambda: claws(Temper.WORKED, "pearl", thick_mm=2.0, above_mm=0.6),
        lambda: claws(material="pearl", thick_mm=0.8),
    ),
    "a bare corner": ("corner-bare", lambda: princess(0, 90, 180, 270), lambda: princess(45, 135, 225, 315)),
    "a claw of three sides": ("claw-coarse", lambda: coarse(3), lambda: coarse(24)),
    "a bezel too low": (
        "wall-short",
        lambda: judged(tube(SOLID, above_mm=0.25), stone(setting=Setting.BEZEL)),
        lambda: judged(tube(SOLID, above_mm=0.6), stone(setting=Setting.BEZEL)),
    ),
    "a channel too thin": ("channel-wall", lambda: channel(0.7), lambda: channel(1.1)),
    "a flat base on nothing": ("flat-base", lambda: cabochon(0.0), lambda: cabochon(0.6)),
    "flush, too thin below": ("flush-below", lambda: sunk(1.1), lambda: sunk(1.9)),
    "flush, too near an edge": ("flush-beside", lambda: sunk(1.9, side_mm=1.5), lambda: sunk(1.9, side_mm=2.5)),
    "flush, no lip": ("flush-lip", lambda: sunk(1.9, proud_mm=0.4), lambda: sunk(1.9, proud_mm=0.0)),
    "flush, too soft": ("flush-hardness", lambda: sunk(1.9, "opal"), lambda: sunk(1.9)),
    "stones drawn in centimetres": ("stone-units", lambda: drawn(0.1), lambda: drawn(1.0)),
    "drawn for another stone": ("stone-differs", lambda: drawn(1.0, 5.2), lambda: drawn(1.0)),
    "a stone too many": ("stone-unlisted", lambda: drawn(1.0, more=True), lambda: drawn(1.0)),
}  # fmt: skip


@pytest.mark.parametrize("case", BOTH_WAYS)
def test_a_remark_comes_and_goes(case: str) -> None:
    kind, faulty, mended = BOTH_WAYS[case]
    said = warned(faulty(), kind)
    assert said, [(r.kind, r.says) for r in faulty().remarks]
    assert all(r.says and r.change and "\n" not in r.says for r in said)
    assert not warned(mended(), kind), [r.says for r in warned(mended(), kind)]


def test_a_stone_drawn_in_the_wrong_unit_is_refused_and_the_rest_goes_on() -> None:
    out = drawn(0.1)
    (said,) = warned(out, "stone-units")
    assert said.level is Level.HALT and "cm" in said.says
    assert out.result.stones == () and out.result.walls.thinnest


def test_a_head_for_another_ring_offers_no_place() -> None:
    out = judged(rings.on_shank(), stone(seat=None))
    (said,) = warned(out, "no-metal")
    assert said.level is Level.HALT and "draw a head" in said.change


def test_a_found_place_that_leans_is_told_and_an_upright_one_is_not() -> None:
    """Of the same stone: only a place that was found leans by mistake, one that is given leans because it is wanted."""
    from ringwright.science.solids import to_manifold
    from ringwright.steps.setting._head import about, look
    from ringwright.steps.setting._pose import places
    from ringwright.steps.setting._remarks import _place

    ring = solitaire(SOLID)
    (there,), _ = places(ring, [ROUND], rings.FACTS.setting_limits)
    head = look(there, about(there, to_manifold(ring.metal)), 0.5)

    def kinds(seated: Seated, tilt_deg: float) -> set[str]:
        one = replace(good().result.stones[0], seated=seated, tilt_deg=tilt_deg)
        return {r.kind for r in _place(there, head, one, rings.FACTS.setting_limits) if r is not None}

    assert "tilted" in kinds(Seated.FOUND, 6.0)
    assert "tilted" not in kinds(Seated.FOUND, 1.0) and "tilted" not in kinds(Seated.GIVEN, 6.0)
