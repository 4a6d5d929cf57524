"""The cards of pattern, tree and casting: from the printer to the pour."""

from __future__ import annotations

import math
from typing import Any

from ringwright.papers.blocks import (
    Block,
    Card,
    Column,
    chain,
    heading,
    large,
    pairs,
    right,
    row,
    small,
    strong,
    table,
    text,
    tick,
    tiles,
    together,
    write,
)
from ringwright.papers.care import cautions_of
from ringwright.papers.generic import found
from ringwright.papers.say import dwt, measure, ozt, plain_cell, sentence, span
from ringwright.terms.bench import BenchPlan
from ringwright.terms.burnout import Programme
from ringwright.terms.finger import Fit, SizeLabel
from ringwright.terms.making import MetalFound
from ringwright.terms.metal import Recipe
from ringwright.terms.order import step
from ringwright.terms.pattern import OnPrinter, PatternFigures
from ringwright.terms.pour import PourFigures
from ringwright.terms.quantity import Estimate
from ringwright.terms.tree import TreeFigures
from ringwright.words.numbers import NONE, number

# ---- size and pattern ------------------------------------------------------------------------------------------


def pattern_card(making: Any) -> Card | None:
    """Size and pattern: the scale to set, the diameter from the drawing to the hand, and the printer."""
    figures = found(making, "pattern", PatternFigures)
    fit = found(making, "finger", Fit)
    if figures is None:
        return _size_card(fit) if fit is not None else None
    finished = figures.inner_diameter_mm
    blocks: list[Block] = [
        tiles(
            (
                "Scale to set",
                number(figures.scale_percent, 2),
                "%",
                f"exactly {number(figures.scale_exact_percent, 3)} %",
            ),
            ("Hole in the pattern file", number(figures.set_inner_diameter_mm, 2), "mm", "stock and scale are in it"),
            ("Finished hole", number(finished.value, 2), "mm", f"± {number(finished.plus_minus, 2)} mm"),
            _size_tile(figures, fit),
        ),
        heading("The diameter along its way", "measure at each station and write it down"),
        _stations(figures),
    ]
    blocks.append(
        row(
            [heading("Allowances"), pairs(_allowances(figures), columns=1)],
            [heading("Spread of the finished hole"), pairs(_spreads(figures), columns=1)],
        )
    )
    if fit is not None:
        blocks += [heading("The same ring in every system", fit.read_at), _sizes(fit)]
    if figures.printers:
        blocks += [heading("On the printer"), _printers(figures)]
    else:
        blocks.append(text("No printer stands in the workshop's file: the pattern is made by hand to these sizes."))
    blocks += cautions_of(making, groups=("pattern",))
    return Card("Size and pattern", step("pattern").question, tuple(blocks))


def _size_card(fit: Fit) -> Card:
    blocks = [heading("The ring in every system", fit.read_at), _sizes(fit)]
    return Card("Size", step("finger").question, tuple(blocks))


def _size_tile(figures: PatternFigures, fit: Fit | None) -> tuple[str, str, str, str]:
    spread = f"± {number(figures.size_spread, 2)} of a size"
    if fit is None:
        return ("Size", NONE, "", spread)
    asked = _asked_system(fit)
    size = fit.made.labels.get(asked)
    return ("To read on the stick", size.label if size is not None else NONE, asked.upper(), spread)


def _asked_system(fit: Fit) -> str:
    """The key of the system in which the client spoke: the one whose title begins the text of what was asked."""
    for key, size in fit.made.labels.items():
        if fit.asked.startswith(size.title):
            return key
    return "iso"


