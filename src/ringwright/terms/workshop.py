"""The workshop as it is: tools, stock, rates and habits, as ``workshop.toml`` says them.

In the file a field is written without its unit suffix and with the unit in the text, as in a commission.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from ringwright.terms.metal import OwnAlloy
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
    hour_rate: Annotated[Decimal, Figure("money", 2, "Price of a bench hour", low=0)]
    setting_rate: Annotated[Decimal | None, Figure("money", 2, "Price of a setter's hour, where it differs", low=0)] = (
        None
    )
    overhead_percent: Annotated[float, Figure("%", 1, "Overhead on labour", low=0)] = 30.0
    margin_percent: Annotated[
        float, Figure("%", 1, "Margin on the whole, in percent of the price before tax", low=0, below=100)
    ] = 15.0
    metal_margin_percent: Annotated[float, Figure("%", 1, "Mark-up on metal", low=0)] = 10.0
    stone_margin_percent: Annotated[float, Figure("%", 1, "Mark-up on the shop's stones", low=0)] = 25.0
    tax_percent: Annotated[float, Figure("%", 2, "Sales tax", low=0)] = 20.0
    deposit_percent: Annotated[float, Figure("%", 0, "Deposit", low=0, high=100)] = 50.0
    offer_days: Annotated[int, Figure("", 0, "Days that an offer holds", low=1)] = 14
    bench_hours_per_day: Annotated[float, Figure("h", 1, "Bench hours in a working day", above=0, high=24)] = 6.0
    assay_fee: Annotated[Decimal, Figure("money", 2, "Assay and postage for one ring", low=0)] = Decimal(0)
    assay_days: Annotated[float, Figure("", 0, "Days at the assay office, post included", low=0)] = 7.0


class Language(StrEnum):
    """A language of the papers."""

    ENGLISH = "en"
    GERMAN = "de"


@dataclass(frozen=True, kw_only=True)
class Papers:
    """How the papers are written: offer, cards for the bench, certificate."""

    language: Annotated[Language, Figure("", 0, "Language of offer, cards and certificate")] = Language.ENGLISH


@dataclass(frozen=True, kw_only=True)
class FinePrice:
    """The price of a fine metal on a day."""

    metal: Annotated[str, Figure("", 0, "Element symbol: Au, Ag, Pt, Pd, Cu …")]
    per_g: Annotated[Decimal, Figure("money", 2, "Price of a gram of fine metal", above=0)]
    spread_percent: Annotated[float, Figure("%", 1, "How far it may move while an offer holds", low=0, below=100)] = 5.0


@dataclass(frozen=True, kw_only=True)
class Printer:
    """A pattern printer."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    plate_length_mm: Annotated[float, Figure("mm", 0, "Length of the plate", above=0)]
    plate_width_mm: Annotated[float, Figure("mm", 0, "Width of the plate", above=0)]
    height_mm: Annotated[float, Figure("mm", 0, "Height that it builds", above=0)]
    layer_mm: Annotated[float, Figure("mm", 3, "Layer thickness", above=0)]
    layer_s: Annotated[float, Figure("s", 1, "Time of one layer", above=0, key="layer_time")]
    resin: Annotated[str, Figure("", 0, "Key of the resin in the facts")]
    spread_mm: Annotated[float, Figure("mm", 3, "Spread of a printed dimension", low=0)] = 0.03


@dataclass(frozen=True, kw_only=True)
class Flask:
    """A casting flask."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    diameter_mm: Annotated[float, Figure("mm", 0, "Inner diameter", above=0)]
    height_mm: Annotated[float, Figure("mm", 0, "Inner height", above=0)]
    perforated: Annotated[bool, Figure("", 0, "Whether its wall is perforated")] = False
    count: Annotated[int, Figure("", 0, "How many the shop has", low=0)] = 1


@dataclass(frozen=True, kw_only=True)
class Kiln:
    """A burnout kiln."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    max_C: Annotated[float, Figure("°C", 0, "Highest temperature", above=0)]
    max_ramp_C_per_h: Annotated[float, Figure("°C/h", 0, "Fastest ramp", above=0)]
    moving_air: Annotated[bool, Figure("", 0, "Whether air is blown through")] = False
    spread_C: Annotated[
        float, Figure("°C", 0, "How far the chamber strays from the set value", low=0, difference=True)
    ] = 10.0


