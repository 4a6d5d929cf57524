"""What the step ``metal`` says: rules and limits as rows of the facts, the recipe of a charge as a result."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Figure
from ringwright.terms.remark import Level


@dataclass(frozen=True, kw_only=True)
class ElementHeat(Row):
    """Heat capacity of a solid metal (key = symbol): ``a + b T`` in cal/(mol K), T in K, within a range of T."""

    cp_a_cal_molK: float
    cp_b_cal_molK2: float
    heat_from_K: float
    heat_to_K: float


@dataclass(frozen=True, kw_only=True)
class MetalRule(Row):
    """A rule by which a figure of an alloy is found where none is published, or a limit that the step heeds.

    ``rule_error_percent`` is the error to expect of the rule; ``rule_limit_percent`` a limit; ``rule_factor`` a
    ratio; the two last columns turn hardness into yield strength.
    """

    title: str
    rule_error_percent: float | None = None
    rule_limit_percent: float | None = None
    rule_factor: float | None = None
    yield_per_hardness_MPa_HV: float | None = None
    yield_error_MPa: float | None = None


@dataclass(frozen=True, kw_only=True)
class MetalLimit(Row):
    """An element that a law or its danger limits. ``markets`` empty means everywhere.

    A share of ``element`` at or above ``element_limit_percent`` (or any, where that is None) gives a remark of
    ``level`` that says ``says`` and asks for ``change``. ``release_ug_cm2_week`` is the release limit of the law.
    """

    element: str
    markets: tuple[str, ...] = ()
    level: Level
    element_limit_percent: float | None = None
    release_ug_cm2_week: float | None = None
    says: str
    change: str


@dataclass(frozen=True, kw_only=True)
class FineMetal(Row):
    """A fine metal as it is bought (key = its name in the trade, such as "fine gold")."""

    element: str
    fineness_permille: float


@dataclass(frozen=True, kw_only=True)
class HardnessTerm(Row):
    """What one mass per cent of an element (key = symbol) adds to the hardness of annealed platinum."""

    hardness_HV_per_percent: float | None = None
    hardness_base_HV: float | None = None


@dataclass(frozen=True, kw_only=True)
class HardeningClass(Row):
    """How a gold of a range of fineness hardens, by its silver ratio Ag/(Ag+Cu).

    The class holds where the ratio is ``ratio_from_percent`` to ``ratio_to_percent`` away from the nearer of
    pure silver and pure copper (so between 0 and 50).
    """

    fineness_from_permille: float
    fineness_to_permille: float
    ratio_from_percent: float
    ratio_to_percent: float
    hardens: bool
    says: str


@dataclass(frozen=True, kw_only=True)
class MetalColour(Row):
    """The colour of a polished metal as CIELAB coordinates (key = an alloy's key, or a fine metal's name)."""

    title: str
    lightness_L: float
    red_a: float
    yellow_b: float


@dataclass(frozen=True, kw_only=True)
class OwnAlloy:
    """An alloy of the shop's own, from its supplier's sheet: what is absent is as in the alloy that it is like."""

    name: Annotated[str, Figure("", 0, "Name in the shop; may be a key of the facts that it corrects")]
    like: Annotated[str, Figure("", 0, "Key of the nearest alloy in the facts")]
    title: Annotated[str | None, Figure("", 0, "Name on the papers")] = None
    colour: Annotated[str | None, Figure("", 0, "Colour in words")] = None
    fineness_permille: Annotated[float | None, Figure("permille", 1, "Fineness", above=0, high=1000)] = None
    composition: Annotated[dict[str, float], Figure("permille", 1, "Mass per mille of each element")] = field(
        default_factory=dict
    )
    density_g_cm3: Annotated[float | None, Figure("g/cm3", 2, "Density", above=0, key="density")] = None
    solidus_C: Annotated[float | None, Figure("°C", 0, "Solidus")] = None
    liquidus_C: Annotated[float | None, Figure("°C", 0, "Liquidus")] = None
    hardness_annealed_HV: Annotated[
        float | None, Figure("HV", 0, "Hardness, annealed", above=0, key="hardness_annealed")
    ] = None
    yield_annealed_MPa: Annotated[
        float | None, Figure("MPa", 0, "Yield strength, annealed", above=0, key="yield_annealed")
    ] = None
    yield_cast_MPa: Annotated[
        float | None, Figure("MPa", 0, "Yield strength, as cast and slowly cooled", above=0, key="yield_cast")
    ] = None
    elongation_percent: Annotated[float | None, Figure("%", 0, "Elongation at break, annealed")] = None
    youngs_GPa: Annotated[float | None, Figure("GPa", 0, "Young's modulus", above=0, key="youngs_modulus")] = None
    quench: Annotated[str | None, Figure("", 0, "What to do after the pour")] = None


@dataclass(frozen=True, kw_only=True)
class Part:
    """One weighed part of a charge."""

    material: Annotated[str, Figure("", 0, "Lot or fine metal")]
    mass_g: Annotated[float, Figure("g", 3, "Mass to weigh out")]
    kind: Annotated[str, Figure("", 0, "fine metal, master alloy, alloy or clean scrap")]
    buy: Annotated[bool, Figure("", 0, "Whether it is not in stock and must be bought")] = False


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """What a charge is weighed out from.

    ``fineness_permille`` is guaranteed: it holds with every lot at the lower end of its spread.
    """

    alloy: Annotated[str, Figure("", 0, "Key of the alloy")]
    parts: Annotated[tuple[Part, ...], Figure("", 0, "Parts to weigh out")]
    mass_g: Annotated[float, Figure("g", 3, "Mass of the charge", chief=True)]
    fineness_permille: Annotated[float, Figure("permille", 2, "Fineness, guaranteed", chief=True)]
    asked_permille: Annotated[float, Figure("permille", 1, "Fineness that is asked")]
    composition: Annotated[dict[str, float], Figure("%", 2, "Mass percent of each element, as the lots state it")]
    off_percent: Annotated[float, Figure("%", 2, "Largest departure of an element from the alloy's composition")]
    new_metal_percent: Annotated[float, Figure("%", 1, "Share of new metal")]
    new_metal_cost: Annotated[Decimal | None, Figure("money", 2, "Cost of the new metal, where prices are known")] = (
        None
    )


@dataclass(frozen=True, kw_only=True)
class Density:
    """The density of an alloy, published or by ideal mixing of volumes."""

    key: Annotated[str, Figure("", 0, "Key in the facts")]
    value_g_cm3: Annotated[float, Figure("g/cm3", 2, "Density at 20 °C")]
    plus_minus_g_cm3: Annotated[float, Figure("g/cm3", 2, "Its spread")]
    ideal_g_cm3: Annotated[float, Figure("g/cm3", 2, "Density by ideal mixing of volumes")]
    from_rule: Annotated[bool, Figure("", 0, "Whether no published density is used")]
