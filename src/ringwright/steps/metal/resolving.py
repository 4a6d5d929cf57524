"""An alloy with every figure that a step needs: as published, or by a rule that is named."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from ringwright.steps.metal import mixing
from ringwright.steps.metal.hardening import hardening, platinum_hardness
from ringwright.steps.metal.limits import limited
from ringwright.terms.alloy import Alloy, AlloyFact, ElementFact
from ringwright.terms.facts import used
from ringwright.terms.metal import Density, ElementHeat, HardeningClass, HardnessTerm, MetalLimit, MetalRule
from ringwright.terms.mistake import BadInput, Mistake, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level, Remark

STEP = "metal"
_KIN = {"palladium": "platinum"}
"""The metal whose published alloys stand in where a metal has none of its own."""


@dataclass(frozen=True)
class _Tables:
    """The tables that resolving needs, by key."""

    rows: tuple[AlloyFact, ...]
    preferred: tuple[AlloyFact, ...]
    elements: dict[str, ElementFact]
    heats: dict[str, ElementHeat]
    rules: dict[str, MetalRule]

    @classmethod
    def of(
        cls,
        alloys: Iterable[AlloyFact],
        elements: Iterable[ElementFact],
        heats: Iterable[ElementHeat],
        rules: Iterable[MetalRule],
    ) -> _Tables:
        alloys, elements, heats, rules = tuple(alloys), tuple(elements), tuple(heats), tuple(rules)
        return cls(
            alloys,
            tuple(used(alloys, key) for key in dict.fromkeys(row.key for row in alloys)),
            {row.key: used(elements, row.key) for row in elements},
            {row.key: used(heats, row.key) for row in heats},
            {row.key: used(rules, row.key) for row in rules},
        )

    def rule(self, key: str) -> MetalRule:
        """The rule of that key."""
        return used(self.rules.values(), key, "rule for metals")

    def error(self, key: str) -> float:
        """The rule's error as a share."""
        return (self.rule(key).rule_error_percent or 0.0) / 100

    def limit(self, key: str) -> float:
        """The rule's limit as a share."""
        return (self.rule(key).rule_limit_percent or 0.0) / 100

    def shares(self, row: AlloyFact) -> dict[str, float]:
        """The row's composition as mass shares of known elements."""
        return mixing.known_only(row.composition, self.elements, 100 * self.limit("composition-tolerance"))

    def same_key(self, row: AlloyFact) -> tuple[AlloyFact, ...]:
        """The other rows of that key: what other sources say."""
        return tuple(other for other in self.rows if other.key == row.key and other is not row)

    def nearest(self, row: AlloyFact, figure: str) -> AlloyFact | None:
        """The alloy of the same metal (or its kin) that has the figure and differs in the least mass."""
        for metal in (row.metal, _KIN.get(row.metal, "")):
            found = [
                other
                for other in self.preferred
                if other.metal == metal and other.key != row.key and getattr(other, figure) is not None
            ]
            if found:
                return min(found, key=lambda other: (_apart(row, other), other.key))
        return None


def _apart(one: AlloyFact, other: AlloyFact) -> float:
    """Mass per cent by which two compositions differ."""
    symbols = {*one.composition, *other.composition}
    return sum(abs(one.composition.get(s, 0.0) - other.composition.get(s, 0.0)) for s in symbols) / 2


class _Figures:
    """Collects the figures of one alloy and the names of those that a rule gave."""

    def __init__(self, row: AlloyFact, tables: _Tables) -> None:
        self.row = row
        self.tables = tables
        self.ruled: list[str] = []

    def take(self, name: str, rule: Callable[[], float | None], *, published: str = "") -> float:
        """The published figure, or else the rule's, or else that of the nearest published alloy."""
        value = getattr(self.row, published or name)
        if value is not None:
            return float(value)
        self.ruled.append(name)
        found = rule()
        return self.as_nearest(published or name) if found is None else found

    def as_nearest(self, figure: str) -> float:
        """The figure of the nearest published alloy. Raises ``BadInput`` where there is none."""
        near = self.tables.nearest(self.row, figure)
        if near is None:
            raise bad(
                self.row.key,
                f"no {self.row.metal} alloy in the facts has a figure for {figure}",
                "enter it from the supplier's sheet",
            )
        return float(getattr(near, figure))


