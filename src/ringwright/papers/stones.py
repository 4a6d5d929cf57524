"""The card of the stones and their setting: what each is, what it bears, how it is held, with which tools."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ringwright.papers.blocks import (
    Block,
    Card,
    Cell,
    Column,
    bullets,
    heading,
    pairs,
    right,
    row,
    signed,
    small,
    strong,
    table,
    text,
    tick,
    tiles,
    write,
)  # fmt: skip
from ringwright.papers.care import cautions_of, facts_of
from ringwright.papers.generic import figure_table, found
from ringwright.papers.say import measure, sentence
from ringwright.papers.tongue import own
from ringwright.terms.commission import Commission, StoneBrief
from ringwright.terms.facts import Facts
from ringwright.terms.gems import Bears, Force, Gem
from ringwright.terms.making import GemsFound
from ringwright.terms.order import step
from ringwright.terms.remark import Level
from ringwright.terms.setting import SetStone, SettingFigures
from ringwright.words.numbers import NONE, number


def setting_card(making: Any) -> Card | None:
    """Each stone: what it is, what it bears, its claws and tools, and room for its condition at intake."""
    stones = found(making, "gems", GemsFound)
    setting = found(making, "setting", SettingFigures)
    if stones is None or not stones.stones:
        return None
    order: Commission = making.commission
    facts = facts_of(making)
    placed = {one.name: one for one in setting.stones} if setting is not None else {}
    briefs = {brief.name: brief for brief in order.stone}
    blocks: list[Block] = [heading("Stones of this ring"), stone_list(stones.stones, briefs, facts)]
    for alike in _alike(stones.stones):
        blocks += _stone(alike, [placed[gem.name] for gem in alike if gem.name in placed], facts)
    blocks += cautions_of(making, groups=("setting",))
    return Card("Stones and setting", step("setting").question, tuple(blocks))


def _alike(stones: tuple[Gem, ...]) -> list[list[Gem]]:
    """The stones in groups that differ in nothing but their names, in the order of the first of each."""
    groups: dict[Gem, list[Gem]] = {}
    for gem in stones:
        groups.setdefault(replace(gem, name=""), []).append(gem)
    return list(groups.values())


def stone_list(stones: tuple[Gem, ...], briefs: dict[str, StoneBrief], facts: Facts | None) -> Block:
    """All stones in a table."""
    columns = [
        Column(""), Column("Stone"), Column("What it is", "1fr"), right("L × W × D, mm"),
        right("Mass by its size"), right("Stated"), Column("Owner"),
    ]  # fmt: skip
    rows: list[list[Cell]] = []
    for gem in stones:
        brief = briefs.get(gem.name)
        size = " × ".join(number(value, 2) for value in (gem.length_mm, gem.width_mm, gem.depth_mm))
        stated = NONE if gem.stated_ct is None else measure(gem.stated_ct, "ct", 2)
        what = [f"{material_title(gem, facts)}, {cut_title(gem, facts)}", small(_provenance(brief))]
        owner = brief.owner.value if brief is not None else ""
        rows.append([tick(), strong(own(gem.name)), what, size, measure(gem.mass_ct, "ct", 2), stated, owner])
    return table(columns, rows)


def cut_title(gem: Gem, facts: Facts | None) -> str:
    """The cut's name in the facts, or its key."""
    return next((cut.title for cut in facts.cuts if cut.key == gem.cut), gem.cut) if facts is not None else gem.cut


def material_title(gem: Gem, facts: Facts | None) -> str:
    """The material's name in the facts, or its key."""
    if facts is None:
        return gem.material
    return next((row_.title for row_ in facts.gem_materials if row_.key == gem.material), gem.material)


def _owner(brief: StoneBrief | None) -> str:
    return brief.owner.value if brief is not None else ""


def _provenance(brief: StoneBrief | None) -> str:
    if brief is None:
        return ""
    origin = brief.origin or "origin not said"
    return f"{origin}; treatment: {brief.treatment or 'not said'}; {brief.setting.value} setting"


_BORNE = {Bears.YES: Level.FINE, Bears.USUALLY: Level.FINE, Bears.RISKY: Level.HEED, Bears.NEVER: Level.HALT}
_FORCE = {Force.FIRM: Level.FINE, Force.CAREFUL: Level.HEED, Force.GENTLE: Level.HEED}


