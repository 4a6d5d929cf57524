"""What the facts say of a pour: which class an alloy is, its flask, its melt, its limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ringwright.terms.alloy import Alloy, ElementFact
from ringwright.terms.burnout import BurnoutHeatFact
from ringwright.terms.facts import Facts, used
from ringwright.terms.mistake import Mistake, bad
from ringwright.terms.pour import (
    CastingExperimentFact,
    FlaskTemperatureFact,
    MeltTemperatureFact,
    PourClassFact,
    PourLimit,
)
from ringwright.terms.tree import InvestmentFact
from ringwright.terms.workshop import Casting, CastingPlant


@dataclass(frozen=True, kw_only=True)
class PourRows:
    """The tables that a pour is worked by."""

    classes: tuple[PourClassFact, ...]
    flasks: tuple[FlaskTemperatureFact, ...]
    melts: tuple[MeltTemperatureFact, ...]
    limits: tuple[PourLimit, ...]
    experiments: tuple[CastingExperimentFact, ...]
    heat: tuple[BurnoutHeatFact, ...]
    elements: tuple[ElementFact, ...]

    def limit(self, key: str) -> PourLimit:
        """The figure of filling, freezing or feeding of that key."""
        return used(self.limits, key, "figure of the pour")

    def figure(self, key: str) -> float:
        """What is reckoned with for that key."""
        found = self.limit(key).figure
        if found is None:
            raise bad(f"pour_limits, {key}", "no figure", "a row with a figure")
        return found


def rows_of(facts: Facts) -> PourRows:
    """The tables of a pour, of all facts."""
    return PourRows(
        classes=facts.pour_classes,
        flasks=facts.flask_temperatures,
        melts=facts.melt_temperatures,
        limits=facts.pour_limits,
        experiments=facts.casting_experiments,
        heat=facts.burnout_heat,
        elements=facts.elements,
    )


def class_of(alloy: Alloy, classes: Sequence[PourClassFact]) -> PourClassFact:
    """The class that the alloy is poured with; ``BadInput`` where no row fits."""
    for row in classes:
        if row.metal != alloy.metal:
            continue
        if row.fineness_from_permille is not None and alloy.fineness_permille < row.fineness_from_permille:
            continue
        if row.element and alloy.composition.get(row.element, 0.0) < (row.from_percent or 0.0):
            continue
        return row
    raise bad("alloy", f"nothing is known of pouring {alloy.metal}", f"one of {', '.join(c.metal for c in classes)}")


def flask_row(alloy_class: str, section_mm: float, rows: Sequence[FlaskTemperatureFact]) -> FlaskTemperatureFact:
    """The row that is used for a class and a section."""
    own = [r for r in rows if r.alloy_class == alloy_class]
    for row in own:
        if row.section_from_mm <= section_mm < row.section_to_mm:
            return used(own, row.key, "flask temperature")
    raise bad("flask_temperatures", f"no row for {alloy_class} of {section_mm:.1f} mm", "a row for it")


def flask_span(alloy_class: str, rows: Sequence[FlaskTemperatureFact]) -> tuple[float, float]:
    """The coldest and the hottest flask that any row names for a class."""
    own = [r for r in rows if r.alloy_class == alloy_class]
    if not own:
        raise bad("flask_temperatures", f"no row for {alloy_class}", "a row for it")
    return min(r.flask_low_C for r in own), max(r.flask_high_C for r in own)


def melt_row(alloy_class: str, method: Casting, rows: Sequence[MeltTemperatureFact]) -> MeltTemperatureFact:
    """The row of a class and a method, or that of any alloy by that method."""
    keys = {r.key for r in rows}
    own = f"{alloy_class}/{method.value}"
    return used(rows, own if own in keys else f"any/{method.value}", "melt temperature")


def mistakes(
    flask_C: float, melt_C: float, alloy: Alloy, investment: InvestmentFact, plant: CastingPlant
) -> list[Mistake]:
    """What nobody can pour."""
    found = []
    if not melt_C > alloy.liquidus_C:
        found.append(
            Mistake(
                "melt",
                f"{melt_C:.0f} °C is not above the liquidus of {alloy.title} ({alloy.liquidus_C:.0f} °C)",
                f"more than {alloy.liquidus_C:.0f} °C, such as {alloy.liquidus_C + 80:.0f} °C",
            )
        )
    if not flask_C < alloy.solidus_C:
        found.append(
            Mistake(
                "flask",
                f"{flask_C:.0f} °C is not below the solidus of {alloy.title} ({alloy.solidus_C:.0f} °C)",
                f"less than {alloy.solidus_C:.0f} °C, or the metal never freezes",
            )
        )
    if flask_C > investment.never_oven_C:
        found.append(
            Mistake(
                "flask",
                f"{flask_C:.0f} °C is above what the binder of {investment.title} bears",
                f"at most {investment.never_oven_C:.0f} °C",
            )
        )
    if melt_C > investment.never_metal_C:
        found.append(
            Mistake(
                "investment",
                f"a melt of {melt_C:.0f} °C destroys {investment.title}",
                f"an investment that bears more than {investment.never_metal_C:.0f} °C of metal",
            )
        )
    if melt_C > plant.max_metal_C:
        found.append(
            Mistake(
                "casting.max_metal",
                f"{melt_C:.0f} °C is more than the plant reaches ({plant.max_metal_C:.0f} °C)",
                "a hotter plant, or an alloy that melts lower",
            )
        )
    return found
