"""Drawings with a mistake in them: each gets one clear sentence, and the rest of the step goes on.

A ring with no hole never comes so far: the piece refuses it in one sentence and still weighs it (tests of the piece).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from ringwright.terms.body import Body, Mesh, Role
from ringwright.terms.commission import SeatBrief, Setting
from ringwright.terms.outcome import Outcome
from ringwright.terms.remark import Level
from ringwright.terms.setting import SettingFigures
from tests.steps import setting_rings as rings
from tests.steps.setting_rings import GIRDLE_MM, SEAT, judged, piece, placed, renamed, solitaire, stone, warned
from tests.steps.solids import rod

ROUND = stone()
SOLID = ROUND[2]
SMALL = stone(length_mm=2.0, width_mm=2.0, depth_mm=1.2)
IN_SHANK = SeatBrief(at_mm=(0.0, -9.6, 0.0), facing=(0.0, -1.0, 0.0))
Made = Callable[[], Outcome[SettingFigures]]


def with_(name: str, seat: SeatBrief | None) -> Outcome[SettingFigures]:
    """The good solitaire with its stone, and a small one beside it."""
    return judged(solitaire(SOLID), ROUND, renamed(SMALL, name, seat))


def loose_claw() -> Outcome[SettingFigures]:
    """The claw at 45 degrees is a body by itself, a tenth of a millimetre from the head."""
    good = solitaire(SOLID)
    claw = placed(rod((3.2, 3.2, -2.0), (3.2, 3.2, 1.2), 0.4, 24))
    metal = Mesh(
        np.vstack([good.metal.vertices_mm, claw.vertices_mm]),
        np.vstack([good.metal.faces, claw.faces + len(good.metal.vertices_mm)]),
    )
    return judged(replace(good, metal=metal), ROUND)


def coarse() -> Outcome[SettingFigures]:
    ring = solitaire(SOLID, sides=3)
    return judged(replace(ring, hole=replace(ring.hole, facet_diameter_mm=17.1)), ROUND)


def opaque() -> Outcome[SettingFigures]:
    """A cabochon of turquoise, flat underneath, over an open hole."""
    one = stone("cabochon", material="turquoise", length_mm=7.0, width_mm=7.0, depth_mm=3.2, setting=Setting.BEZEL)
    return judged(rings.tube(one[2], ledge_mm=0.0, above_mm=1.4), one)


def in_inches() -> Outcome[SettingFigures]:
    return judged(piece(solitaire(SOLID).metal, [Body("main", Role.STONE, placed(SOLID.mesh.scaled(25.4)))]),
                  stone(seat=None))  # fmt: skip


CASES: dict[str, tuple[Made, str, Level, str]] = {
    "a stone inside the shank": (lambda: with_("second", IN_SHANK), "stone-inside", Level.HALT, "inside the metal"),
    "two stones in one another": (lambda: with_("second", SEAT), "stones-overlap", Level.HALT, "lie in one another"),
    "no metal near the stone": (
        lambda: with_("second", SeatBrief(at_mm=(0.0, GIRDLE_MM + 9.0, 0.0), facing=(0.0, 1.0, 0.0))),
        "no-metal", Level.HALT, "no metal is near stone 'second'",
    ),
    "a claw that is a separate shell": (loose_claw, "metal-apart", Level.HALT, "stands by itself"),
    "a mesh too coarse to tell a claw": (coarse, "claw-coarse", Level.HEED, "too coarse to tell a claw"),
    "an opaque cabochon with no pavilion": (opaque, "flat-base", Level.HALT, "has no pavilion"),
    "stones in the wrong unit": (in_inches, "stone-units", Level.HALT, "inches"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_one_clear_sentence_and_the_rest_goes_on(case: str) -> None:
    make, kind, level, words = CASES[case]
    out = make()
    said = warned(out, kind)
    about = {r.place for r in said}
    assert len(said) == len(about) >= 1, "one sentence for each place"
    first = said[0]
    assert first.level is level and words in first.says and "\n" not in first.says and first.change
    assert out.result.walls.thinnest and out.result.walls.median_mm > 0, "the walls are judged all the same"
    if "second" in [s.name for s in out.result.stones]:
        main = out.result.stones[0]
        assert main.hold is not None and main.hold.held, "the other stone is judged as ever"
