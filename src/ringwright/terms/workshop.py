"""The workshop as it is: tools, stock, rates and habits, as ``workshop.toml`` says them.

In the file a field is written without its unit suffix and with the unit in the text, as in a commission.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from ringwright.terms.quantity import Figure


class Casting(StrEnum):
    """How the metal is driven into the mould."""

    VACUUM = "vacuum"
    CENTRIFUGAL = "centrifugal"
    GRAVITY = "gravity"


class StockKind(StrEnum):
    """What a lot of metal is."""

    FINE = "fine metal"
    MASTER = "master alloy"
    ALLOY = "alloy"
    SCRAP = "clean scrap"


@dataclass(frozen=True, kw_only=True)
class Shop:
    """The shop's name, money and terms. The name is printed on the papers."""

    name: Annotated[str, Figure("", 0, "Name on the papers")]
    currency: Annotated[str, Figure("", 0, "Three-letter currency of all prices in this file")]
    hour_rate: Annotated[Decimal, Figure("money", 2, "Price of a bench hour")]
    setting_rate: Annotated[Decimal | None, Figure("money", 2, "Price of a setter's hour, where it differs")] = None
    overhead_percent: Annotated[float, Figure("%", 1, "Overhead on labour")] = 30.0
    margin_percent: Annotated[float, Figure("%", 1, "Margin on the whole, in percent of the price before tax")] = 15.0
    metal_margin_percent: Annotated[float, Figure("%", 1, "Mark-up on metal")] = 10.0
    stone_margin_percent: Annotated[float, Figure("%", 1, "Mark-up on the shop's stones")] = 25.0
    tax_percent: Annotated[float, Figure("%", 2, "Sales tax")] = 20.0
    deposit_percent: Annotated[float, Figure("%", 0, "Deposit")] = 50.0
    offer_days: Annotated[int, Figure("", 0, "Days that an offer holds")] = 14
    bench_hours_per_day: Annotated[float, Figure("h", 1, "Bench hours in a working day")] = 6.0
    assay_fee: Annotated[Decimal, Figure("money", 2, "Assay and postage for one ring")] = Decimal(0)


@dataclass(frozen=True, kw_only=True)
class FinePrice:
    """The price of a fine metal on a day."""

    metal: Annotated[str, Figure("", 0, "Element symbol: Au, Ag, Pt, Pd, Cu …")]
    per_g: Annotated[Decimal, Figure("money", 2, "Price of a gram of fine metal")]
    spread_percent: Annotated[float, Figure("%", 1, "How far it may move while an offer holds")] = 5.0


@dataclass(frozen=True, kw_only=True)
class Printer:
    """A pattern printer."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    plate_length_mm: Annotated[float, Figure("mm", 0, "Length of the plate")]
    plate_width_mm: Annotated[float, Figure("mm", 0, "Width of the plate")]
    height_mm: Annotated[float, Figure("mm", 0, "Height that it builds")]
    layer_mm: Annotated[float, Figure("mm", 3, "Layer thickness")]
    layer_s: Annotated[float, Figure("s", 1, "Time of one layer")]
    resin: Annotated[str, Figure("", 0, "Key of the resin in the facts")]
    spread_mm: Annotated[float, Figure("mm", 3, "Spread of a printed dimension")] = 0.03


@dataclass(frozen=True, kw_only=True)
class Flask:
    """A casting flask."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    diameter_mm: Annotated[float, Figure("mm", 0, "Inner diameter")]
    height_mm: Annotated[float, Figure("mm", 0, "Inner height")]
    perforated: Annotated[bool, Figure("", 0, "Whether its wall is perforated")] = False
    count: Annotated[int, Figure("", 0, "How many the shop has")] = 1


@dataclass(frozen=True, kw_only=True)
class Kiln:
    """A burnout kiln."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    max_C: Annotated[float, Figure("°C", 0, "Highest temperature")]
    max_ramp_C_per_h: Annotated[float, Figure("°C/h", 0, "Fastest ramp")]
    moving_air: Annotated[bool, Figure("", 0, "Whether air is blown through")] = False
    spread_C: Annotated[float, Figure("°C", 0, "How far the chamber strays from the set value")] = 10.0


@dataclass(frozen=True, kw_only=True)
class CastingPlant:
    """How the shop melts and casts."""

    method: Annotated[Casting, Figure("", 0, "vacuum, centrifugal or gravity")] = Casting.VACUUM
    vacuum_kPa: Annotated[float, Figure("kPa", 0, "Pressure difference under vacuum")] = 80.0
    max_metal_C: Annotated[float, Figure("°C", 0, "Hottest melt that it reaches")] = 1200.0
    metal_spread_C: Annotated[float, Figure("°C", 0, "Spread of the melt's temperature")] = 15.0
    flask_spread_C: Annotated[float, Figure("°C", 0, "Spread of the flask's temperature")] = 15.0
    kiln_to_pour_s: Annotated[float, Figure("s", 0, "Time from the kiln to the pour")] = 45.0
    arm_mm: Annotated[float, Figure("mm", 0, "Radius of a centrifuge's arm to the pattern")] = 250.0
    rpm: Annotated[float, Figure("rpm", 0, "Speed of a centrifuge")] = 400.0


@dataclass(frozen=True, kw_only=True)
class Crucible:
    """A crucible, by what it holds safely."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    capacity_cm3: Annotated[float, Figure("cm3", 1, "Molten metal that it holds safely")]
    max_C: Annotated[float, Figure("°C", 0, "Highest temperature")] = 1400.0
    material: Annotated[str, Figure("", 0, "graphite, silica, zirconia …")] = "silica"


