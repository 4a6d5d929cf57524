"""What size the pattern must be: rows of the facts, and the figures that the step ``pattern`` yields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Estimate, Figure

Turn = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]
"""A rotation as its three rows: ``v -> turn @ v``."""


@dataclass(frozen=True, kw_only=True)
class ResinFact(Row):
    """A material that patterns are made of (key = the word in ``printer.resin``).

    ``kind`` is "wax" or "resin": it melts out, or it must burn. ``print_shrink_percent`` is the linear change
    from the size set in the printer to the cured pattern. ``breakdown_low_C`` to ``breakdown_high_C`` is where it
    melts (wax) or breaks down to char (resin).
    """

    title: str
    kind: str
    density_g_cm3: float
    density_low_g_cm3: float
    density_high_g_cm3: float
    wax_share_percent: float
    print_shrink_percent: float
    print_shrink_spread_percent: float
    breakdown_low_C: float
    breakdown_high_C: float
    melts_out: bool
    burnout_factor: float
    clean_up: str = ""
    caution: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class ContractionFact(Row):
    """Linear change from the pattern to the cold casting (key = the binder of the mould, or "whole chain").

    It is what is left of the metal's contraction after the mould's expansion. ``low`` and ``high`` bound what
    the source reports; where it gives one number they are that number.
    """

    route: str
    contraction_percent: float
    contraction_low_percent: float
    contraction_high_percent: float


@dataclass(frozen=True, kw_only=True)
class StockFact(Row):
    """Metal that filing, emery and polish take: per surface (key "surface"), or of the ring's mass (key "mass")."""

    what: str
    stock_mm: float | None = None
    stock_loss_percent: float | None = None


@dataclass(frozen=True, kw_only=True)
class PrintRuleFact(Row):
    """How an orientation on the plate is judged (key = the kind of printer): one cost, in minutes of the hand.

    A surface flatter than ``overhang_deg`` that faces down needs supports. ``island_min`` is the clean-up of one
    place that begins in the air, ``support_min_per_mm2`` that of a supported surface, ``stair_min_per_mm3`` that of
    the steps between layers, by their volume on seen surfaces (area times the mean step); the places weigh
    ``hole_weight``, ``shank_weight``, ``head_weight``.
    ``print_min_per_h`` is what an unattended hour counts. A hollow deeper than ``cup_mm`` holds resin or sucks at
    the plate. ``support_height_mm`` stands under the pattern, ``plate_margin_mm`` is kept at the edge.
    """

    overhang_deg: float
    support_height_mm: float
    plate_margin_mm: float
    cup_mm: float
    island_min: float
    cup_min: float
    support_min_per_mm2: float
    stair_min_per_mm3: float
    print_min_per_h: float
    hole_weight: float
    shank_weight: float
    head_weight: float


@dataclass(frozen=True, kw_only=True)
class OnPrinter:
    """The pattern on one printer of the shop, in the best of the orientations that were tried."""

    printer: Annotated[str, Figure("", 0, "Name of the printer")]
    fits: Annotated[bool, Figure("", 0, "Whether the pattern fits its plate and height")]
    orientation: Annotated[str, Figure("", 0, "How the pattern stands on the plate, in words")]
    turn: Annotated[Turn, Figure("", 4, "Rotation from the ring's frame to the plate (z up from the plate)")]
    footprint_mm: Annotated[tuple[float, float], Figure("mm", 1, "Length and width on the plate")]
    height_mm: Annotated[float, Figure("mm", 2, "Height with the supports below")]
    layers: Annotated[int, Figure("", 0, "Number of layers")]
    hours: Annotated[float, Figure("h", 2, "Hours of printing")]
    islands: Annotated[int, Figure("", 0, "Places that begin in the air: each needs a support")]
    overhang_mm2: Annotated[float, Figure("mm2", 1, "Surface that faces down and is too flat to stand by itself")]
    show_overhang_mm2: Annotated[float, Figure("mm2", 1, "Of it, outside of the finger hole")]
    stair_mm: Annotated[float, Figure("mm", 4, "Mean depth of the steps between layers on seen surfaces")]
    cups: Annotated[int, Figure("", 0, "Hollows that hold resin or suck at the plate")]
    deepest_cup_mm: Annotated[float, Figure("mm", 2, "The deepest of them")]
    clean_up_min: Annotated[float, Figure("min", 1, "Cost by which orientations are compared")]
    resin_mm3: Annotated[float, Figure("mm3", 0, "Resin in the pattern, without supports")]


