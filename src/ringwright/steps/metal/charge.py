"""What a charge is weighed out from: a small integer programme.

Every part is a whole number of the scale's steps. The fineness holds with every lot at the lower end of its
spread, so it is guaranteed and not only likely. Scrap is used as far as its limit and the composition allow,
because what is in the shop need not be bought; a departure from the alloy's composition costs as much as the same
mass of alloy, so that silver is not swapped for cheaper copper.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction

from ringwright.steps.metal.charge_remarks import half_known, judged, melting, refusals, refused, short
from ringwright.steps.metal.limits import limited
from ringwright.steps.metal.programme import Source, Task, guaranteed, solve
from ringwright.terms.alloy import Alloy, AlloyFact, ElementFact
from ringwright.terms.facts import used
from ringwright.terms.metal import FineMetal, MetalLimit, MetalRule, Part, Recipe
from ringwright.terms.mistake import BadInput, ComputingFault, Mistake, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.workshop import FinePrice, Lot, StockKind

STEP = "metal"


def recipe(
    alloy: Alloy | AlloyFact,
    mass_g: float,
    *,
    elements: Iterable[ElementFact],
    fine: Iterable[FineMetal],
    rules: Iterable[MetalRule],
    limits: Iterable[MetalLimit] = (),
    lots: Sequence[Lot] = (),
    fine_at_hand: bool = True,
    prices: Iterable[FinePrice] = (),
    weighing_step_g: float = 0.01,
    new_metal_percent: float = 50.0,
    fineness_permille: float | None = None,
    at_least_g: Mapping[str, float] | None = None,
    commission: str = "",
    market: str = "",
) -> Outcome[Recipe]:
    """Weigh out at least ``mass_g`` of an alloy from lots in stock and from fine metals.

    ``lots`` are what is in stock; where ``fine_at_hand``, the fine metals are there too in any amount, else they
    are only named as what must be bought when the stock does not reach (a ``halt`` remark says how much).
    ``at_least_g`` names lots of which so much must go in, such as a client's own gold; what must go in may be more
    than the limit of scrap. Lots that belong to another ``commission`` are never touched. ``fineness_permille`` is the
    mark to be kept, the alloy's own where it is None. ``prices`` per gram of fine metal choose among new metals.

    Of a lot that states its fineness alone, the rest is taken to be alloyed like the alloy itself.

    Remarks: stock that does not reach, lots that are known in part or left out because of a forbidden element, more
    scrap than usual, a composition off the alloy's, elements of the lots that the ``market`` limits, and the order
    of melting with its cautions.

    Raises ``BadInput`` for masses, lots and shares that cannot be, and where no fine metal supplies an element.
    """
    rules, fine, elements = tuple(rules), tuple(fine), tuple(elements)
    lots = [lot for lot in lots if lot.belongs_to in ("", commission)]
    limits = tuple(limits)
    step = Decimal(str(weighing_step_g))
    asked = alloy.fineness_permille if fineness_permille is None else fineness_permille
    at_least = dict(at_least_g or {})
    _check(mass_g, step, asked, new_metal_percent, lots, at_least)
    main = _main_element(alloy, elements)
    tolerance = used(rules, "composition-tolerance").rule_limit_percent or 0.0
    price = {row.metal: float(row.per_g) for row in prices}
    priced = price.get(main, 0.0) > 0
    target = {symbol: 10 * percent for symbol, percent in alloy.composition.items()}
    kept = [lot for lot in lots if not refused(lot, limits)]
    _allowed(lots, limits, at_least)
    task = Task(
        main=main,
        fineness_permille=asked,
        target=target,
        steps=int((Decimal(str(mass_g)) / step).to_integral_value(ROUND_CEILING)),
        scrap_share=1 - new_metal_percent / 100,
        tolerance=10 * tolerance,
        weight=_worth(target, price) if priced else 1.0,
    )
    kept, unknown = _completed(kept, task)
    stock = [_from_lot(lot, step, at_least.get(lot.name, 0.0), price if priced else None) for lot in kept]
    bought = [_from_fine(row, price if priced else None, buy=not fine_at_hand) for row in fine if row.element in target]
    _supplied(task, stock, bought)
    _roomy(task, stock, bought, step)
    sources = stock + bought if fine_at_hand else stock
    counts = solve(task, sources, strict=not fine_at_hand)
    if counts is None:
        sources = stock + bought
        counts = solve(task, sources, strict=False)
    if counts is None:
        raise ComputingFault(f"no recipe found for {mass_g:g} g of {alloy.key} from {len(sources)} metals")
    result = _recipe(alloy, task, sources, counts, step, priced)
    strange = {symbol: share for symbol, share in result.composition.items() if symbol not in alloy.composition}
    remarks = (
        *short(alloy, result),
        *refusals(lots, limits),
        *half_known(alloy, result, unknown),
        *judged(alloy, result, rules),
        *limited(strange, limits, market, what=f"the charge of {alloy.title}"),
        melting(result, elements, {source.name: source.composition for source in sources}),
    )
    return Outcome(STEP, result, tuple(dict.fromkeys(remarks)))


def scrap_lot(alloy: Alloy | AlloyFact, mass_g: float, *, spread_permille: float = 0.0) -> Lot:
    """Clean scrap of the alloy itself, as a lot. Raises ``BadInput`` where there is no mass."""
    if not (math.isfinite(mass_g) and mass_g > 0):
        raise bad("scrap", f"{mass_g:g} g is no mass", "a mass above zero")
    composition = {symbol: round(10 * percent, 6) for symbol, percent in alloy.composition.items()}
    return Lot(
        name=f"scrap {alloy.key}",
        kind=StockKind.SCRAP,
        mass_g=mass_g,
        composition=composition,
        spread_permille=spread_permille,
    )


def _check(
    mass_g: float,
    step: Decimal,
    asked: float,
    new_metal_percent: float,
    lots: Sequence[Lot],
    at_least: Mapping[str, float],
) -> None:
    """Refuse what cannot be; all faults at once."""
    faults: list[Mistake] = []
    if not (step.is_finite() and step > 0):
        faults.append(Mistake("weighing step", f"{step} g is no step", "such as 0.01 g"))
    if not (math.isfinite(mass_g) and mass_g > 0):
        faults.append(Mistake("mass", f"{mass_g:g} g is no charge", "a mass above zero"))
    if not 0 < asked <= 1000:
        faults.append(Mistake("fineness", f"{asked:g} permille is no fineness", "above 0, up to 1000 permille"))
    if not 0 <= new_metal_percent <= 100:
        faults.append(Mistake("new metal", f"{new_metal_percent:g} % is no share", "0 to 100 %"))
    faults += _lot_faults(lots)
    faults += _forced_faults(mass_g, lots, at_least)
    if faults:
        raise BadInput(*dict.fromkeys(faults))


def _lot_faults(lots: Sequence[Lot]) -> list[Mistake]:
    """What is wrong with the lots."""
    faults: list[Mistake] = []
    names = [lot.name for lot in lots]
    for lot in lots:
        total = sum(lot.composition.values())
        if names.count(lot.name) > 1:
            faults.append(Mistake(lot.name, "two lots have this name", "a name of its own for each lot"))
        if not (math.isfinite(lot.mass_g) and lot.mass_g >= 0):
            faults.append(Mistake(lot.name, f"{lot.mass_g:g} g is no mass", "what is there, 0 g or more"))
        if min(lot.composition.values(), default=-1) < 0 or not 0 < total <= 1000.5:
            faults.append(
                Mistake(lot.name, f"its composition sums to {total:g} permille", "mass shares of 1000 permille in all")
            )
        if not 0 <= lot.spread_permille <= 1000:
            faults.append(Mistake(lot.name, f"a spread of {lot.spread_permille:g} permille", "0 to 1000 permille"))
    return faults


def _forced_faults(mass_g: float, lots: Sequence[Lot], at_least: Mapping[str, float]) -> list[Mistake]:
    """What is wrong with the lots that must go in."""
    faults: list[Mistake] = []
    there = {lot.name: lot.mass_g for lot in lots}
    for name, wanted in at_least.items():
        if name not in there:
            faults.append(Mistake("at least", f"no lot is called '{name}'", f"one of {', '.join(there) or 'none'}"))
        elif not 0 <= wanted <= there[name]:
            faults.append(
                Mistake(name, f"{wanted:g} g are to go in, {there[name]:g} g are there", "no more than is there")
            )
    forced = sum(at_least.values())
    if forced > mass_g > 0:
        faults.append(Mistake("mass", f"{forced:g} g are to go in, the charge is {mass_g:g} g", "a larger charge"))
    return faults


def _allowed(lots: Sequence[Lot], limits: Sequence[MetalLimit], at_least: Mapping[str, float]) -> None:
    """Refuse that a lot must go in which must not be melted."""
    faults = [
        Mistake(lot.name, f"it must go in, and it holds {row.element} above what may be melted", row.change)
        for lot in lots
        if at_least.get(lot.name, 0.0) > 0
        for row in refused(lot, limits)
    ]
    if faults:
        raise BadInput(*faults)


def _main_element(alloy: Alloy | AlloyFact, elements: Sequence[ElementFact]) -> str:
    """The symbol of the metal that the alloy is named after."""
    for row in elements:
        if row.name == alloy.metal:
            return row.key
    raise bad(alloy.key, f"no element is called '{alloy.metal}'", f"one of {', '.join(e.name for e in elements)}")


def _worth(composition: Mapping[str, float], price: Mapping[str, float]) -> float:
    """Money per gram of a composition in permille; elements without a price count nothing."""
    return sum(share * price.get(symbol, 0.0) for symbol, share in composition.items()) / 1000


def _completed(lots: Sequence[Lot], task: Task) -> tuple[list[Lot], dict[str, float]]:
    """Lots of which only a part is known (often the fineness alone), the rest taken as in the alloy itself.

    Gives the lots, and of each that was completed how many permille are not known.
    """
    done: list[Lot] = []
    unknown: dict[str, float] = {}
    others = {symbol: share for symbol, share in task.target.items() if symbol != task.main}
    for lot in lots:
        rest = 1000 - sum(lot.composition.values())
        if lot.kind is StockKind.FINE or rest <= task.tolerance or not others:
            done.append(lot)
            continue
        unknown[lot.name] = rest
        filled = dict(lot.composition)
        for symbol, share in others.items():
            filled[symbol] = filled.get(symbol, 0.0) + rest * share / sum(others.values())
        done.append(replace(lot, composition=filled))
    return done, unknown


def _from_lot(lot: Lot, step: Decimal, least_g: float, price: Mapping[str, float] | None) -> Source:
    """A lot as a source; scrap costs nothing, because it is not bought."""
    cost = 1.0
    if price is not None:
        cost = float(lot.per_g) if lot.per_g is not None else _worth(lot.composition, price)
    most = int((Decimal(str(lot.mass_g)) / step).to_integral_value(ROUND_FLOOR))
    return Source(
        name=lot.name,
        kind=lot.kind,
        composition=lot.composition,
        spread_permille=lot.spread_permille,
        most=most,
        least=min(most, int((Decimal(str(least_g)) / step).to_integral_value(ROUND_CEILING))),
        cost=0.0 if lot.kind is StockKind.SCRAP else cost,
        buy=False,
    )


def _from_fine(row: FineMetal, price: Mapping[str, float] | None, *, buy: bool) -> Source:
    """A fine metal as a source without end."""
    composition = {row.element: row.fineness_permille}
    return Source(
        name=row.key,
        kind=StockKind.FINE,
        composition=composition,
        spread_permille=0.0,
        most=None,
        least=0,
        cost=1.0 if price is None else _worth(composition, price),
        buy=buy,
    )


def _supplied(task: Task, stock: Sequence[Source], bought: Sequence[Source]) -> None:
    """Refuse an alloy of which nothing supplies an element, and a mark finer than any metal."""
    needed = [s for s, share in task.target.items() if share > task.tolerance]
    missing = [s for s in needed if not any(x.composition.get(s, 0.0) > 0 for x in (*stock, *bought))]
    if missing:
        raise bad("stock", f"neither the stock nor the fine metals hold {', '.join(missing)}", "a lot that does")
    best = max(x.certain(task.main) for x in (*stock, *bought))
    if best < Fraction(str(task.fineness_permille)):
        raise bad(
            "fineness",
            f"{task.fineness_permille:g} permille are asked and the finest metal guarantees {float(best):g}",
            f"a fine metal of at least {task.fineness_permille:g} permille",
        )


def _roomy(task: Task, stock: Sequence[Source], bought: Sequence[Source], step: Decimal) -> None:
    """Refuse a charge in which the finest metal cannot lift what must go in to the mark."""
    asked = Fraction(str(task.fineness_permille))
    finest = max(x.certain(task.main) for x in (*stock, *bought))
    lacking = sum((x.least * (asked - x.certain(task.main)) for x in stock), Fraction(0))
    forced = sum(x.least for x in stock)
    if lacking > (task.steps - forced) * (finest - asked):
        names = " and ".join(x.name for x in stock if x.least)
        if finest > asked:
            least = Decimal(math.ceil(forced + lacking / (finest - asked))) * step
            right = f"a charge of at least {least} g, or less of it"
        else:
            right = "less of it, or an alloy of lower fineness"
        raise bad(names, f"it cannot be brought to {task.fineness_permille:g} permille in {task.steps * step} g", right)


def _recipe(
    alloy: Alloy | AlloyFact,
    task: Task,
    sources: Sequence[Source],
    counts: Sequence[int],
    step: Decimal,
    priced: bool,
) -> Recipe:
    """The counts as a recipe, the heaviest part first."""
    total = sum(counts)
    parts = tuple(
        Part(material=x.name, mass_g=float(count * step), kind=str(x.kind), buy=x.buy)
        for count, x in sorted(zip(counts, sources, strict=True), key=lambda pair: (-pair[0], pair[1].name))
        if count
    )
    symbols = sorted({s for x, count in zip(sources, counts, strict=True) if count for s in x.composition})
    composition = {
        s: sum(count * x.composition.get(s, 0.0) for x, count in zip(sources, counts, strict=True)) / total / 10
        for s in symbols
    }
    off = max(abs(composition.get(s, 0.0) - task.target.get(s, 0.0) / 10) for s in {*composition, *task.target})
    scrap = sum(count for x, count in zip(sources, counts, strict=True) if x.kind is StockKind.SCRAP)
    cost = sum(
        (
            count * step * Decimal(str(x.cost))
            for x, count in zip(sources, counts, strict=True)
            if x.kind is not StockKind.SCRAP
        ),
        Decimal(0),
    )
    return Recipe(
        alloy=alloy.key,
        parts=parts,
        mass_g=float(total * step),
        fineness_permille=math.floor(guaranteed(sources, counts, task.main) * 1000) / 1000,
        asked_permille=task.fineness_permille,
        composition={s: round(x, 4) for s, x in composition.items()},
        off_percent=round(off, 4),
        new_metal_percent=round(100 * (1 - scrap / total), 4),
        new_metal_cost=cost.quantize(Decimal("0.01")) if priced else None,
    )