@dataclass(frozen=True, kw_only=True)
class Lot:
    """A lot of metal in stock. ``composition`` in mass per mille by element symbol."""

    name: Annotated[str, Figure("", 0, "Name of the lot")]
    kind: Annotated[StockKind, Figure("", 0, "fine metal, master alloy, alloy or clean scrap")]
    mass_g: Annotated[float, Figure("g", 2, "What is there")]
    composition: Annotated[dict[str, float], Figure("permille", 1, "Mass per mille of each element")]
    spread_permille: Annotated[float, Figure("permille", 1, "Spread of its fineness")] = 0.0
    per_g: Annotated[Decimal | None, Figure("money", 2, "What a gram of it cost")] = None


@dataclass(frozen=True, kw_only=True)
class Habits:
    """What this shop does and has measured; each replaces the facts' figure."""

    investment: Annotated[str, Figure("", 0, "Key of the investment in the facts")] = "gypsum"
    water_per_100: Annotated[float | None, Figure("", 1, "Water in g per 100 g of powder")] = None
    polish_stock_mm: Annotated[float, Figure("mm", 3, "Metal that emery and polish take from a surface")] = 0.08
    filing_stock_mm: Annotated[float, Figure("mm", 3, "Metal that filing takes from a cast surface")] = 0.05
    inside_stock_mm: Annotated[float, Figure("mm", 3, "Metal that the inside loses, per surface")] = 0.06
    stock_spread_mm: Annotated[float, Figure("mm", 3, "Spread of the stock taken from a surface")] = 0.03
    contraction_percent: Annotated[
        float | None, Figure("%", 2, "Measured linear change from printed pattern to casting")
    ] = None
    contraction_spread_percent: Annotated[float, Figure("%", 2, "Its spread")] = 0.25
    flask_C: Annotated[float | None, Figure("°C", 0, "Usual flask temperature at the pour")] = None
    superheat_C: Annotated[float | None, Figure("°C", 0, "Usual melt temperature above the liquidus")] = None
    sprue_diameter_mm: Annotated[float | None, Figure("mm", 1, "Usual sprue")] = None
    sprue_length_mm: Annotated[float, Figure("mm", 1, "Usual length of a sprue")] = 10.0
    button_share: Annotated[float, Figure("", 2, "Button's mass over the mass of piece and sprues")] = 0.5
    melt_loss_percent: Annotated[float, Figure("%", 2, "Loss in melting and casting")] = 0.5
    bench_loss_percent: Annotated[float, Figure("%", 2, "Loss at the bench that is not recovered")] = 1.5
    new_metal_percent: Annotated[float, Figure("%", 0, "Least share of new metal in a melt")] = 50.0
    weighing_step_g: Annotated[float, Figure("g", 3, "Step of the scale for metal")] = 0.01
    scale_step_percent: Annotated[float, Figure("%", 2, "Step in which the pattern's scale is set")] = 0.05
    minimum_wall_mm: Annotated[float, Figure("mm", 2, "Thinnest wall that this shop casts")] = 0.8


@dataclass(frozen=True, kw_only=True)
class Workshop:
    """The workshop, whole."""

    shop: Shop
    fine_price: tuple[FinePrice, ...]
    printer: tuple[Printer, ...] = ()
    flask: tuple[Flask, ...] = ()
    kiln: tuple[Kiln, ...] = ()
    casting: CastingPlant = field(default_factory=CastingPlant)
    crucible: tuple[Crucible, ...] = ()
    stock: tuple[Lot, ...] = ()
    habits: Habits = field(default_factory=Habits)
    hours: Annotated[dict[str, float], Figure("h", 2, "Own hours for a bench task, by its key in the facts")] = field(
        default_factory=dict
    )