@dataclass(frozen=True, kw_only=True)
class PatternFigures:
    """From the drawn ring back to the pattern, and forward again to the size on the hand."""

    state: Annotated[str, Figure("", 0, "What the drawn dimensions are: finished, raw casting or pattern")]
    material: Annotated[str, Figure("", 0, "Key of the pattern's material in the facts")]
    contraction_percent: Annotated[Estimate, Figure("%", 2, "Linear change from pattern to casting")]
    contraction_source: Annotated[str, Figure("", 0, "Where it is from")]
    metal_contraction_percent: Annotated[float, Figure("%", 2, "The metal alone, from the solidus to 20 °C")]
    mould_expansion_percent: Annotated[float, Figure("%", 2, "The mould alone, at the flask's temperature")]
    print_shrink_percent: Annotated[float, Figure("%", 2, "Linear change from the printer's setting to the pattern")]
    scale_exact_percent: Annotated[float, Figure("%", 3, "Scale of the drawn or stocked ring that is needed")]
    scale_percent: Annotated[float, Figure("%", 2, "Scale that is set", chief=True)]
    inside_stock_mm: Annotated[float, Figure("mm", 3, "Metal added to the finger hole, per surface")]
    outside_stock_mm: Annotated[float, Figure("mm", 3, "Metal added to all other surfaces")]
    drawn_inner_diameter_mm: Annotated[float, Figure("mm", 3, "Finger hole as drawn")]
    set_inner_diameter_mm: Annotated[float, Figure("mm", 3, "Finger hole in the pattern file", chief=True)]
    pattern_inner_diameter_mm: Annotated[float, Figure("mm", 3, "Finger hole of the cured pattern")]
    cast_inner_diameter_mm: Annotated[Estimate, Figure("mm", 2, "Finger hole of the raw casting")]
    inner_diameter_mm: Annotated[Estimate, Figure("mm", 2, "Finger hole of the finished ring", chief=True)]
    inner_circumference_mm: Annotated[Estimate, Figure("mm", 2, "Inner circumference of the finished ring")]
    size_spread: Annotated[float, Figure("", 2, "Its spread, in sizes of the client's system")]
    size_off: Annotated[float | None, Figure("", 2, "Finished less ordered, in sizes of the client's system")]
    spread_contraction_mm: Annotated[float, Figure("mm", 3, "Spread of the inner diameter from contraction")]
    spread_print_mm: Annotated[float, Figure("mm", 3, "From the pattern: printer and its material")]
    spread_stock_mm: Annotated[float, Figure("mm", 3, "From the stock taken inside")]
    cast_wall_mm: Annotated[float | None, Figure("mm", 2, "Thinnest wall of the raw casting")]
    finished_wall_mm: Annotated[float | None, Figure("mm", 2, "Thinnest wall of the finished ring")]
    pattern_volume_mm3: Annotated[float, Figure("mm3", 1, "Volume of the pattern")]
    pattern_mass_g: Annotated[float, Figure("g", 2, "Mass of the pattern")]
    cast_mass_g: Annotated[Estimate, Figure("g", 2, "Mass of the raw casting, without sprue")]
    finished_mass_g: Annotated[Estimate, Figure("g", 2, "Mass of the metal in the finished ring", chief=True)]
    hole_error_mm: Annotated[float, Figure("mm", 4, "Finger hole of the written pattern less what was wanted")]
    printer: Annotated[str | None, Figure("", 0, "The printer that is proposed")]
    layers: Annotated[int | None, Figure("", 0, "Its layers")]
    print_h: Annotated[float | None, Figure("h", 2, "Its hours", chief=True)]
    printers: Annotated[tuple[OnPrinter, ...], Figure("", 0, "The pattern on each printer of the shop")]
