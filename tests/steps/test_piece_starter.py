"""Starter shapes: exact volumes, a hole as ordered, a stone that sits, and mistakes told."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science import crossings, solids, sweeps
from ringwright.steps.piece import _heads, measure, starter
from ringwright.steps.piece._sections import Proportions
from ringwright.terms.commission import StarterBrief
from ringwright.terms.mistake import BadInput
from ringwright.terms.piece import StoneRoom, seated
from tests.steps import starter_volumes as exact
from tests.steps.piece_facts import LIMITS, PROPORTIONS

RADIUS = 8.65
ROWS = exact.Rows(PROPORTIONS)


def room(
    length: float = 6.5, width: float = 6.5, *, pavilion: float = 2.8, crown: float = 1.05, n: int = 96
) -> StoneRoom:
    turn = sweeps.turns(n)
    outline = np.stack([length / 2.0 * np.cos(turn), width / 2.0 * np.sin(turn)], axis=1)
    return StoneRoom(
        name="main", outline_mm=tuple((float(x), float(y)) for x, y in outline),
        crown_mm=crown, girdle_mm=0.2, pavilion_mm=pavilion,
    )  # fmt: skip


SQUARE = StoneRoom(
    name="main", outline_mm=((2.75, 2.75), (-2.75, 2.75), (-2.75, -2.75), (2.75, -2.75)),
    crown_mm=0.7, girdle_mm=0.2, pavilion_mm=3.0,
)  # fmt: skip


@pytest.mark.parametrize("inside", ["flat", "comfort"])
@pytest.mark.parametrize("section", ["flat", "D", "court", "oval"])
@pytest.mark.parametrize("size", [(2.2, 1.8), (6.0, 1.5), (1.5, 3.4)], ids=["shank", "wide", "steep"])
def test_a_band_has_its_exact_volume(section: str, inside: str, size: tuple[float, float]) -> None:
    brief = StarterBrief(shape="band", section=section, width_mm=size[0], thickness_mm=size[1])
    drawn = starter(brief, 2 * RADIUS, PROPORTIONS, inside=inside)
    expected = exact.band(brief, RADIUS, inside == "comfort", ROWS)
    assert solids.volume(drawn.metal) == pytest.approx(expected, rel=1e-3)
    assert solids.is_closed(drawn.metal)


@pytest.mark.parametrize(("section", "inside"), [("flat", "flat"), ("D", "flat"), ("court", "comfort")])
def test_a_signet_has_its_exact_volume(section: str, inside: str) -> None:
    brief = StarterBrief(shape="signet", section=section, width_mm=4.0, thickness_mm=1.6)
    drawn = starter(brief, 2 * RADIUS, PROPORTIONS, inside=inside)
    expected = exact.signet(brief, RADIUS, inside == "comfort", ROWS)
    assert solids.volume(drawn.metal) == pytest.approx(expected, rel=1e-3)
    face = drawn.metal.vertices_mm[:, 1] > RADIUS + brief.head_thickness_mm - 1e-9
    low, high = drawn.metal.vertices_mm[face].min(axis=0), drawn.metal.vertices_mm[face].max(axis=0)
    assert high - low == pytest.approx([brief.head_length_mm, 0.0, brief.head_width_mm], abs=1e-9)


@pytest.mark.parametrize("claws", [4, 6])
def test_a_solitaire_has_the_volume_of_its_parts_united(claws: int) -> None:
    brief = StarterBrief(shape="solitaire", claws=claws)
    drawn = starter(brief, 2 * RADIUS, PROPORTIONS, stone=room())
    plan = _heads.claws(brief, RADIUS, room(), Proportions(PROPORTIONS))
    expected, doubt = exact.solitaire(brief, RADIUS, False, ROWS, plan, 3.25)
    assert doubt < 2e-4 * expected, "the points must be sharp enough to tell"
    assert solids.volume(drawn.metal) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("section", ["D", "court"])
def test_a_bezel_has_the_volume_of_its_parts_united(section: str) -> None:
    brief = StarterBrief(shape="bezel", section=section, width_mm=3.0)
    drawn = starter(brief, 2 * RADIUS, PROPORTIONS, stone=room(n=256))
    stone = _heads._heights(RADIUS + ROWS.mm("culet-over-finger"), room())
    expected, doubt = exact.bezel(brief, RADIUS, False, ROWS, stone, 3.25)
    assert doubt < 2e-4 * expected
    assert solids.volume(drawn.metal) == pytest.approx(expected, rel=1e-3)


CASES = [
    (StarterBrief(shape="band"), None),
    (StarterBrief(shape="signet", width_mm=4.0), None),
    (StarterBrief(shape="solitaire"), room()),
    (StarterBrief(shape="solitaire", claws=6), room(9.0, 6.0)),
    (StarterBrief(shape="solitaire"), SQUARE),
    (StarterBrief(shape="solitaire"), room(3.0, 3.0, pavilion=1.3, crown=0.5)),
    (StarterBrief(shape="solitaire"), room(12.0, 10.0, pavilion=0.0, crown=4.0)),
    (StarterBrief(shape="bezel", width_mm=3.0), room(8.0, 6.0)),
    (StarterBrief(shape="bezel"), room(7.0, 5.0, pavilion=0.0, crown=3.0)),
    (StarterBrief(shape="bezel"), SQUARE),
]
NAMES = [
    "band", "signet", "round", "oval", "square", "small", "cabochon", "oval bezel", "cabochon bezel", "square bezel"
]  # fmt: skip


@pytest.mark.parametrize(("brief", "stone"), CASES, ids=NAMES)
def test_a_starter_is_one_clean_solid_with_the_ordered_hole(brief: StarterBrief, stone: StoneRoom | None) -> None:
    drawn = starter(brief, 2 * RADIUS, PROPORTIONS, stone=stone)
    assert solids.is_closed(drawn.metal)
    assert len(solids.shells(drawn.metal)) == 1
    assert solids.to_manifold(drawn.metal).volume() == pytest.approx(solids.volume(drawn.metal))
    assert crossings.crossings(drawn.metal, 1e-4) is None
    assert 8_000 < len(drawn.metal.faces) < 80_000
    piece, outcome = measure(drawn, (), LIMITS, ordered_diameter_mm=2 * RADIUS)
    assert piece.hole.diameter_mm == pytest.approx(2 * RADIUS, abs=2e-3)
    assert [r.kind for r in outcome.remarks if r.level != "fine"] == []
    assert piece.placement.matrix == pytest.approx(np.eye(3), abs=2e-3), "it stands in the ring's frame already"
    assert piece.band_thickness_mm == pytest.approx(brief.thickness_mm, abs=2e-3)
    assert piece.band_width_mm == pytest.approx(brief.width_mm, abs=0.02)


def cut(stone: StoneRoom) -> solids.Mesh:
    """A stone in its own frame that fills its room: table half as wide, a culet in the middle."""
    outline, half = np.array(stone.outline_mm), stone.girdle_mm / 2.0
    levels = [(1.0, half), (1.0, -half), (0.55, half + stone.crown_mm), (1e-6, -half - stone.pavilion_mm)]
    return solids.hull(np.concatenate([np.column_stack([outline * s, np.full(len(outline), z)]) for s, z in levels]))


@pytest.mark.parametrize(("brief", "stone"), CASES[2:], ids=NAMES[2:])
def test_the_stone_sits_between_the_metal_and_off_the_finger(brief: StarterBrief, stone: StoneRoom) -> None:
    """The stone meets metal only where its seat is to be cut: at the girdle, a little, all round."""
    drawn = starter(brief, 2 * RADIUS, PROPORTIONS, stone=stone)
    (seat,) = drawn.seats
    assert seat.facing == (0.0, 1.0, 0.0)
    placed = seated(cut(stone), seat)
    low = placed.vertices_mm[:, 1].min()
    assert low - RADIUS > 0.49, "the culet stays off the finger"
    if brief.shape == "solitaire":
        touched = solids.common(placed, drawn.metal)
        parts = solids.shells(touched)
        assert len(parts) == brief.claws, "each claw is met, and nothing else"
        assert solids.volume(touched) < 0.08 * solids.volume(placed)
        for part in parts:
            heights = part.vertices_mm[:, 1] - seat.at_mm[1]
            assert heights.min() < 0.05
            assert heights.max() > -0.05, "at the girdle"
        top = drawn.metal.vertices_mm[:, 1].max()
        assert top > placed.vertices_mm[:, 1].max(), "claws stand past the table, to be pushed over"
    else:
        assert solids.volume(solids.common(placed, drawn.metal)) < 1e-3, "a bezel's seat is cut"
        lower = placed.moved(np.eye(3), np.array([0.0, -0.3, 0.0]))
        if stone.pavilion_mm > 0:
            assert solids.volume(solids.common(lower, drawn.metal)) > 0.1, "but it does not fall through"


def test_claws_cover_points_first_and_spread_evenly_where_there_are_none() -> None:
    square = np.array(SQUARE.outline_mm)
    assert np.sort(np.abs(_heads.at_girdle(square, 4)), axis=None) == pytest.approx(np.full(8, 2.75))
    turn = sweeps.turns(96)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    angles = np.sort(np.degrees(np.arctan2(*_heads.at_girdle(circle, 6).T[::-1])) % 360.0)
    assert np.diff(angles) == pytest.approx(np.full(5, 60.0), abs=0.2)
    pear = np.concatenate([[[2.0, 0.0]], circle[(turn > 1.0) & (turn < 5.28)]])
    claws = _heads.at_girdle(pear, 5)
    assert np.linalg.norm(claws - [2.0, 0.0], axis=1).min() < 1e-9, "a claw over the point"


@pytest.mark.parametrize(
    ("brief", "stone", "says"),
    [
        (StarterBrief(shape="hoop"), None, "starter.shape: 'hoop' is no shape; one of band, solitaire, bezel, signet"),
        (StarterBrief(shape="band", section="round"), None, "'round' is no section"),
        (StarterBrief(shape="band", width_mm=0.0), None, "starter.width: 0 mm; more than nothing"),
        (StarterBrief(shape="band", thickness_mm=9.0), None, "9 mm is more than half the hole"),
        (StarterBrief(shape="solitaire"), None, "a solitaire needs a stone; add a [[stone]], or take a band"),
        (StarterBrief(shape="solitaire", claws=2), room(), "2 claws hold no stone; 3 or more"),
        (StarterBrief(shape="signet", head_length_mm=18.0), None, "18 mm is wider than the finger"),
        (StarterBrief(shape="bezel"), room(17.0, 17.0), "is wider than the finger"),
        (StarterBrief(shape="bezel", bezel_wall_mm=0.0), room(), "starter.bezel_wall: 0 mm"),
    ],
)
def test_what_makes_no_ring_is_told(brief: StarterBrief, stone: StoneRoom | None, says: str) -> None:
    with pytest.raises(BadInput) as told:
        starter(brief, 2 * RADIUS, PROPORTIONS, stone=stone)
    assert says in str(told.value)


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(BadInput) as told:
        starter(StarterBrief(shape="hoop", section="round", width_mm=-1.0), -3.0, PROPORTIONS, inside="soft")
    assert len(told.value.mistakes) >= 5
