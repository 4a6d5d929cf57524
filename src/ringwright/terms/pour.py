"""Will it fill, and freeze sound? Rows of the facts, and the figures that the step ``pour`` yields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Figure
from ringwright.terms.remark import Point


@dataclass(frozen=True, kw_only=True)
class PourClassFact(Row):
    """Which alloys are poured alike (key = the class): the first row of the table that an alloy fits is its class.

    An alloy fits where its ``metal`` is the row's, its fineness is at least ``fineness_from_permille``, and it holds
    at least ``from_percent`` of ``element``, as far as the row names them.
    """

    title: str
    metal: str
    element: str = ""
    from_percent: float | None = None
    fineness_from_permille: float | None = None


@dataclass(frozen=True, kw_only=True)
class FlaskTemperatureFact(Row):
    """The flask at the pour for an alloy class and a section (key = "class/section"); sections by thickness in mm."""

    alloy_class: str
    section: str
    section_from_mm: float
    section_to_mm: float
    flask_low_C: float
    flask_high_C: float
    centrifugal_less_C: float | None = None


@dataclass(frozen=True, kw_only=True)
class MeltTemperatureFact(Row):
    """How far above its liquidus a melt is poured (key = "class/method"), ``alloy_class`` "" for any."""

    alloy_class: str
    method: str
    superheat_low_C: float
    superheat_high_C: float
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class PourLimit(Row):
    """One figure of filling, freezing or feeding; its key tells what it is, ``unit`` in what.

    ``figure`` is what is reckoned with, ``figure_low`` and ``figure_high`` what it may be. A limit has ``heed_figure``
    and perhaps ``halt_figure``.
    """

    title: str
    unit: str
    figure: float | None = None
    figure_low: float | None = None
    figure_high: float | None = None
    heed_figure: float | None = None
    halt_figure: float | None = None


@dataclass(frozen=True, kw_only=True)
class CastingExperimentFact(Row):
    """What a published casting experiment found, in order and not in numbers (key = a name for the finding).

    Where ``alloy`` and ``section_to_mm`` are named: walls thinner than that filled poorly with a flask below
    ``poor_below_C``, and fill from ``fills_from_C``.
    """

    says: str
    alloy: str = ""
    section_to_mm: float | None = None
    fills_from_C: float | None = None
    poor_below_C: float | None = None


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One line of the workshop's own thermocouple log: seconds since the pour, and what it read."""

    time_s: Annotated[float, Figure("s", 1, "Time since the pour", low=0)]
    reads_C: Annotated[float, Figure("°C", 0, "Temperature that the thermocouple read")]


@dataclass(frozen=True, kw_only=True)
class ThermocoupleLog:
    """What one thermocouple read, and where it sat: in the ring's frame, at the pattern's size."""

    at_mm: Annotated[Point, Figure("mm", 2, "Where the thermocouple sat")]
    readings: Annotated[tuple[Reading, ...], Figure("", 0, "Its readings")]


