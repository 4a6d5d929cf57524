"""What the hands must do: rows of the facts, and the figures that the step ``bench`` yields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.commission import Setting
from ringwright.terms.fact import Row
from ringwright.terms.gems import Bears
from ringwright.terms.quantity import Estimate, Figure


@dataclass(frozen=True, kw_only=True)
class BenchTaskFact(Row):
    """One task of the hands, and its hours.

    Hours are ``fixed_h`` and so much for each stone, for each cm2 of metal surface, for each letter of an
    inscription, for each blind feeder; a stone that is risky to set takes ``per_risk_share`` more for each step of its
    risk above the first. The task then runs by itself for ``unattended_h`` and for what it ``waits_for``: "printer",
    "set", "burnout", "quench" or "assay". ``when`` names what must be so (all of it), ``metals`` what it is for;
    ``exposes`` what a stone that is set meets in it: torch, pickle, ultrasonic, steam.
    """

    title: str
    order: int
    group: str
    when: tuple[str, ...] = ()
    metals: tuple[str, ...] = ()
    setting: Setting | None = None
    fixed_h: float = 0.0
    per_stone_h: float = 0.0
    per_cm2_h: float = 0.0
    per_letter_h: float = 0.0
    per_feeder_h: float = 0.0
    per_risk_share: float = 0.0
    hours_spread_percent: float
    unattended_h: float = 0.0
    waits_for: str = ""
    exposes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class BenchRuleFact(Row):
    """A share that the step goes by; "hours-in-common": how far the tasks of one ring go long or short together."""

    title: str
    share: float


@dataclass(frozen=True, kw_only=True)
class QuenchFact(Row):
    """What to do after the pour, by kind of alloy. The row of the lowest ``order`` whose conditions all hold is used.

    ``coolant`` is "water", "hot water or alcohol" or "air"; with "air" water is never to touch the casting while it is
    red. Flasks at or above ``large_from_mm`` wait ``large_low_min`` to ``large_high_min``.
    """

    title: str
    order: int
    metal: str
    element: str = ""
    least_percent: float = 0.0
    least_permille: float = 0.0
    colours: tuple[str, ...] = ()
    coolant: str
    wait_low_min: float
    wait_high_min: float
    large_from_mm: float | None = None
    large_low_min: float | None = None
    large_high_min: float | None = None
    says: str


@dataclass(frozen=True, kw_only=True)
class HazardFact(Row):
    """A danger of the work with its published figures."""

    title: str
    says: str
    limit_ug_m3: float | None = None
    action_ug_m3: float | None = None
    limit_mg_m3: float | None = None
    limit_ppm: float | None = None
    flash_C: float | None = None
    ignites_C: float | None = None
    lower_percent: float | None = None
    upper_percent: float | None = None
    shade_low: float | None = None
    shade_high: float | None = None
    noise_dBA: float | None = None
    from_temperature_C: float | None = None
    pressure_bar: float | None = None


@dataclass(frozen=True, kw_only=True)
class CautionFact(Row):
    """A caution as it stands on a card; ``hazards`` are keys of the table of hazards that it rests on."""

    title: str
    says: str
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class BenchStone:
    """What the bench must know of a stone."""

    name: Annotated[str, Figure("", 0, "The stone's name in this commission")]
    material: Annotated[str, Figure("", 0, "Gem material")]
    setting: Annotated[Setting, Figure("", 0, "How it is held")]
    setting_risk: Annotated[int, Figure("", 0, "Risk to the stone in setting, 1 low to 5 high")] = 1
    torch: Annotated[Bears, Figure("", 0, "Stone left in place while soldering")] = Bears.NEVER
    ultrasonic: Annotated[Bears, Figure("", 0, "Ultrasonic bath")] = Bears.NEVER
    steam: Annotated[Bears, Figure("", 0, "Steam")] = Bears.NEVER
    pickle: Annotated[Bears, Figure("", 0, "Warm pickle")] = Bears.NEVER
    cautions: Annotated[tuple[str, ...], Figure("", 0, "What to heed at the bench")] = ()
    source: Annotated[str, Figure("", 0, "Where it is from that it bears this")] = ""


@dataclass(frozen=True, kw_only=True)
class BenchJob:
    """One ring as the bench sees it. Hours and days that others decide are passed in."""

    stones: tuple[BenchStone, ...] = ()
    area_cm2: Annotated[float, Figure("cm2", 1, "Surface of the metal")] = 0.0
    drawn: Annotated[bool, Figure("", 0, "Whether a model is given; else the ring is still to be drawn")] = True
    pattern: Annotated[str, Figure("", 0, "resin (printed) or wax")] = "resin"
    letters: Annotated[int, Figure("", 0, "Letters of the inscription")] = 0
    feeders: Annotated[int, Figure("", 0, "Blind feeders to cut off")] = 0
    marked: Annotated[bool, Figure("", 0, "Whether it is stamped in the shop")] = True
    assayed: Annotated[bool, Figure("", 0, "Whether it goes to an assay office")] = False
    matt: Annotated[bool, Figure("", 0, "Whether a surface is matt")] = False
    flask_height_mm: Annotated[float, Figure("mm", 0, "Height of the flask")] = 0.0
    print_h: Annotated[float, Figure("h", 1, "Hours of the printer")] = 0.0
    set_h: Annotated[float, Figure("h", 1, "Hours that the mould sets")] = 0.0
    burnout_h: Annotated[float, Figure("h", 1, "Hours of the burnout")] = 0.0
    assay_days: Annotated[float, Figure("d", 0, "Days at the assay office, post included")] = 0.0
    coolant: Annotated[str, Figure("", 0, "What the casting shall be cooled in, where the shop has its own way")] = ""
    quench_min: Annotated[float | None, Figure("min", 0, "After how long, where the shop has its own way")] = None
    hidden: Annotated[tuple[str, ...], Figure("", 0, "Places that no tool reaches once the stones are set")] = ()
    asked: Annotated[tuple[str, ...], Figure("", 0, "Further tasks asked for, by their key in the facts")] = ()


@dataclass(frozen=True, kw_only=True)
class TaskLine:
    """One task in the order of the work."""

    key: Annotated[str, Figure("", 0, "Key in the facts")]
    title: Annotated[str, Figure("", 0, "Task")]
    group: Annotated[str, Figure("", 0, "Part of the work")]
    hands_h: Annotated[Estimate, Figure("h", 2, "Hours of the hands")]
    unattended_h: Annotated[float, Figure("h", 2, "Hours in which it runs by itself")]
    own_hours: Annotated[bool, Figure("", 0, "Whether the workshop's own hours replaced the facts'")]
    note: Annotated[str, Figure("", 0, "What to heed")] = ""
    cautions: Annotated[tuple[str, ...], Figure("", 0, "Keys of its cautions")] = ()


@dataclass(frozen=True, kw_only=True)
class BenchPlan:
    """The hands' work in order, and what it takes."""

    tasks: Annotated[tuple[TaskLine, ...], Figure("", 0, "Tasks in order")]
    hands_h: Annotated[Estimate, Figure("h", 1, "Hours of the hands, all tasks", chief=True)]
    bench_h: Annotated[Estimate, Figure("h", 1, "Hours of the hands without setting")]
    setting_h: Annotated[Estimate, Figure("h", 1, "Hours of setting")]
    unattended_h: Annotated[
        float, Figure("h", 1, "Hours in which printer, mould, kiln and bath run by themselves", chief=True)
    ]
    elapsed_days: Annotated[
        Estimate, Figure("d", 1, "Working days from the first task to the last, with nothing between", chief=True)
    ]
    away_days: Annotated[float, Figure("d", 0, "Calendar days besides, at the assay office")]
    quench: Annotated[str, Figure("", 0, "After the pour")]
    quench_low_min: Annotated[float, Figure("min", 0, "Wait at least")]
    quench_high_min: Annotated[float, Figure("min", 0, "Wait at most")]
    coolant: Annotated[str, Figure("", 0, "Cool in")]
    cleaning: Annotated[tuple[str, ...], Figure("", 0, "Cleaning that all stones bear")]
    cautions: Annotated[tuple[str, ...], Figure("", 0, "Keys of all cautions, in the order of the work")]


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A caution ready to be printed."""

    key: Annotated[str, Figure("", 0, "Key in the facts")]
    title: Annotated[str, Figure("", 0, "What it is about")]
    says: Annotated[str, Figure("", 0, "The caution")]
    figures: Annotated[tuple[str, ...], Figure("", 0, "Published figures, each with its source")]