def resolve(
    key: str,
    alloys: Iterable[AlloyFact],
    elements: Iterable[ElementFact],
    *,
    heats: Iterable[ElementHeat],
    rules: Iterable[MetalRule],
    limits: Iterable[MetalLimit] = (),
    hardening_classes: Iterable[HardeningClass] = (),
    hardness_terms: Iterable[HardnessTerm] = (),
    market: str = "",
    casting: bool = True,
) -> Outcome[Alloy]:
    """The alloy of that key with every figure: published where a source gives it, else by a rule that is named.

    Solidus and liquidus never come from a rule: with ``casting`` an alloy that lacks one is refused. Without it
    (to weigh or price an alloy) such a figure is NaN, and so is every figure that hangs on it.

    Remarks: a density more than the limit above ideal mixing, sources that disagree by more than that, elements
    that a law of the ``market`` or their danger limits, and whether the alloy hardens on slow cooling.

    Raises ``BadInput``: unknown key (with the nearest), a composition that does not sum to 100 % or names an
    unknown element, solidus above liquidus, no melting range.
    """
    tables = _Tables.of(alloys, elements, heats, rules)
    row = used(tables.rows, key, "alloy")
    _check(row, tables, casting)
    figures = _Figures(row, tables)
    strength = _strength(figures, tuple(hardness_terms))
    density = _density(row, tables)
    if density.from_rule:
        figures.ruled.append("density_g_cm3")
    alloy = Alloy(
        key=row.key,
        title=row.title,
        metal=row.metal,
        colour=row.colour,
        composition=dict(row.composition),
        fineness_permille=row.fineness_permille,
        density_g_cm3=Estimate(density.value_g_cm3, density.plus_minus_g_cm3),
        ideal_density_g_cm3=density.ideal_g_cm3,
        **_thermal(figures),
        **strength,
        quench=row.quench,
        source=row.source,
        from_rule=tuple(sorted(figures.ruled)),
    )
    remarks = (
        *_density_remarks(row, tables, density),
        *limited(row.composition, limits, market, what=row.title),
        *_hardening_remark(row, tuple(hardening_classes)),
    )
    return Outcome(STEP, alloy, remarks)


def density(
    key: str, alloys: Iterable[AlloyFact], elements: Iterable[ElementFact], *, rules: Iterable[MetalRule]
) -> Density:
    """The density of the alloy of that key in g/cm3 with its spread, published or by ideal mixing.

    Needs no melting range, so every alloy of the facts can be weighed. Raises ``BadInput`` as :func:`resolve`.
    """
    tables = _Tables.of(alloys, elements, (), rules)
    row = used(tables.rows, key, "alloy")
    _check(row, tables, casting=False)
    return _density(row, tables)


def _check(row: AlloyFact, tables: _Tables, casting: bool) -> None:
    """Refuse a row that cannot be worked with; all faults at once."""
    faults: list[Mistake] = []
    total = sum(row.composition.values())
    if not abs(total - 100) <= 100 * tables.limit("composition-tolerance"):
        faults.append(Mistake(row.key, f"its composition sums to {total:g} %", "100 % of mass"))
    if casting and (row.solidus_C is None or row.liquidus_C is None):
        lacks = " and no ".join(
            name for name, value in (("solidus", row.solidus_C), ("liquidus", row.liquidus_C)) if value is None
        )
        ready = _castable(row, tables)
        faults.append(
            Mistake(
                row.key,
                f"no {lacks} is published for it, so it cannot be cast on paper",
                "enter it from the supplier's sheet as an alloy of your own"
                + (f", or take one of {', '.join(ready)}" if ready else ""),
            )
        )
    if row.solidus_C is not None and row.liquidus_C is not None and row.solidus_C > row.liquidus_C:
        faults.append(
            Mistake(
                row.key,
                f"solidus {row.solidus_C:g} °C above liquidus {row.liquidus_C:g} °C",
                "a solidus at or below the liquidus; some sheets swap the two labels",
            )
        )
    if faults:
        raise BadInput(*faults)


