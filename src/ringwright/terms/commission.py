"""The commission: what the client wants, as the file ``*.commission.toml`` says it.

In the file a field is written without its unit suffix and with the unit in the text: ``length_mm`` is written
``length = "6.5 mm"``. Field names, units and help are said here and nowhere else.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from ringwright.terms.quantity import Figure
from ringwright.terms.remark import Point


class State(StrEnum):
    """At which point of the making the model's dimensions hold."""

    FINISHED = "finished"
    RAW_CASTING = "raw casting"
    PATTERN = "pattern"


class Owner(StrEnum):
    """Whose stone it is."""

    CLIENT = "client"
    SHOP = "shop"


class Setting(StrEnum):
    """How the stone is held."""

    CLAW = "claw"
    BEZEL = "bezel"
    FLUSH = "flush"
    CHANNEL = "channel"


@dataclass(frozen=True, kw_only=True)
class FingerBrief:
    """The finger: a size in a named system, or a diameter. One of the two."""

    size: Annotated[str | None, Figure("", 0, "Size as the client says it, in the system below")] = None
    system: Annotated[str | None, Figure("", 0, "iso, us, uk, jp, ch or diameter")] = None
    inner_diameter_mm: Annotated[float | None, Figure("mm", 2, "Inner diameter, where no size is given", above=0)] = (
        None
    )
    inside: Annotated[str, Figure("", 0, "Profile of the inside: flat or comfort", choices=("flat", "comfort"))] = (
        "flat"
    )
    band_width_mm: Annotated[float | None, Figure("mm", 2, "Width of the band at the finger", above=0)] = None
    gauge: Annotated[
        str,
        Figure("", 0, "Gauge that the finger was measured with: narrow or wide", choices=("narrow", "wide")),
    ] = "narrow"


@dataclass(frozen=True, kw_only=True)
class MetalBrief:
    """The alloy, by its key in the facts."""

    alloy: Annotated[str, Figure("", 0, "Key of the alloy in the facts, such as 18k-3n")]
    own_g: Annotated[
        dict[str, float],
        Figure("g", 2, "Lots of the client's own metal that must go in, by name, and how much of each", above=0),
    ] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class SeatBrief:
    """Where a stone sits, in the coordinates of the model as drawn."""

    at_mm: Annotated[Point, Figure("mm", 3, "Centre of the girdle plane")]
    facing: Annotated[Point, Figure("", 3, "Direction that the table faces")] = (0.0, 1.0, 0.0)
    turn_deg: Annotated[float, Figure("deg", 1, "Turn about the facing direction")] = 0.0


@dataclass(frozen=True, kw_only=True)
class StoneBrief:
    """One stone, as measured and as said."""

    name: Annotated[str, Figure("", 0, "The stone's name in this commission")]
    cut: Annotated[str, Figure("", 0, "Cut, as in the facts: round brilliant, oval, pear …")]
    material: Annotated[str, Figure("", 0, "Gem material, as in the facts")]
    origin: Annotated[str, Figure("", 0, "natural, laboratory-grown, or a phrase for the papers")] = ""
    treatment: Annotated[str, Figure("", 0, "Known treatment, none, or unknown")] = "unknown"
    length_mm: Annotated[float, Figure("mm", 2, "Length, or diameter of a round", above=0)]
    width_mm: Annotated[float | None, Figure("mm", 2, "Width; a round has its length", above=0)] = None
    depth_mm: Annotated[float, Figure("mm", 2, "Total depth, table to culet", above=0)]
    table_percent: Annotated[float | None, Figure("%", 1, "Table in percent of the width", above=0, below=100)] = None
    girdle_percent: Annotated[
        float | None, Figure("%", 1, "Girdle thickness in percent of the width", above=0, below=100)
    ] = None
    stated_mass_ct: Annotated[float | None, Figure("ct", 3, "Mass on the seller's paper", above=0)] = None
    owner: Annotated[Owner, Figure("", 0, "Whose stone it is: client or shop")] = Owner.SHOP
    setting: Annotated[Setting, Figure("", 0, "claw, bezel, flush or channel")] = Setting.CLAW
    cost: Annotated[Decimal | None, Figure("money", 2, "What the shop pays for the stone", low=0)] = None
    seat: SeatBrief | None = None


@dataclass(frozen=True, kw_only=True)
class ModelBrief:
    """The model file, beside the commission file."""

    file: Annotated[str, Figure("", 0, "Path of the model, relative to the commission file")]
    units: Annotated[
        str | None, Figure("", 0, "mm, cm, m or in; guessed and said where absent", choices=("mm", "cm", "m", "in"))
    ] = None
    state: Annotated[State, Figure("", 0, "finished, raw casting or pattern")] = State.FINISHED