def _stations(figures: PatternFigures) -> Block:
    shrink = -figures.print_shrink_percent
    stock = f"stock, × {number(figures.scale_percent / 100, 4)}"
    stations = [
        ("As drawn", number(figures.drawn_inner_diameter_mm, 2), figures.state, False, False),
        ("Pattern file", number(figures.set_inner_diameter_mm, 2), "as written", False, False),
        ("Cured pattern", number(figures.pattern_inner_diameter_mm, 2), "", False, True),
        ("Raw casting", _value(figures.cast_inner_diameter_mm), _give(figures.cast_inner_diameter_mm), False, True),
        ("Finished", _value(figures.inner_diameter_mm), _give(figures.inner_diameter_mm), True, True),
    ]
    contraction = number(-figures.contraction_percent.value, 2)
    links = [stock, f"{number(shrink, 2)} %", f"{contraction} %", f"+{number(2 * figures.inside_stock_mm, 2)} mm"]
    return chain(stations, links)


def _value(estimate: Estimate) -> str:
    return number(estimate.value, 2)


def _give(estimate: Estimate) -> str:
    return f"± {number(estimate.plus_minus, 2)}"


def _allowances(figures: PatternFigures) -> list[tuple[str, Any]]:
    told = [
        ("Stock inside, each surface", measure(figures.inside_stock_mm, "mm", 3)),
        ("Stock elsewhere, each surface", measure(figures.outside_stock_mm, "mm", 3)),
        ("Contraction, pattern to casting", measure(figures.contraction_percent, "%", 2)),
        ("Printer to cured pattern", measure(figures.print_shrink_percent, "%", 2)),
    ]
    if figures.cast_wall_mm is not None and figures.finished_wall_mm is not None:
        told.append(("Thinnest wall, raw casting", measure(figures.cast_wall_mm, "mm", 2)))
        told.append(("Thinnest wall, finished", measure(figures.finished_wall_mm, "mm", 2)))
    return told


def _spreads(figures: PatternFigures) -> list[tuple[str, Any]]:
    return [
        ("from contraction", measure(figures.spread_contraction_mm, "mm", 3)),
        ("from the printer and its material", measure(figures.spread_print_mm, "mm", 3)),
        ("from the stock taken inside", measure(figures.spread_stock_mm, "mm", 3)),
        ("together", strong(measure(figures.inner_diameter_mm.plus_minus, "mm", 2))),
    ]


def _sizes(fit: Fit) -> Block:
    columns = [
        Column("System", "1fr"),
        Column("Size"),
        right("Ring less that size, mm round"),
    ]
    rows = [
        [size.title, _size(size), plain_cell(size.residual_mm, 2)]
        for size in fit.made.labels.values()
    ]  # fmt: skip
    return table(columns, rows, loose_mm=0.95)


def _size(size: SizeLabel) -> Any:
    return [strong(size.written), small("off the usual sticks")] if size.off_stick else strong(size.written)


def _printers(figures: PatternFigures) -> Block:
    columns = [
        Column("Printer", "1fr"), Column("Stands", "1.4fr"), Column("On the plate, mm"), right("Height, mm"),
        right("Layers"), right("Hours"), right("Islands"),
        right("Cups"), right("To support, mm²"),
    ]  # fmt: skip
    return table(columns, [_printer(one, figures) for one in figures.printers], small=True)


def _printer(one: OnPrinter, figures: PatternFigures) -> list[Any]:
    name = strong(one.printer) if one.printer == figures.printer else one.printer
    note = "proposed" if one.printer == figures.printer else "" if one.fits else "too small"
    long, wide = one.footprint_mm
    return [
        [name, small(note)] if note else name, sentence(one.orientation), f"{number(long, 1)} × {number(wide, 1)}",
        number(one.height_mm, 1), number(one.layers, 0), span(one.hours), number(one.islands, 0), number(one.cups, 0),
        number(one.overhang_mm2, 0),
    ]  # fmt: skip


# ---- tree and casting ------------------------------------------------------------------------------------------