def _castable(row: AlloyFact, tables: _Tables) -> list[str]:
    """Alloys of the same colour whose melting range is published: of the same metal, or else of any."""
    ready = [
        other
        for other in tables.preferred
        if other.colour == row.colour and other.solidus_C is not None and other.liquidus_C is not None
    ]
    return sorted({other.key for other in ready if other.metal == row.metal} or {other.key for other in ready})


def _density(row: AlloyFact, tables: _Tables) -> Density:
    """Published density, or ideal mixing; its spread is the rule's error or the disagreement of believable sources."""
    shares = tables.shares(row)
    ideal = mixing.ideal_density(shares, tables.elements)
    if row.density_g_cm3 is not None:
        value, rule = row.density_g_cm3, "density-published"
    else:
        value, rule = ideal, "density-gold-silver-copper" if set(shares) <= {"Au", "Ag", "Cu"} else "density-other"
    ceiling = ideal * (1 + tables.limit("density-above-ideal"))
    others = [
        other.density_g_cm3
        for other in tables.same_key(row)
        if other.density_g_cm3 is not None and other.density_g_cm3 <= ceiling
    ]
    spread = max([tables.error(rule) * value, *(abs(other - value) for other in others)])
    return Density(
        key=row.key,
        value_g_cm3=value,
        plus_minus_g_cm3=spread,
        ideal_g_cm3=ideal,
        from_rule=row.density_g_cm3 is None,
    )


def _density_remarks(row: AlloyFact, tables: _Tables, found: Density) -> list[Remark]:
    """What is to be said of a density above ideal mixing, entered or printed."""
    rule = tables.rule("density-above-ideal")
    limit = rule.rule_limit_percent or 0.0
    remarks = []
    above = 100 * (found.value_g_cm3 / found.ideal_g_cm3 - 1)
    if above > limit:
        remarks.append(
            Remark(
                STEP,
                Level.HEED,
                "density-above-ideal",
                f"The density {found.value_g_cm3:.2f} g/cm3 of {row.title} is {above:.1f} % above ideal "
                f"{found.ideal_g_cm3:.2f}: hardly any alloy is so dense.",
                figure=round(above, 2),
                limit=limit,
                unit="%",
                limit_source=rule.source,
                change="weigh a sound casting in air and in water, and enter what you find",
            )
        )
    for other in tables.same_key(row):
        if other.density_g_cm3 is None or other.density_g_cm3 <= found.ideal_g_cm3 * (1 + limit / 100):
            continue
        apart = 100 * (other.density_g_cm3 / found.ideal_g_cm3 - 1)
        remarks.append(
            Remark(
                STEP,
                Level.HEED,
                "density-disagrees",
                f"{other.source[:1].upper()}{other.source[1:]}: {other.density_g_cm3:.2f} g/cm3 for {row.title}, "
                f"{apart:.1f} % above ideal {found.ideal_g_cm3:.2f}; "
                f"{found.value_g_cm3:.2f} is used.",
                figure=round(apart, 2),
                limit=limit,
                unit="%",
                limit_source=rule.source,
                change="weigh a sound casting in air and in water before you promise a mass",
            )
        )
    return remarks


def _hardening_remark(row: AlloyFact, classes: tuple[HardeningClass, ...]) -> list[Remark]:
    """Say how the alloy hardens on slow cooling, where a published rule covers it."""
    found = hardening(row.metal, row.fineness_permille, row.composition, classes)
    if found is None or not found.hardens:
        return []
    return [
        Remark(
            STEP,
            Level.FINE,
            "age-hardening",
            f"{row.title[:1].upper()}{row.title[1:]} is {found.says}: a slowly cooled casting is already hardened; "
            f"after the pour: {row.quench or 'quench as the supplier says'}.",
        )
    ]