@dataclass(frozen=True, kw_only=True)
class StarterBrief:
    """A starter shape for a quote before anything is drawn, in finished dimensions."""

    shape: Annotated[
        str, Figure("", 0, "band, solitaire, bezel or signet", choices=("band", "solitaire", "bezel", "signet"))
    ]
    section: Annotated[
        str, Figure("", 0, "Section of the shank: flat, D, court or oval", choices=("flat", "D", "court", "oval"))
    ] = "D"
    width_mm: Annotated[float, Figure("mm", 2, "Width of the shank along the finger", above=0)] = 2.2
    thickness_mm: Annotated[float, Figure("mm", 2, "Thickness of the shank at the bottom", above=0)] = 1.8
    claws: Annotated[int, Figure("", 0, "Number of claws (solitaire)", low=2)] = 4
    claw_diameter_mm: Annotated[float | None, Figure("mm", 2, "Thickness of a claw", above=0)] = None
    bezel_wall_mm: Annotated[float, Figure("mm", 2, "Wall of the bezel", above=0)] = 0.7
    head_length_mm: Annotated[float, Figure("mm", 2, "Signet face along the finger's circumference", above=0)] = 12.0
    head_width_mm: Annotated[float, Figure("mm", 2, "Signet face along the finger", above=0)] = 10.0
    head_thickness_mm: Annotated[float, Figure("mm", 2, "Signet thickness under the face", above=0)] = 2.2


@dataclass(frozen=True, kw_only=True)
class MarkBrief:
    """What is to be stamped or engraved besides what the law asks."""

    text: Annotated[str, Figure("", 0, "Inscription inside the band")] = ""
    sponsor: Annotated[str, Figure("", 0, "Maker's or sponsor's initials")] = ""
    height_mm: Annotated[float, Figure("mm", 2, "Height of the letters", above=0)] = 1.2


@dataclass(frozen=True, kw_only=True)
class PriceBrief:
    """What the price must heed besides the workshop's rates."""

    budget: Annotated[Decimal | None, Figure("money", 2, "The client's budget, tax included", above=0)] = None
    compare: Annotated[tuple[str, ...], Figure("", 0, "Alloys to quote beside the chosen one")] = ()
    deposit_percent: Annotated[
        float | None, Figure("%", 0, "Deposit, where it differs from the workshop's", low=0, high=100)
    ] = None


@dataclass(frozen=True, kw_only=True)
class TreeBrief:
    """The maker's own wishes for the tree; what is absent is proposed."""

    gates_mm: Annotated[tuple[Point, ...], Figure("mm", 2, "Gate points, in the coordinates of the model")] = ()
    feeders_mm: Annotated[
        tuple[Point, ...], Figure("mm", 2, "Where blind feeders shall sit, in the coordinates of the model")
    ] = ()
    flask: Annotated[str | None, Figure("", 0, "Name of a flask of the workshop")] = None
    search: Annotated[
        str,
        Figure(
            "",
            0,
            "How the way to lead the metal in is searched: quick (by rules and filling) or thorough (by freezing)",
            choices=("quick", "thorough"),
        ),
    ] = "quick"


@dataclass(frozen=True, kw_only=True)
class ThermocoupleBrief:
    """The shop's own log of a pour of this ring, to be set beside the computed cooling."""

    file: Annotated[str, Figure("", 0, "Path of the log (CSV: time, temperature, x, y, z), relative to the commission")]


@dataclass(frozen=True, kw_only=True)
class Heading:
    """The head of a commission."""

    number: Annotated[str, Figure("", 0, "The commission's number")]
    title: Annotated[str, Figure("", 0, "What it is, in a few words")]
    market: Annotated[str, Figure("", 0, "Where the ring is sold: uk, us, ch, …")]
    currency: Annotated[str, Figure("", 0, "Three-letter currency of the quote")]
    due: Annotated[dt.date | None, Figure("", 0, "The promised day")] = None


@dataclass(frozen=True, kw_only=True)
class Commission:
    """One commission, whole."""

    commission: Heading
    finger: FingerBrief
    metal: MetalBrief
    stone: tuple[StoneBrief, ...] = ()
    model: ModelBrief | None = None
    starter: StarterBrief | None = None
    tree: TreeBrief = field(default_factory=TreeBrief)
    thermocouple: ThermocoupleBrief | None = None
    mark: MarkBrief = field(default_factory=MarkBrief)
    price: PriceBrief = field(default_factory=PriceBrief)
