"""The card of the pour: what to set, what then happens in seconds, the window about the setting, and the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from ringwright.papers.blocks import Block, Card, Column, heading, pairs, right, row, strong, table, text, tiles, write
from ringwright.papers.care import cautions_of
from ringwright.papers.generic import found
from ringwright.papers.say import measure, sentence
from ringwright.terms.order import step
from ringwright.terms.pour import Compared, NotPoured, PoreZone, PourFigures, Setting, TightPlace, Variant
from ringwright.terms.tree import TreeFigures
from ringwright.terms.workshop import Casting, CastingPlant
from ringwright.words.numbers import NONE, number

_MOST_PLACES = 4
_WIDE_MM, _HIGH_MM = 78.0, 46.0
_SHADES = {"misrun": 25, "near misrun": 62, "sound": 100, "coarse and porous side": -1, "outside practice": 88}
"""How light a cell of the map is, by its verdict; below 0 it is hatched."""


def pour_card(making: Any) -> Card | None:
    """The pour: all settings, times in seconds, the map of settings, what is fed and what not, and cautions."""
    refused = found(making, "pour", NotPoured)
    if refused is not None:
        told = text(f"It cannot be poured as asked: {refused.why}.")
        return Card("Pour", step("pour").question, (told, *cautions_of(making, groups=("casting",), but=("burnout",))))
    pour = found(making, "pour", PourFigures)
    if pour is None:
        return None
    tree = found(making, "tree", TreeFigures)
    plant: CastingPlant = making.workshop.casting
    blocks: list[Block] = [
        tiles(
            ("Flask, at the soak", number(pour.flask_C, 0), "°C", _practice(pour)),
            ("Metal", number(pour.melt_C, 0), "°C", f"{number(pour.superheat_C, 0)} K above the liquidus"),
            _driven(pour, plant),
            ("Charge", number(tree.charge_g, 2) if tree else NONE, "g", tree.crucible or "" if tree else ""),
            height_mm=15,
        ),
        tiles(
            ("Kiln to pour", number(plant.kiln_to_pour_s, 0), "s", "the flask cools on the way"),
            ("Full after", number(pour.fill_s, 2), "s", f"{number(pour.speed_m_s, 1)} m/s in the sprue"),
            ("Gates feed until", number(pour.sprue_frozen_s, 1), "s", "do not move the flask before"),
            ("Pieces solid after", number(pour.frozen_s, 1), "s", "computed, not measured"),
            height_mm=15,
        ),
        row(_map(pour, plant), [heading("To set and to know"), pairs(_settings(pour, tree, plant), columns=1)]),
        *_told_of_map(pour),
        text(pour.why, small=True),
    ]
    if pour.led_why:
        blocks.append(text(f"Gates and sprue: {pour.led_why}", small=True))
    blocks += _ways(pour.variants)
    blocks += _places(pour.tightest[:_MOST_PLACES], pour.pores[:_MOST_PLACES])
    blocks += [heading("Computed times and your own"), text(pour.measured, small=True), *_compared(pour.compared)]
    if not pour.compared:
        blocks.append(pairs([("Poured at", write(22)), ("Flask out of the kiln for", write(22, "s"))]))
    blocks += cautions_of(making, keys=pour.cautions)
    return Card("Pour", step("pour").question, tuple(blocks))


def _driven(pour: PourFigures, plant: CastingPlant) -> tuple[str, str, str, str]:
    drive = f"{number(pour.drive_kPa, 0)} kPa drive the metal"
    if plant.method is Casting.VACUUM:
        return ("Vacuum", number(plant.vacuum_kPa, 0), "kPa", drive)
    if plant.method is Casting.CENTRIFUGAL:
        return ("Centrifuge", number(plant.rpm, 0), "rpm", f"arm {number(plant.arm_mm, 0)} mm; {drive}")
    return ("Gravity alone", number(pour.drive_kPa, 1), "kPa", "metal head")


def _practice(pour: PourFigures) -> str:
    return f"{number(pour.flask_at_pour_C, 0)} °C about the ring at the pour"


def _settings(pour: PourFigures, tree: TreeFigures | None, plant: CastingPlant) -> list[tuple[str, Any]]:
    told: list[tuple[str, Any]] = []
    if tree is not None:
        gates = f"{len(tree.gates)}, {number(tree.sprue_diameter_mm, 1)} × {measure(tree.sprue_length_mm, 'mm', 1)}"
        told += [
            ("Flask", f"{tree.flask or NONE}, {tree.flask_diameter_mm:.0f} × {tree.flask_height_mm:.0f} mm"),
            ("Gates, and sprue", gates),
            ("Powder", measure(tree.powder_g, "g", 0)),
            ("Water", measure(tree.water_g, "g", 0)),
        ]
    told += [
        ("Your spread: flask, metal", f"± {number(plant.flask_spread_C, 0)} K, ± {number(plant.metal_spread_C, 0)} K"),
        ("Outside of the flask at the pour", measure(pour.flask_skin_C, "°C", 0)),
        ("Heat left at the worst place", measure(pour.reserve_percent, "%", 0)),
        ("the same at the cold end of your spread", measure(pour.chosen.reserve_low_percent, "%", 0)),
        ("Fills edges down to a radius of", measure(pour.edge_mm, "mm", 2)),
        ("Shrinkage not fed", measure(pour.pore_mm3, "mm3", 2)),
    ]
    if pour.habit is not None:
        told.append(("Your usual flask and metal", _usual(pour.habit)))
    return told


def _usual(habit: Setting) -> Any:
    return [
        f"{number(habit.flask_C, 0)} and {measure(habit.melt_C, '°C', 0)}: {habit.verdict}",
        {
            "text": f"{number(habit.reserve_percent, 0)} % left, {number(habit.pore_mm3, 2)} mm³ not fed, "
            f"solid after {number(habit.frozen_s, 1)} s",
            "small": True,
        },
    ]


def _map(pour: PourFigures, plant: CastingPlant) -> list[Block]:
    """The window: flask across, metal upward; the number in a cell is the heat left at the worst place, in %."""
    flasks, melts = _regular(pour.window)
    if len(flasks) < 2 or len(melts) < 2:
        return [text("There is no map of settings.")]
    at = {(one.flask_C, one.melt_C): one for one in pour.window}
    across, up = _edges(flasks), _edges(melts)

    def place(value: float, edges: Sequence[float]) -> float:
        return (min(max(value, edges[0]), edges[-1]) - edges[0]) / (edges[-1] - edges[0])

    cells = []
    for i, flask in enumerate(flasks):
        for j, melt in enumerate(melts):
            one = at[flask, melt]
            shade = _SHADES.get(one.verdict, 100)
            cells.append(
                {
                    "from": [place(across[i], across), place(up[j], up)],
                    "to": [place(across[i + 1], across), place(up[j + 1], up)],
                    "shade": shade,
                    "text": number(max(one.reserve_low_percent, -99.0), 0),
                }
            )
    chosen = pour.chosen
    spread = [
        [
            place(chosen.flask_C + sign * plant.flask_spread_C, across),
            place(chosen.melt_C + sign * plant.metal_spread_C, up),
        ]
        for sign in (-1, 1)
    ]
    habit = pour.habit
    every = max(1, -(-len(flasks) // 6))
    seen = {one.verdict for one in pour.window}
    return [
        heading("The window"),
        {
            "kind": "window", "width": _WIDE_MM, "height": _HIGH_MM, "cells": cells, "spread": spread,
            "chosen": [place(chosen.flask_C, across), place(chosen.melt_C, up)],
            "habit": None if habit is None else [place(habit.flask_C, across), place(habit.melt_C, up)],
            "flasks": [[place(C, across), number(C, 0)] for C in flasks[::every]],
            "melts": [[place(C, up), number(C, 0)] for C in melts],
            "legend": [[shade, verdict] for verdict, shade in _SHADES.items() if verdict in seen],
        },
    ]  # fmt: skip


def _told_of_map(pour: PourFigures) -> list[Block]:
    """How the map is read, where there is one."""
    if any(len(values) < 2 for values in _regular(pour.window)):
        return []
    cross = pour.habit is not None
    told = (
        "Across: flask, upward: metal, °C. In each cell the heat left at the worst place at the cold end of your "
        "spread, %. The ring is the setting, its frame your spread"
        f"{'; the cross is your usual setting' if cross else ''}."
    )
    return [text(told, small=True)]


def _regular(window: Sequence[Setting]) -> tuple[list[float], list[float]]:
    """The temperatures of the map's regular part: the flasks that stand with every melt."""
    melts = sorted({one.melt_C for one in window})
    at: dict[float, set[float]] = {}
    for one in window:
        at.setdefault(one.flask_C, set()).add(one.melt_C)
    return sorted(flask for flask, with_ in at.items() if len(with_) == len(melts)), melts