def _stone(alike: list[Gem], placed: list[SetStone], facts: Facts | None) -> list[Block]:
    gem = alike[0]
    names = own(gem.name) if len(alike) == 1 else f"{own(gem.name)} to {own(alike[-1].name)}, {len(alike)} alike"
    title = f"{names}: {material_title(gem, facts)}, {cut_title(gem, facts)}"
    borne = [
        (_BORNE[gem.torch], _line("Torch, stone in place", gem.torch.value)),
        (_BORNE[gem.pickle], _line("Warm pickle", gem.pickle.value)),
        (_BORNE[gem.ultrasonic], _line("Ultrasonic bath", gem.ultrasonic.value)),
        (_BORNE[gem.steam], _line("Steam", gem.steam.value)),
        (_FORCE[gem.force], _line("Force", gem.force.value)),
    ]
    girdle = f"{number(gem.girdle_thinnest_mm, 2)} to {measure(gem.girdle_thickest_mm, 'mm', 2)}"
    figures: list[tuple[str, Cell]] = [
        ("Girdle", f"{gem.girdle_word}, {girdle}"),
        ("Crown", f"{measure(gem.crown_height_mm, 'mm', 2)}, {measure(gem.crown_deg, 'deg', 0)}"),
        ("Pavilion", f"{measure(gem.pavilion_depth_mm, 'mm', 2)}, {measure(gem.pavilion_deg, 'deg', 0)}"),
        ("Hardness", f"{number(gem.mohs, 1)} Mohs, toughness {gem.toughness}"),
        ("Cleavage", gem.cleavage),
        ("Risk in setting, 1 to 5", f"{gem.setting_risk}, at the {gem.worst_place}"),
    ]
    blocks: list[Block] = [
        heading(title),
        row([pairs(figures, columns=1)], [signed(borne)], widths=(1.0, 1.12)),
    ]
    if gem.assumed:
        blocks.append(text(f"Not measured, taken as usual for the cut: {', '.join(gem.assumed)}.", small=True))
    if gem.cautions:
        blocks.append(bullets(sentence(caution) for caution in gem.cautions))
    if len(placed) == 1:
        blocks += _placed(placed[0])
    elif placed:
        blocks.append(_many(placed))
    room = [("Condition at intake, chips and scratches, under the loupe", write(62)), ("Weighed", write(24, "ct"))]
    return [*blocks, pairs(room, columns=1)]


def _many(placed: list[SetStone]) -> Block:
    """Like stones in their seats, a row for each."""
    columns = [
        Column(""), Column("Stone", "1fr"), right("Metal touches, %"), right("Culet over the finger, mm"),
        right("Tilt, °"), right("Gap, mm"), Column("Held"),
    ]  # fmt: skip
    rows = [
        [tick(), own(one.name), number(one.contact_percent, 0), number(one.culet_mm, 2), number(one.tilt_deg, 1),
         number(one.gap_mm, 2), [_held(one), small(_margin(one))]]
        for one in placed
    ]  # fmt: skip
    return table(columns, rows, small=True)


def _line(name: str, words: str) -> Cell:
    return f"{name}: {words}"


def _placed(placed: SetStone) -> list[Block]:
    """The stone in its seat: how it stands, its claws, what holds it, and the tools."""
    blocks: list[Block] = [
        tiles(
            ("Metal touches", number(placed.contact_percent, 0), "%", "of the girdle"),
            ("Culet over the finger", number(placed.culet_mm, 2), "mm", "clearance"),
            ("Tilt", number(placed.tilt_deg, 1), "°", f"seat {placed.seated.value}"),
            ("Held", _held(placed), "", _margin(placed)),
            wide=(1, 1, 1.35, 1.35),
            height_mm=15,
        )
    ]
    claws = figure_table(
        placed.claws,
        (
            "number",
            "at_deg",
            "width_mm",
            "thickness_mm",
            "above_mm",
            "seat_mm",
            "seat_percent",
            "left_mm",
            "bend_deg",
            "strain_percent",
            "force_N",
        ),
    )
    if claws is not None:
        blocks.append(_headed(claws, _CLAW_HEADS))
    tools = [[tick(), one.what, f"{number(one.low_mm, 2)} to {number(one.high_mm, 2)}"] for one in placed.tools]
    if tools:
        blocks.append(table([Column(""), Column("Tool", "1fr"), right("Size, mm")], tools))
    return blocks


_CLAW_HEADS = {
    "number": "No.", "at_deg": "at, °", "width_mm": "wide, mm", "thickness_mm": "thick, mm",
    "above_mm": "above, mm", "seat_mm": "seat, mm", "seat_percent": "seat, %", "left_mm": "left, mm",
    "bend_deg": "bend, °", "strain_percent": "strain, %", "force_N": "force, N",
}  # fmt: skip


def _headed(block: Block, heads: dict[str, str]) -> Block:
    """The table with short heads, where it has a column for each."""
    if len(block["columns"]) != len(heads):
        return block
    columns = [
        {**column, "title": head, "width": "1fr"} for column, head in zip(block["columns"], heads.values(), strict=True)
    ]
    return {**block, "columns": columns}


def _held(placed: SetStone) -> str:
    if placed.hold is None:
        return NONE
    return "yes" if placed.hold.held else "no"


def _margin(placed: SetStone) -> str:
    if placed.hold is None:
        return ""
    lost = sum(not one.held for one in placed.hold.losses)
    if not placed.hold.losses:
        return placed.hold.weakest
    return "also without any one claw" if not lost else f"not when {lost} of {len(placed.hold.losses)} claws is lost"