def casting_card(making: Any, drawn: tuple[Block, ...] = ()) -> Card | None:
    """Tree and casting: sprue, flask, powder and water, the charge by lot, temperatures, and what comes after.

    ``drawn`` is the picture of the tree in its flask.
    """
    tree = found(making, "tree", TreeFigures)
    metal = found(making, "metal", MetalFound)
    if tree is None and metal is None:
        return None
    programme, pour = found(making, "burnout", Programme), found(making, "pour", PourFigures)
    blocks: list[Block] = []
    if tree is not None:
        flask_C = number(programme.holds[-1].to_C, 0) if programme is not None and programme.holds else NONE
        blocks.append(
            tiles(
                ("Charge", number(tree.charge_g, 2), "g", f"{dwt(tree.charge_g)}, {ozt(tree.charge_g)}"),
                ("Metal", number(tree.melt_C if pour is None else pour.melt_C, 0), "°C", _over_liquidus(metal)),
                ("Flask at the pour", flask_C, "°C", ""),
                (
                    "Sprue at the gate",
                    number(tree.sprue_diameter_mm, 1),
                    "mm",
                    f"{number(tree.sprue_length_mm, 1)} mm long",
                ),
            )
        )
        blocks.append(
            tiles(
                ("Powder", number(tree.powder_g, 0), "g", f"the flask holds {number(tree.powder_net_g, 0)} g"),
                ("Water", number(tree.water_g, 0), "g", f"{number(tree.water_per_100, 1)} g to 100 g of powder"),
                ("Flask", _flask(tree), "mm", tree.flask or "none in the shop is tall or wide enough"),
                ("Crucible", tree.crucible or NONE, "", f"{number(tree.melt_cm3, 2)} cm³ of melt"),
                wide=(1, 1, 1, 1.15),
            )
        )
        side: list[Block] = [heading("The tree"), pairs(_tree(tree, metal), columns=1)]
        blocks.append(row(list(drawn), side, widths=(1.02, 1.0)) if drawn else row(side))
        blocks += [heading("Gates"), _gates(tree)]
        if tree.feeders:
            blocks += [heading("Blind feeders"), _feeders(tree)]
    if metal is not None:
        blocks += [heading("The charge, weighed out", _of_the_charge(metal.recipe)), _recipe(metal.recipe)]
    blocks += _after_the_pour(making)
    blocks.append(_records(tree))
    blocks += cautions_of(making, groups=("casting",), but=("burnout",))
    return Card("Tree and casting", step("tree").question, tuple(blocks))


def _flask(tree: TreeFigures) -> str:
    return f"{number(tree.flask_diameter_mm, 0)} × {number(tree.flask_height_mm, 0)}"


def _over_liquidus(metal: MetalFound | None) -> str:
    if metal is None:
        return ""
    return f"liquidus {number(metal.alloy.liquidus_C, 0)} °C, solidus {number(metal.alloy.solidus_C, 0)} °C"


def _tree(tree: TreeFigures, metal: MetalFound | None) -> list[tuple[str, Any]]:
    told: list[tuple[str, Any]] = [("Fillet where the sprue meets the piece", measure(tree.fillet_mm, "mm", 1))]
    if tree.stem_diameter_mm is not None and tree.stem_length_mm is not None:
        stem = f"{number(tree.stem_diameter_mm, 1)} × {measure(tree.stem_length_mm, 'mm', 1)}"
        told.append(("Stem, diameter × length", stem))
    button = f"{number(tree.button_diameter_mm, 1)} × {measure(tree.button_height_mm, 'mm', 1)}"
    others = tree.sprues_g + tree.feeders_g
    metals = f"{number(tree.pieces_g, 2)}, {number(others, 2)}, {measure(tree.button_g, 'g', 2)}"
    told += [
        ("Button, diameter × height", button),
        ("Button below the rim", measure(tree.button_top_mm, "mm", 1)),
        ("Tree, top of button to lowest place", measure(tree.tree_height_mm, "mm", 1)),
        ("Investment at the wall", measure(tree.wall_clearance_mm, "mm", 1)),
        ("Investment at the end", measure(tree.end_clearance_mm, "mm", 1)),
        ("Slurry in the flask", measure(tree.slurry_cm3, "cm3", 0)),
        (f"Metal in pieces, sprues{' and feeders' if tree.feeders else ''}, button", metals),
    ]  # fmt: skip
    if metal is not None and tree.pieces_mm3 > 0:
        told.append(("Metal for a cm³ of tree", measure(metal.alloy.density_g_cm3.value, "g", 2)))
    return told