def _edges(values: Sequence[float]) -> list[float]:
    """The borders of cells about values."""
    middle = [(a + b) / 2 for a, b in pairwise(values)]
    return [values[0] - (middle[0] - values[0]), *middle, values[-1] + (values[-1] - middle[-1])]


def _ways(variants: Sequence[Variant]) -> list[Block]:
    if len(variants) < 2:
        return []
    frozen = any(one.pore_mm3 is not None for one in variants)
    columns = [
        Column("Where the metal is led in", "1fr"), right("Sprue, mm"), right("Heat left, %"),
        right("To clean, mm²"),
    ]  # fmt: skip
    if frozen:
        columns += [right("Not fed, mm³"), right("Hole, mm"), right("Solid, s"), right("Charge, g")]
    rows = []
    for one in variants:
        name: Any = strong(sentence(one.what)) if one.chosen else sentence(one.what)
        cells = [
            name, number(one.sprue_diameter_mm, 1), number(one.reserve_low_percent, 0), number(one.marks_mm2, 0),
        ]  # fmt: skip
        if frozen:
            cells += [number(one.pore_mm3, 2), number(one.ball_mm, 2), number(one.frozen_s, 1), number(one.charge_g, 1)]
        rows.append(cells)
    note = f"judged by {variants[0].judged_by}" + ("" if frozen else "; plan --thorough judges them by freezing")
    return [heading("Ways of leading the metal in", note), table(columns, rows, small=True, loose_mm=0.6)]