@dataclass(frozen=True, kw_only=True)
class CastingPlant:
    """How the shop melts and casts."""

    method: Annotated[Casting, Figure("", 0, "vacuum, centrifugal or gravity")] = Casting.VACUUM
    vacuum_kPa: Annotated[float, Figure("kPa", 0, "Pressure difference under vacuum", low=0)] = 80.0
    max_metal_C: Annotated[float, Figure("°C", 0, "Hottest melt that it reaches", above=0)] = 1200.0
    metal_spread_C: Annotated[float, Figure("°C", 0, "Spread of the melt's temperature", low=0, difference=True)] = 15.0
    flask_spread_C: Annotated[float, Figure("°C", 0, "Spread of the flask's temperature", low=0, difference=True)] = (
        15.0
    )
    kiln_to_pour_s: Annotated[float, Figure("s", 0, "Time from the kiln to the pour", low=0)] = 45.0
    arm_mm: Annotated[float, Figure("mm", 0, "Radius of a centrifuge's arm to the pattern", above=0)] = 250.0
    rpm: Annotated[float, Figure("rpm", 0, "Speed of a centrifuge", above=0)] = 400.0


@dataclass(frozen=True, kw_only=True)
class Crucible:
    """A crucible, by what it holds safely."""

    name: Annotated[str, Figure("", 0, "Name in the shop")]
    capacity_cm3: Annotated[float, Figure("cm3", 1, "Molten metal that it holds safely", above=0)]
    max_C: Annotated[float, Figure("°C", 0, "Highest temperature", above=0)] = 1400.0
    material: Annotated[str, Figure("", 0, "graphite, silica, zirconia …")] = "silica"


@dataclass(frozen=True, kw_only=True)
class Lot:
    """A lot of metal in stock. ``composition`` in mass per mille by element symbol."""

    name: Annotated[str, Figure("", 0, "Name of the lot")]
    kind: Annotated[StockKind, Figure("", 0, "fine metal, master alloy, alloy or clean scrap")]
    mass_g: Annotated[float, Figure("g", 2, "What is there", low=0)]
    composition: Annotated[
        dict[str, float], Figure("permille", 1, "Mass per mille of each element", above=0, high=1000)
    ]
    spread_permille: Annotated[float, Figure("permille", 1, "Spread of its fineness", low=0, below=1000)] = 0.0
    per_g: Annotated[Decimal | None, Figure("money", 2, "What a gram of it cost", low=0)] = None
    belongs_to: Annotated[str, Figure("", 0, "Number of the commission whose client owns it; empty: the shop's")] = ""


@dataclass(frozen=True, kw_only=True)
class Habits:
    """What this shop does and has measured; each replaces the facts' figure."""

    investment: Annotated[str, Figure("", 0, "Key of the investment in the facts")] = "gypsum"
    water_per_100: Annotated[float | None, Figure("", 1, "Water in g per 100 g of powder", above=0)] = None
    polish_stock_mm: Annotated[float, Figure("mm", 3, "Metal that emery and polish take from a surface", low=0)] = 0.08
    filing_stock_mm: Annotated[float, Figure("mm", 3, "Metal that filing takes from a cast surface", low=0)] = 0.05
    inside_stock_mm: Annotated[float, Figure("mm", 3, "Metal that the inside loses, per surface", low=0)] = 0.06
    stock_spread_mm: Annotated[float, Figure("mm", 3, "Spread of the stock taken from a surface", low=0)] = 0.03
    contraction_percent: Annotated[
        float | None, Figure("%", 2, "Measured linear change from printed pattern to casting", above=-100, below=100)
    ] = None
    contraction_spread_percent: Annotated[float, Figure("%", 2, "Its spread", low=0)] = 0.25
    flask_C: Annotated[float | None, Figure("°C", 0, "Usual flask temperature at the pour", above=0)] = None
    superheat_C: Annotated[
        float | None, Figure("°C", 0, "Usual melt temperature above the liquidus", above=0, difference=True)
    ] = None
    sprue_diameter_mm: Annotated[float | None, Figure("mm", 1, "Usual sprue", above=0)] = None
    sprue_length_mm: Annotated[float, Figure("mm", 1, "Usual length of a sprue", above=0)] = 10.0
    button_share: Annotated[float, Figure("", 2, "Button's mass over the mass of piece and sprues", low=0)] = 0.5
    melt_loss_percent: Annotated[float, Figure("%", 2, "Loss in melting and casting", low=0, below=100)] = 0.5
    bench_loss_percent: Annotated[
        float, Figure("%", 2, "Loss at the bench that is not recovered", low=0, below=100)
    ] = 1.5
    new_metal_percent: Annotated[float, Figure("%", 0, "Least share of new metal in a melt", low=0, high=100)] = 50.0
    weighing_step_g: Annotated[float, Figure("g", 3, "Step of the scale for metal", above=0)] = 0.01
    scale_step_percent: Annotated[float, Figure("%", 2, "Step in which the pattern's scale is set", above=0)] = 0.05
    minimum_wall_mm: Annotated[float, Figure("mm", 2, "Thinnest wall that this shop casts", above=0)] = 0.8


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
    alloy: tuple[OwnAlloy, ...] = ()
    habits: Habits = field(default_factory=Habits)
    papers: Papers = field(default_factory=Papers)
    hours: Annotated[dict[str, float], Figure("h", 2, "Own hours for a bench task, by its key in the facts", low=0)] = (
        field(default_factory=dict)
    )