def _gates(tree: TreeFigures) -> Block:
    columns = [
        Column(""), Column("Piece"), Column("Where on the ring", "1fr"), Column("Why there", "1.6fr"),
        right("Ball behind it, mm"),
    ]  # fmt: skip
    rows = [
        [tick(), gate.piece, _on_the_ring(gate.point_mm), sentence(gate.why), number(gate.ball_mm, 2)]
        for gate in tree.gates
    ]
    return table(columns, rows)


def _feeders(tree: TreeFigures) -> Block:
    columns = [
        Column(""), Column("Piece"), Column("Where on the ring", "1fr"), right("Ball, mm"), right("Neck, mm"),
        right("Neck long, mm"),
    ]  # fmt: skip
    rows = [
        [
            tick(),
            one.piece,
            _on_the_ring(one.point_mm),
            number(one.diameter_mm, 1),
            number(one.neck_diameter_mm, 1),
            number(one.neck_length_mm, 1),
        ]
        for one in tree.feeders
    ]
    return table(columns, rows)


def _on_the_ring(point: tuple[float, float, float]) -> str:
    """A point of the ring in the words of a clock's face: the head is twelve, seen through the finger."""
    hours = math.degrees(math.atan2(point[0], point[1])) / 30 % 12
    minutes = round(hours * 2) * 30
    at = f"{(minutes // 60) or 12}:{minutes % 60:02d}" if minutes % 60 else f"{(minutes // 60) or 12} o'clock"
    return f"at {at}, the head being at 12"


def _of_the_charge(recipe: Recipe) -> str:
    promise = (
        f"{number(recipe.fineness_permille, 1)} ‰ fine at the least, {number(recipe.asked_permille, 0)} ‰ are asked"
    )
    return f"{promise}; {number(recipe.new_metal_percent, 0)} % new metal"


def _recipe(recipe: Recipe) -> Block:
    columns = [
        Column(""), Column("Lot", "1fr"), Column("Kind"), right("g"),
        right("dwt"), right("Weighed"),
    ]  # fmt: skip
    rows: list[list[Any]] = [
        [tick(), [part.material, small("to buy")] if part.buy else part.material, part.kind,
         large(number(part.mass_g, 2)), dwt(part.mass_g).removesuffix("\u00a0dwt"), write(22, "g")]
        for part in recipe.parts
    ]  # fmt: skip
    rows.append(
        [
            "",
            "Together",
            "",
            large(number(recipe.mass_g, 2)),
            dwt(recipe.mass_g).removesuffix("\u00a0dwt"),
            write(22, "g"),
        ]
    )
    return table(columns, rows, strong_rows=[len(rows) - 1])


def _after_the_pour(making: Any) -> list[Block]:
    plan = found(making, "bench", BenchPlan)
    if plan is None:
        return []
    wait = f"{number(plan.quench_low_min, 0)} to {number(plan.quench_high_min, 0)} min"
    return [heading("After the pour", f"{wait} of waiting, then {plan.coolant}"), text(f"{sentence(plan.quench)}.")]


def _records(tree: TreeFigures | None) -> Block:
    rows = [
        ["Wax or resin tree, weighed", NONE, write(26, "g")],
        ["Charge, weighed", number(tree.charge_g, 2) if tree is not None else NONE, write(26, "g")],
        ["Tree after breaking out", _whole(tree), write(26, "g")],
        ["Button and sprues, cut off", _scrap(tree), write(26, "g")],
    ]
    columns = [
        Column("To write down", "1fr"),
        right("Expected, g"),
        right("Weighed"),
    ]
    return together(heading("Weighings"), table(columns, rows))


def _whole(tree: TreeFigures | None) -> str:
    return NONE if tree is None else number(tree.charge_g - tree.loss_g, 2)


def _scrap(tree: TreeFigures | None) -> str:
    return NONE if tree is None else number(tree.button_g + tree.sprues_g, 2)