def _places(tight: Sequence[TightPlace], pores: Sequence[PoreZone]) -> list[Block]:
    columns = [
        Column("Place", "1fr"), right("Wall or hole, mm"), right("Full or cut off, s"), right("Heat left, %"),
        right("Not fed, mm³"),
    ]  # fmt: skip
    fills: list[list[Any]] = [
        [sentence(one.place), number(one.wall_mm, 2), number(one.fill_s, 2), number(one.reserve_percent, 0), NONE]
        for one in tight
    ]
    freezes: list[list[Any]] = [
        [sentence(one.place), number(one.ball_mm, 2), number(one.cut_off_s, 2), NONE, number(one.pore_mm3, 2)]
        for one in pores
    ]
    rows = []
    for what, found_ in (("Fills with least to spare", fills), ("Freezes cut off from feed", freezes)):
        rows += [[strong(what), "", "", "", ""], *found_] if found_ else []
    told = heading("Places to look at after the pour")
    return [told, table(columns, rows, small=True, loose_mm=0.6)] if rows else []


def _compared(logs: Sequence[Compared]) -> list[Block]:
    if not logs:
        return []
    columns = [
        Column("Your thermocouple", "1fr"), right("Liquidus, s"), right("computed"), right("Solidus, s"),
        right("computed"), right("Measured over computed"),
    ]  # fmt: skip
    rows = [
        [sentence(one.where), number(one.liquidus_s, 1), number(one.forecast_liquidus_s, 1), number(one.solidus_s, 1),
         number(one.forecast_solidus_s, 1), number(one.ratio, 2)]
        for one in logs
    ]  # fmt: skip
    return [table(columns, rows, small=True)]
