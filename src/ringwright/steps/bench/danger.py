"""Cautions for the cards, and measured air or temperature against the published limits."""

from __future__ import annotations

from collections.abc import Iterable

from ringwright.terms.bench import Caution, CautionFact, HazardFact
from ringwright.terms.facts import used
from ringwright.terms.mistake import bad
from ringwright.terms.remark import Level, Remark

STEP = "bench"
DEFERS = "Local codes and licensed practice come first."
_COLUMNS = (
    ("limit_ug_m3", "limit", "µg/m³"),
    ("action_ug_m3", "action level", "µg/m³"),
    ("limit_mg_m3", "limit", "mg/m³"),
    ("limit_ppm", "limit", "ppm"),
    ("flash_C", "flash point", "°C"),
    ("ignites_C", "lights by itself at", "°C"),
    ("lower_percent", "explosive from", "% in air"),
    ("upper_percent", "explosive to", "% in air"),
    ("shade_low", "shade from", ""),
    ("shade_high", "shade to", ""),
    ("noise_dBA", "limit", "dB(A)"),
    ("from_temperature_C", "from", "°C"),
    ("pressure_bar", "highest pressure", "bar"),
)


def _told(hazard: HazardFact) -> str:
    """A hazard's figures in one line, with their source."""
    parts = [
        f"{label} {getattr(hazard, column):g} {unit}".strip()
        for column, label, unit in _COLUMNS
        if getattr(hazard, column) is not None
    ]
    return f"{hazard.title}: {', '.join(parts)}; {hazard.says} ({hazard.source})"


def cautions(keys: Iterable[str], rows: Iterable[CautionFact], hazards: Iterable[HazardFact]) -> tuple[Caution, ...]:
    """The cautions of these keys, each once and in this order, each ending by deferring to local codes.

    Raises :class:`BadInput` for a key that no row has.
    """
    rows, hazards = tuple(rows), tuple(hazards)
    found = []
    for key in dict.fromkeys(keys):
        row = used(rows, key, "caution")
        found.append(
            Caution(
                key=key,
                title=row.title,
                says=f"{row.says} {DEFERS}",
                figures=tuple(_told(used(hazards, name, "hazard")) for name in row.hazards),
            )
        )
    return tuple(found)


def judge_air(
    hazard: HazardFact, *, ug_m3: float | None = None, mg_m3: float | None = None, ppm: float | None = None
) -> Remark:
    """What a measured share of a dust or gas in the air means: halt above the limit, heed above the action level.

    Raises :class:`BadInput` where the row has no limit in the unit that was measured.
    """
    measured = [
        (value, getattr(hazard, f"limit_{unit}"), getattr(hazard, f"action_{unit}", None), shown)
        for value, unit, shown in ((ug_m3, "ug_m3", "µg/m³"), (mg_m3, "mg_m3", "mg/m³"), (ppm, "ppm", "ppm"))
        if value is not None
    ]
    if len(measured) != 1 or measured[0][1] is None or not 0 <= measured[0][0] < float("inf"):
        raise bad("air", f"no limit of '{hazard.key}' is known in what was measured", "one figure, in the row's unit")
    value, limit, action, unit = measured[0]
    level = Level.HALT if value > limit else Level.HEED if action is not None and value >= action else Level.FINE
    over = {Level.HALT: f"above the limit of {limit:g}", Level.FINE: f"below the limit of {limit:g}"}
    where = over.get(level, f"above the action level of {action:g} and below the limit of {limit:g}")
    return Remark(
        STEP,
        level,
        f"air-{hazard.key}",
        f"{hazard.title}: {value:g} {unit} is {where} {unit}. {DEFERS}",
        figure=value,
        limit=action if level is Level.HEED else limit,
        unit=unit,
        limit_source=hazard.source,
        change="" if level is Level.FINE else "better extraction, wet work or a mask that fits, and measure again",
    )


def judge_flash(hazard: HazardFact, at_C: float) -> Remark:
    """Whether a liquid at this temperature gives off a vapour that lights.

    Raises :class:`BadInput` for a row without a flash point.
    """
    if hazard.flash_C is None or not -273.15 < at_C < 1000:
        raise bad("temperature", f"no flash point to hold {at_C:g} °C against", "a row with a flash point, and °C")
    lights = at_C >= hazard.flash_C
    where = "above" if lights else "below"
    return Remark(
        STEP,
        Level.HEED if lights else Level.FINE,
        f"flash-{hazard.key}",
        f"{hazard.title}: {at_C:g} °C is {where} its flash point of {hazard.flash_C:g} °C. {DEFERS}",
        figure=at_C,
        limit=hazard.flash_C,
        unit="°C",
        limit_source=hazard.source,
        change="keep every flame, spark and hot surface out of the place, lid on, extraction on" if lights else "",
    )