@dataclass(frozen=True, kw_only=True)
class Compared:
    """The workshop's own thermocouple log beside the computed cooling at the same place.

    The computed cooling is known where it passes the liquidus, the share of solid at which liquid no longer gets
    through, and the solidus.
    """

    where: Annotated[str, Figure("", 0, "Where the thermocouple sat")]
    first_s: Annotated[float, Figure("s", 1, "Time of its first reading")]
    hottest_C: Annotated[float, Figure("°C", 0, "Hottest that it read")]
    liquidus_s: Annotated[float | None, Figure("s", 1, "Log: passed the liquidus after")]
    stops_s: Annotated[float | None, Figure("s", 1, "Log: too solid to feed after")]
    solidus_s: Annotated[float | None, Figure("s", 1, "Log: passed the solidus after")]
    forecast_liquidus_s: Annotated[float, Figure("s", 1, "Computed: passes the liquidus after")]
    forecast_stops_s: Annotated[float, Figure("s", 1, "Computed: too solid to feed after")]
    forecast_solidus_s: Annotated[float, Figure("s", 1, "Computed: passes the solidus after")]
    ratio: Annotated[float | None, Figure("", 2, "Measured time to the solidus over the computed")]
    freezing_ratio: Annotated[
        float | None, Figure("", 2, "The same from liquidus to solidus, which no wrong zero of time spoils")
    ]


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One way to pour, and what comes of it: one cell of the window map."""

    flask_C: Annotated[float, Figure("°C", 0, "Flask at the soak")]
    melt_C: Annotated[float, Figure("°C", 0, "Melt at the pour")]
    superheat_C: Annotated[float, Figure("°C", 0, "Melt above its liquidus", difference=True)]
    fill_s: Annotated[float, Figure("s", 2, "Time until the last place of a piece is full")]
    reserve_percent: Annotated[float, Figure("%", 0, "Heat that the metal has left at the worst place of a piece")]
    reserve_low_percent: Annotated[
        float, Figure("%", 0, "The same with flask and melt at the low end of the shop's spread")
    ]
    frozen_s: Annotated[float, Figure("s", 1, "Time until the last place of a piece is solid")]
    pore_mm3: Annotated[float, Figure("mm3", 3, "Shrinkage that the pieces lack")]
    niyama: Annotated[float, Figure("K^0.5 s^0.5/mm", 3, "Niyama figure of the pieces, lowest tenth")]
    verdict: Annotated[str, Figure("", 0, "misrun, near misrun, sound, porous or outside practice")]


@dataclass(frozen=True, kw_only=True)
class PoreZone:
    """Metal that freezes cut off from liquid feed, and the pore that it leaves."""

    piece: Annotated[str, Figure("", 0, "Piece, or sprue")]
    place: Annotated[str, Figure("", 0, "Where")]
    at_mm: Annotated[Point, Figure("mm", 1, "Place of the pore, in the ring's frame (a sprue's in the flask's)")]
    pore_mm3: Annotated[float, Figure("mm3", 3, "Shrinkage that is not fed; coarse cells tell up to twice too much")]
    ball_mm: Annotated[float, Figure("mm", 2, "Diameter of a single ball of that volume")]
    cut_off_s: Annotated[float, Figure("s", 2, "When it is cut off from the feed")]
    frozen_s: Annotated[float, Figure("s", 2, "When its last place is solid")]
    pool_mm3: Annotated[float, Figure("mm3", 1, "Metal that is cut off")]


@dataclass(frozen=True, kw_only=True)
class FeederTimes:
    """Whether a blind feeder lasts as long as what it is to feed."""

    piece: Annotated[str, Figure("", 0, "Piece")]
    place: Annotated[str, Figure("", 0, "Where")]
    at_mm: Annotated[Point, Figure("mm", 1, "Place of its neck, in the ring's frame")]
    fed_s: Annotated[float, Figure("s", 1, "The heavy place beneath it takes no more feed after")]
    neck_s: Annotated[float, Figure("s", 1, "Its neck lets no more through after")]
    feeder_s: Annotated[float, Figure("s", 1, "The feeder itself takes no more feed after")]


@dataclass(frozen=True, kw_only=True)
class TightPlace:
    """A place of a piece that fills with little to spare."""

    piece: Annotated[str, Figure("", 0, "Piece")]
    place: Annotated[str, Figure("", 0, "Where")]
    at_mm: Annotated[Point, Figure("mm", 1, "Place, in the ring's frame")]
    wall_mm: Annotated[float, Figure("mm", 2, "Thickness there")]
    fill_s: Annotated[float, Figure("s", 3, "When the metal gets there")]
    reserve_percent: Annotated[float, Figure("%", 0, "Heat that it has left there before it stops flowing")]


@dataclass(frozen=True, kw_only=True)
class Variant:
    """The same ring led in another way (gates, a sprue), and what comes of it at one setting for all of them."""

    what: Annotated[str, Figure("", 0, "Where the metal is led in")]
    judged_by: Annotated[str, Figure("", 0, "How it was judged")]
    gates: Annotated[int, Figure("", 0, "Gates")]
    sprue_diameter_mm: Annotated[float, Figure("mm", 1, "Sprue at a gate")]
    sprue_length_mm: Annotated[float | None, Figure("mm", 1, "Length of the sprue")]
    marks_mm2: Annotated[float, Figure("mm2", 0, "To cut off and clean")]
    mark_counts: Annotated[float, Figure("", 2, "What counts against its marks, by the rules of sprues")]
    flask_C: Annotated[float, Figure("°C", 0, "Flask at the soak")]
    melt_C: Annotated[float, Figure("°C", 0, "Melt at the pour")]
    reserve_percent: Annotated[float, Figure("%", 0, "Heat left at the worst place")]
    reserve_low_percent: Annotated[float, Figure("%", 0, "The same at the cold end of the shop's spread")]
    unfed_ball_mm: Annotated[float, Figure("mm", 1, "Largest heavy place that the rule of sprues calls not fed")] = 0.0
    pore_mm3: Annotated[float | None, Figure("mm3", 2, "Shrinkage not fed")] = None
    ball_mm: Annotated[float | None, Figure("mm", 2, "Largest zone of it as one hole")] = None
    frozen_s: Annotated[float | None, Figure("s", 1, "Pieces solid after")] = None
    charge_g: Annotated[float | None, Figure("g", 1, "Metal to melt")] = None
    fill_s: Annotated[float | None, Figure("s", 2, "Full after")] = None
    chosen: Annotated[bool, Figure("", 0, "The one that is poured")] = False
    usual: Annotated[bool, Figure("", 0, "The shop's usual setting")] = False
    feeders: Annotated[int, Figure("", 0, "Blind feeders")] = 0
    worst_mm: Annotated[Point | None, Figure("mm", 1, "Place of the largest zone, in the ring's frame")] = None


@dataclass(frozen=True, kw_only=True)
class PourFigures:
    """The pour: settings for the card, what they give, and the window that they stand in."""

    alloy_class: Annotated[str, Figure("", 0, "Alloys poured alike")]
    method: Annotated[str, Figure("", 0, "vacuum, centrifugal or gravity")]
    chosen: Annotated[Setting, Figure("", 0, "The proposed setting")]
    why: Annotated[str, Figure("", 0, "Why this setting")]
    habit: Annotated[Setting | None, Figure("", 0, "What the shop's usual habit would give")]
    flask_C: Annotated[float, Figure("°C", 0, "Flask at the soak")]
    flask_at_pour_C: Annotated[float, Figure("°C", 0, "Mould about the pieces when the metal comes")]
    flask_skin_C: Annotated[float, Figure("°C", 0, "Outside of the flask then")]
    melt_C: Annotated[float, Figure("°C", 0, "Melt at the pour")]
    superheat_C: Annotated[float, Figure("°C", 0, "Melt above its liquidus", difference=True)]
    drive_kPa: Annotated[float, Figure("kPa", 1, "Pressure that drives the metal, before the gas in its way")]
    gas_kPa: Annotated[float, Figure("kPa", 1, "Highest pressure of the gas in the mould, above that behind it")]
    edge_mm: Annotated[float, Figure("mm", 3, "Radius to which edges and tips fill against surface tension")]
    fill_s: Annotated[float, Figure("s", 2, "Time until the last place of a piece is full")]
    speed_m_s: Annotated[float, Figure("m/s", 2, "Speed of the metal in the sprue")]
    reserve_percent: Annotated[float, Figure("%", 0, "Heat that the metal has left at the worst place of a piece")]
    tightest: Annotated[tuple[TightPlace, ...], Figure("", 0, "Places that fill with the least to spare")]
    first_frozen_s: Annotated[float, Figure("s", 2, "When the first place of a piece is solid")]
    frozen_s: Annotated[float, Figure("s", 1, "When the last place of a piece is solid")]
    sprue_frozen_s: Annotated[float, Figure("s", 1, "When the gates no longer feed")]
    tree_frozen_s: Annotated[
        float, Figure("s", 1, "When the last place that was waited for is solid: pieces and the ends of their sprues")
    ]
    cooling_K_s: Annotated[float, Figure("K/s", 1, "Cooling rate of the pieces at the solidus, median")]
    niyama: Annotated[float, Figure("K^0.5 s^0.5/mm", 3, "Niyama figure of the pieces, lowest tenth; to rank only")]
    pores: Annotated[tuple[PoreZone, ...], Figure("", 0, "Places that freeze cut off from feed, in the pieces")]
    sprue_pores: Annotated[tuple[PoreZone, ...], Figure("", 0, "The same in sprues and stem, where they do no harm")]
    pore_mm3: Annotated[float, Figure("mm3", 3, "Shrinkage that the pieces lack")]
    window: Annotated[tuple[Setting, ...], Figure("", 0, "The map over flask and melt")]
    variants: Annotated[tuple[Variant, ...], Figure("", 0, "Ways of leading the metal in, judged side by side")] = ()
    led_why: Annotated[str, Figure("", 0, "Why the metal is led in as it is")] = ""
    h_mm: Annotated[float, Figure("mm", 2, "Edge of the finest cells")] = 0.0
    cells: Annotated[int, Figure("", 0, "Cells")] = 0
    heat_left_share: Annotated[
        float, Figure("", 6, "Heat that the reckoning of freezing lost, share of the metal's")
    ] = 0.0
    measured: Annotated[str, Figure("", 0, "What the times have been compared with")] = ""
    compared: Annotated[tuple[Compared, ...], Figure("", 0, "The shop's own thermocouple log beside the forecast")] = ()
    cautions: Annotated[tuple[str, ...], Figure("", 0, "Keys of the cautions that belong to it")] = ()
    feeders: Annotated[tuple[FeederTimes, ...], Figure("", 0, "Whether the blind feeders outlast what they feed")] = ()


@dataclass(frozen=True, kw_only=True)
class NotPoured:
    """What stands in place of the figures where the metal cannot be poured as asked."""

    why: Annotated[str, Figure("", 0, "Why it cannot be poured as asked", chief=True)]
