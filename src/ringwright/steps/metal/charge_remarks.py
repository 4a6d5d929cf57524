"""What is said of a recipe: what to buy, what was left out, and how to melt it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ringwright.steps.metal.limits import broken
from ringwright.terms.alloy import Alloy, AlloyFact, ElementFact
from ringwright.terms.facts import used
from ringwright.terms.metal import MetalLimit, MetalRule, Part, Recipe
from ringwright.terms.remark import Level, Remark
from ringwright.terms.workshop import Lot

STEP = "metal"


def refused(lot: Lot, limits: Iterable[MetalLimit]) -> list[MetalLimit]:
    """The limits for which a lot must not be melted anywhere."""
    percent = {symbol: share / 10 for symbol, share in lot.composition.items()}
    return [row for row in broken(percent, limits, "") if row.level is Level.HALT]


def short(alloy: Alloy | AlloyFact, result: Recipe) -> list[Remark]:
    """What must be bought because the stock does not reach."""
    buy = [part for part in result.parts if part.buy]
    if not buy:
        return []
    return [
        Remark(
            STEP,
            Level.HALT,
            "stock-short",
            f"The stock does not reach {result.mass_g:g} g of {alloy.title}.",
            figure=sum(part.mass_g for part in buy),
            unit="g",
            change="buy " + " and ".join(f"{part.mass_g:g} g of {part.material}" for part in buy),
        )
    ]


def refusals(lots: Sequence[Lot], limits: Sequence[MetalLimit]) -> list[Remark]:
    """Lots that were left out because they hold what must not be melted."""
    return [
        Remark(
            STEP,
            Level.HEED,
            "lot-refused",
            f"The lot '{lot.name}' is left out. {row.says}.",
            figure=lot.composition[row.element] / 10,
            limit=row.element_limit_percent,
            unit="%",
            limit_source=row.source,
            change=row.change,
        )
        for lot in lots
        for row in refused(lot, limits)
    ]


def half_known(alloy: Alloy | AlloyFact, result: Recipe, unknown: Mapping[str, float]) -> list[Remark]:
    """Lots in the charge that do not state their whole composition."""
    return [
        Remark(
            STEP,
            Level.HEED,
            "lot-half-known",
            f"Of the lot '{part.material}' {unknown[part.material] / 10:.3g} % is not stated; it is taken to be "
            f"alloyed like {alloy.title}. Colour and melting range may differ, and it may hold nickel or cadmium.",
            figure=round(unknown[part.material] / 10, 2),
            unit="%",
            change="state the lot's whole composition, or have it assayed",
        )
        for part in result.parts
        if part.material in unknown
    ]


def judged(alloy: Alloy | AlloyFact, result: Recipe, rules: Sequence[MetalRule]) -> list[Remark]:
    """Too much scrap, and a composition that is not the alloy's."""
    remarks = []
    usual = used(rules, "scrap-share")
    scrap, most = 100 - result.new_metal_percent, usual.rule_limit_percent or 0.0
    if scrap > most:
        remarks.append(
            Remark(
                STEP,
                Level.HEED,
                "scrap-share",
                f"{scrap:.0f} % of the charge is scrap; returned metal carries gas, oxide and lost zinc.",
                figure=round(scrap, 2),
                limit=most,
                unit="%",
                limit_source=usual.source,
                change=f"add new metal until no more than {most:g} % is scrap",
            )
        )
    tolerance = used(rules, "composition-tolerance")
    if result.off_percent > (tolerance.rule_limit_percent or 0.0) + 1e-6:
        worst = max(
            {*result.composition, *alloy.composition},
            key=lambda s: abs(result.composition.get(s, 0.0) - alloy.composition.get(s, 0.0)),
        )
        remarks.append(
            Remark(
                STEP,
                Level.HEED,
                "composition-off",
                f"The charge holds {result.composition.get(worst, 0.0):.2f} % {worst} where {alloy.title} has "
                f"{alloy.composition.get(worst, 0.0):g} %: colour and melting range are not quite those of the alloy.",
                figure=result.off_percent,
                limit=tolerance.rule_limit_percent,
                unit="%",
                limit_source=tolerance.source,
                change="use less of the lots that are off, or a larger charge",
            )
        )
    return remarks


def melting(result: Recipe, elements: Sequence[ElementFact], by_name: Mapping[str, Mapping[str, float]]) -> Remark:
    """The order of melting: highest melting first, zinc last; and the cautions."""
    rows = {row.key: used(elements, row.key) for row in elements}

    def place(part: Part) -> tuple[bool, float]:
        composition = by_name[part.material]
        chief = max(composition, key=lambda s: composition[s])
        return chief == "Zn", -rows[chief].melting_C if chief in rows else 0.0

    order = ", ".join(part.material for part in sorted(result.parts, key=place))
    zinc = " Zinc boils off as fume." if result.composition.get("Zn", 0.0) > 0 else ""
    return Remark(
        STEP,
        Level.FINE,
        "melting-order",
        f"Melt in this order, zinc last: {order}.{zinc} Face and eyes shielded, dry crucible and tools, fumes drawn "
        "off; local codes and licensed practice come first.",
    )
