"""The card of the ring as drawn and worn: what was read, how thick it is, how strong, how it hangs on the finger."""

from __future__ import annotations

from typing import Any

from ringwright.papers.blocks import Block, Card, Column, heading, pairs, right, small, table
from ringwright.papers.generic import figure_pairs, found, result_blocks
from ringwright.papers.say import measure, sentence
from ringwright.terms.order import step
from ringwright.terms.outcome import Outcome
from ringwright.terms.piece import PieceFigures
from ringwright.terms.pour import NotPoured, PourFigures
from ringwright.terms.setting import SettingFigures, ThinPlace
from ringwright.terms.wear import Strength, WearFigures
from ringwright.words.numbers import NONE, number

_DRAWN = (
    "format", "units", "units_from", "closed_as_drawn", "volume_mm3", "area_mm2", "extent_mm", "height_mm",
    "hole_diameter_mm", "hole_roundness_mm", "hole_profile", "band_width_mm", "band_thickness_mm", "off_axis_mm",
)  # fmt: skip
_WORN = (
    "off_axis_mm",
    "turning_share",
    "height_mm",
    "sharp_inside_mm",
    "sharp_outside_mm",
    "years",
    "yield_MPa",
    "youngs_GPa",
)


def worn_card(making: Any) -> Card | None:
    """Piece, walls and wear in figures, each by its own description."""
    piece = found(making, "piece", PieceFigures)
    setting = found(making, "setting", SettingFigures)
    wear = found(making, "wear", WearFigures)
    blocks: list[Block] = []
    if piece is not None:
        blocks += [heading("As drawn"), pairs(figure_pairs(piece, _DRAWN))]
        blocks += [pairs([("Mended", "; ".join(piece.mended))], columns=1)] if piece.mended else []
    if setting is not None:
        blocks += _walls(setting)
    if wear is not None:
        blocks += [heading("On a hand"), pairs(figure_pairs(wear, _WORN)), *_strengths(wear)]
    blocks += _others(making)
    return Card("As drawn and worn", step("wear").question, tuple(blocks)) if blocks else None


def _walls(setting: SettingFigures) -> list[Block]:
    walls = setting.walls
    blocks = [heading("Walls and gaps", "the largest ball that fits there, in mm")]
    places = [("thin", one) for one in walls.thinnest[:8]] + [("narrow", one) for one in walls.narrowest[:5]]
    columns = [
        Column("Place", "1fr"), Column(""), right("As drawn"), right("As cast"),
        right("As worn"),
    ]  # fmt: skip
    if places:
        blocks.append(table(columns, [_place(kind, one) for kind, one in places], small=True))
    told = figure_pairs(walls, ("median_mm", "knife_mm", "crevice_mm", "shells"))
    return [*blocks, pairs(told)]


def _place(kind: str, one: ThinPlace) -> list[Any]:
    return [sentence(one.place), kind, number(one.drawn_mm, 2), number(one.cast_mm, 2), number(one.worn_mm, 2)]


def _strengths(wear: WearFigures) -> list[Block]:
    if not wear.strengths:
        return []
    columns = [
        Column("Load", "1fr"), Column("Where", "1fr"), right("Stress or strain"),
        right("Moves, mm"), right("Safety"),
    ]  # fmt: skip
    return [table(columns, [_strength(one) for one in wear.strengths], small=True)]


def _strength(one: Strength) -> list[Any]:
    stress = measure(one.stress_MPa, "MPa", 0) if one.stress_MPa is not None else measure(one.strain_percent, "%", 2)
    sure = measure(one.safety, "", 1) if one.converged else [measure(one.safety, "", 1), small("meshes differ")]
    return [
        [sentence(one.title), small(one.load)],
        one.place,
        stress if stress else NONE,
        number(one.moved_mm, 3),
        sure,
    ]


def _others(making: Any) -> list[Block]:
    """Steps that no card knows by name: their results whole."""
    blocks: list[Block] = []
    for name in ("pour",):
        outcome = getattr(making, name, None)
        if isinstance(outcome, Outcome) and not isinstance(outcome.result, (PourFigures, NotPoured)):
            blocks += result_blocks(step(name).title, outcome.result)
    return blocks
