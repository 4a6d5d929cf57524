"""After the pour: how long to wait, and what to cool in."""

from __future__ import annotations

from collections.abc import Iterable

from ringwright.terms.alloy import Alloy
from ringwright.terms.bench import QuenchFact
from ringwright.terms.mistake import bad
from ringwright.terms.remark import Level, Remark

STEP = "bench"


def _holds(row: QuenchFact, alloy: Alloy) -> bool:
    """Whether the row speaks of this alloy."""
    return (
        row.metal == alloy.metal
        and (not row.element or alloy.composition.get(row.element, 0.0) >= row.least_percent)
        and alloy.fineness_permille >= row.least_permille
        and (not row.colours or any(colour in alloy.colour.lower() for colour in row.colours))
    )


def quench_of(
    alloy: Alloy,
    rows: Iterable[QuenchFact],
    *,
    flask_height_mm: float = 0.0,
    coolant: str = "",
    after_min: float | None = None,
) -> tuple[QuenchFact, float, float, tuple[Remark, ...]]:
    """The row for this alloy, the wait in minutes (least and most), and remarks on what the shop means to do.

    ``coolant`` and ``after_min`` are the shop's own way. Raises :class:`BadInput` for an alloy of which no row speaks.
    """
    fits = sorted((row for row in rows if _holds(row, alloy)), key=lambda row: row.order)
    if not fits:
        raise bad("metal", f"no row of the quench table speaks of {alloy.title}", "add one for its metal")
    if after_min is not None and not 0 <= after_min < float("inf"):
        raise bad("quench", f"a wait of {after_min:g} min", "give minutes, zero or more")
    row = fits[0]
    low, high = row.wait_low_min, row.wait_high_min
    if row.large_from_mm is not None and flask_height_mm >= row.large_from_mm:
        low, high = row.large_low_min or low, row.large_high_min or high
    found = []
    asked = coolant.lower()
    wet = asked and "air" not in asked
    if wet and row.coolant == "air":
        found.append(
            Remark(
                STEP,
                Level.HALT,
                "quench-water",
                f"{alloy.title} must not be quenched in {coolant}: {row.says}.",
                limit_source=row.source,
                change=f"let it cool in air, {low:g} to {high:g} min, before anything wet touches it",
            )
        )
    elif asked and not wet and row.coolant.startswith("hot water"):
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "quench-slow",
                f"{alloy.title} cooled in air grows hard and brittle: {row.says}.",
                limit_source=row.source,
                change=f"quench it in {row.coolant} after {low:g} to {high:g} min",
            )
        )
    if after_min is not None and after_min < low and (wet or not asked):
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "quench-early",
                f"{after_min:g} min after the pour is early for {alloy.title}: {row.says}.",
                figure=after_min,
                limit=low,
                unit="min",
                limit_source=row.source,
                change=f"wait {low:g} to {high:g} min",
            )
        )
    return row, low, high, tuple(found)
