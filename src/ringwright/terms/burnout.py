"""How the mould is fired: rows of the facts, and the figures that the step ``burnout`` yields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Figure


@dataclass(frozen=True, kw_only=True)
class BurnoutScheduleFact(Row):
    """A published burnout, for flasks up to a size. ``hold_at_C`` and ``hold_h`` go together, ramps unpublished."""

    title: str
    pattern_kind: str
    binder: str
    diameter_most_mm: float
    height_most_mm: float
    hold_at_C: tuple[float, ...]
    hold_h: tuple[float, ...]
    soak_h: float = 0.0
    total_low_h: float
    total_high_h: float


@dataclass(frozen=True, kw_only=True)
class BurnoutNeedFact(Row):
    """What one hold is for, and what it needs, by binder and kind of pattern; ``order`` is its place in the firing.

    The hold has done its work ``after_core_h`` after no place in the mould is further than ``core_within_C`` from the
    set temperature, and never before ``least_h``. ``at_C`` is absent in the last row, the soak at the casting
    temperature. Flasks at or above ``tall_from_mm`` get ``tall_least_h`` at least.
    ``for_factor`` is the burnout factor of the pattern material that ``after_core_h`` was written for.
    """

    binder: str
    pattern_kind: str
    order: int
    purpose: str
    at_C: float | None = None
    core_within_C: float
    after_core_h: float
    least_h: float
    tall_from_mm: float | None = None
    tall_least_h: float | None = None
    for_factor: float = 1.0


@dataclass(frozen=True, kw_only=True)
class BurnoutRampFact(Row):
    """How fast a mould may be heated (``way`` "up") or cooled ("down") between two temperatures."""

    binder: str
    way: str
    from_C: float
    to_C: float
    most_C_per_h: float


@dataclass(frozen=True, kw_only=True)
class MouldReactionFact(Row):
    """Heat that a mould takes up in one go: per kg ``of`` "free water", "bound water" or "powder".

    ``share`` is the part of that water or powder that takes part.
    """

    binder: str
    from_C: float
    to_C: float
    heat_kJ_kg: float
    of: str
    share: float


@dataclass(frozen=True, kw_only=True)
class BurnoutHeatFact(Row):
    """How heat gets from the kiln to the flask, and the workshop's usual figures for it."""

    convection_W_m2K: float | None = None
    convection_low_W_m2K: float | None = None
    emissivity: float | None = None
    emissivity_low: float | None = None
    wall_mm: float | None = None
    wall_density_g_cm3: float | None = None
    wall_cp_J_kgK: float | None = None
    room_C: float | None = None
    step_h: float | None = None
    least_mm: float | None = None
    most_mm: float | None = None
    flask_C: float | None = None


@dataclass(frozen=True, kw_only=True)
class Hold:
    """One line of the kiln's programme."""

    purpose: Annotated[str, Figure("", 0, "What the hold is for")]
    to_C: Annotated[float, Figure("°C", 0, "Set temperature")]
    ramp_C_per_h: Annotated[float, Figure("°C/h", 0, "Ramp to it")]
    ramp_h: Annotated[float, Figure("h", 2, "Time of the ramp")]
    hold_h: Annotated[float, Figure("h", 2, "Hold at it")]
    core_within_C: Annotated[float, Figure("°C", 0, "How near every place of the mould must come", difference=True)]
    core_there_after_h: Annotated[float, Figure("h", 2, "Time in the hold until every place is that near")]
    core_later_h: Annotated[float, Figure("h", 2, "How much later it is with the poorest conduction and heat transfer")]
    core_C: Annotated[float, Figure("°C", 0, "Temperature of the core at the end of the hold")]
    set_by: Annotated[str, Figure("", 0, "What decides its length: core, work or practice")]


@dataclass(frozen=True, kw_only=True)
class Programme:
    """The kiln's programme for one flask, from the cold kiln to the pour."""

    diameter_mm: Annotated[float, Figure("mm", 0, "Inner diameter of the flask")]
    height_mm: Annotated[float, Figure("mm", 0, "Inner height of the flask")]
    pattern: Annotated[str, Figure("", 0, "What the pattern is made of")]
    investment: Annotated[str, Figure("", 0, "Investment")]
    holds: Annotated[
        tuple[Hold, ...], Figure("", 0, "The holds in order; the last is the soak at the casting temperature")
    ]
    hold_h: Annotated[float, Figure("h", 2, "All holds together", chief=True)]
    total_h: Annotated[float, Figure("h", 2, "From lighting the kiln to the pour", chief=True)]
    dry_after_h: Annotated[float, Figure("h", 2, "From lighting the kiln until the last free water has boiled off")]
    water_g: Annotated[float, Figure("g", 0, "Water that is driven off")]
    heat_kJ: Annotated[float, Figure("kJ", 0, "Heat that the flask takes up on the way to the hottest hold")]
    binder_limit_C: Annotated[float, Figure("°C", 0, "Hottest hold that the binder bears in regular work")]
    published_h: Annotated[float | None, Figure("h", 1, "Published holds for a flask of this size")] = None
    published_source: Annotated[str, Figure("", 0, "Where they are published")] = ""
    cautions: Annotated[tuple[str, ...], Figure("", 0, "Keys of the cautions that belong to it")] = ()