def _thermal(figures: _Figures) -> dict[str, Any]:
    """What filling, freezing and contraction need."""
    row, tables = figures.row, figures.tables
    shares, elements = tables.shares(row), tables.elements
    left_out = tables.limit("left-out")
    solidus = math.nan if row.solidus_C is None else row.solidus_C
    liquidus = math.nan if row.liquidus_C is None else row.liquidus_C
    known = [t for t in (row.solidus_C, row.liquidus_C) if t is not None]
    middle = sum(known) / len(known) if known else math.nan
    lowest = min(known, default=math.nan)

    def contracted(of: AlloyFact) -> float:
        return mixing.expansion(tables.shares(of), elements, tables.rule("expansion-from-room").rule_factor or 1.0)

    def expansion() -> float:
        near = tables.nearest(row, "mean_expansion_per_MK")
        if near is None or near.mean_expansion_per_MK is None:
            return contracted(row)
        return contracted(row) * near.mean_expansion_per_MK / contracted(near)

    return {
        "solidus_C": solidus,
        "liquidus_C": liquidus,
        "liquid_density_g_cm3": figures.take(
            "liquid_density_g_cm3", lambda: mixing.liquid_density(shares, elements, liquidus)
        ),
        "cp_solid_J_kgK": figures.take("cp_solid_J_kgK", lambda: mixing.cp_at(shares, elements, tables.heats, lowest)),
        "cp_liquid_J_kgK": figures.take("cp_liquid_J_kgK", lambda: mixing.cp_liquid(shares, elements, left_out)),
        "latent_kJ_kg": figures.take("latent_kJ_kg", lambda: mixing.latent(shares, elements, middle, left_out)),
        "k_solid_W_mK": figures.take("k_solid_W_mK", lambda: None),
        "k_liquid_W_mK": figures.take("k_liquid_W_mK", lambda: None),
        "freezing_shrinkage_percent": figures.take(
            "freezing_shrinkage_percent", lambda: mixing.shrinkage(shares, elements, left_out)
        ),
        "mean_expansion_per_MK": figures.take("mean_expansion_per_MK", expansion),
        "viscosity_mPas": figures.take("viscosity_mPas", lambda: mixing.viscosity(shares, elements, left_out)),
        "surface_tension_N_m": figures.take(
            "surface_tension_N_m",
            lambda: mixing.surface_tension(
                shares,
                elements,
                trace=tables.limit("trace"),
                error=tables.error("surface-tension"),
                left_out=left_out,
            ),
        ),
    }


def _strength(figures: _Figures, terms: tuple[HardnessTerm, ...]) -> dict[str, Any]:
    """What setting and wear need. Strengths carry the spread of their source or rule."""
    row, tables = figures.row, figures.tables
    shares, elements = tables.shares(row), tables.elements
    hardness = figures.take(
        "hardness_HV",
        lambda: platinum_hardness(row.metal, row.composition, terms),
        published="hardness_annealed_HV",
    )
    annealed = _yield(figures, "yield_annealed_MPa", row.yield_annealed_MPa, hardness)
    if row.yield_cast_MPa is None and row.hardness_cast_HV is None:
        figures.ruled.append("yield_cast_MPa")
        cast = annealed
    else:
        cast = _yield(figures, "yield_cast_MPa", row.yield_cast_MPa, row.hardness_cast_HV or hardness)
    figures.ruled.append("poisson")
    return {
        "hardness_HV": hardness,
        "yield_annealed_MPa": annealed,
        "yield_cast_MPa": cast,
        "elongation_percent": figures.take("elongation_percent", lambda: None),
        "youngs_GPa": figures.take("youngs_GPa", lambda: mixing.by_volume(shares, elements, "youngs_GPa")),
        "poisson": mixing.by_volume(shares, elements, "poisson"),
    }


def _yield(figures: _Figures, name: str, published: float | None, hardness: float) -> Estimate:
    """Yield strength in MPa: published, or from the hardness."""
    if published is not None:
        return Estimate(published, published * figures.tables.error("strength-published"))
    figures.ruled.append(name)
    rule = figures.tables.rule("yield-from-hardness")
    return Estimate((rule.yield_per_hardness_MPa_HV or 0.0) * hardness, rule.yield_error_MPa or 0.0)
