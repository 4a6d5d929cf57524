"""The integer programme behind a recipe: counts of the scale's steps of each metal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ringwright.terms.mistake import ComputingFault
from ringwright.terms.workshop import StockKind

_MOST_STEPS_OVER = 3
"""How many steps of the scale the charge may be heavier than asked."""
_NODES = 2000
"""Branches of the search; a count and not a time, so that the same input gives the same recipe."""
_NEAR_ENOUGH = 1e-5
_INTEGER, _NONE_OR_INTEGER, _INFEASIBLE = 1, 3, 2
"""Codes of scipy.optimize.milp."""
_OUT_OF_REACH = 1000.0
"""How much dearer a composition outside its tolerance is than the alloy itself."""
_OVER = 5.0
"""How much dearer a step more than asked is than the alloy itself: the charge is as asked where that can be."""
_FEWEST_STEPS = 10
"""A lot goes in with so many steps of the scale or not at all: one step alone cannot be weighed to a tenth."""
_MOST_OF_NONE_OR_INTEGER = 100_000
"""The solver takes no larger bound on a count that may be none; at such a charge a crumb does not matter."""
_BESIDE_STOCK = 1.01
"""How much dearer fine metal is than the same from stock, so that the stock is used up first."""
_BUYING = 10.0
"""How much dearer metal that must be bought is than stock, where there is stock."""


@dataclass(frozen=True)
class Source:
    """Something that can be weighed into the charge. ``most`` in steps of the scale; shares in permille."""

    name: str
    kind: StockKind
    composition: Mapping[str, float]
    spread_permille: float
    most: int | None
    least: int
    cost: float
    buy: bool

    @property
    def fewest(self) -> int:
        """The fewest steps that go in, if any do. Fine metals trim the charge: one step of them will do."""
        return self.least or (1 if self.kind is StockKind.FINE else _FEWEST_STEPS)

    def certain(self, element: str) -> Fraction:
        """Its share of an element in permille that is sure, at the lower end of its spread; exactly."""
        share = Fraction(str(self.composition.get(element, 0.0))) - Fraction(str(self.spread_permille))
        return max(share, Fraction(0))


@dataclass(frozen=True)
class Task:
    """The charge that is asked, in steps of the scale and permille."""

    main: str
    fineness_permille: float
    target: Mapping[str, float]
    steps: int
    scrap_share: float
    tolerance: float
    weight: float


def solve(task: Task, sources: Sequence[Source], *, strict: bool) -> list[int] | None:
    """Steps of each source, or None where there is no recipe; ``strict`` keeps the composition within tolerance.

    The answer is checked in exact arithmetic; where rounding spoils the fineness the constraint is drawn tighter.
    """
    for margin in (0.0, 1e-3, 1.0):
        counts = _programme(task, sources, strict, margin)
        if counts is None:
            return None
        if guaranteed(sources, counts, task.main) >= Fraction(str(task.fineness_permille)):
            return counts
    raise ComputingFault(f"the recipe's fineness stays below {task.fineness_permille:g} permille after rounding")


def _programme(task: Task, sources: Sequence[Source], strict: bool, margin: float) -> list[int] | None:
    """Build and solve the integer programme: counts of steps, then per element a departure and its excess."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    if not sources:
        return None
    symbols = sorted({*task.target, *(s for x in sources for s in x.composition)})
    n, m = len(sources), len(symbols)
    most_steps = task.steps + _MOST_STEPS_OVER
    ones, none = np.ones(n), np.zeros(2 * m)
    certain = np.array([float(x.certain(task.main)) for x in sources])
    scrap = np.array([float(x.kind is StockKind.SCRAP) for x in sources])
    rows = [np.concatenate([ones, none]), np.concatenate([certain - task.fineness_permille, none])]
    low, high = [float(task.steps), margin], [float(most_steps), np.inf]
    forced = float(sum(x.least for x in sources if x.kind is StockKind.SCRAP))
    beyond = forced > task.scrap_share * task.steps
    rows.append(np.concatenate([scrap if beyond else scrap - task.scrap_share, none]))
    low.append(-np.inf)
    high.append(forced if beyond else 0.0)
    for j, symbol in enumerate(symbols):
        off = np.array([x.composition.get(symbol, 0.0) for x in sources]) - task.target.get(symbol, 0.0)
        departure, excess = np.zeros(m), np.zeros(m)
        departure[j], excess[j] = 1.0, 1.0
        for sign in (1.0, -1.0):
            rows.append(np.concatenate([sign * off, -departure, np.zeros(m)]))
            low.append(-np.inf)
            high.append(0.0)
        rows.append(np.concatenate([-task.tolerance * ones, departure, -excess]))
        low.append(-np.inf)
        high.append(0.0)
    cost = np.array(
        [
            x.cost * (_BESIDE_STOCK if x.most is None else 1.0) + task.weight * (_OVER + (_BUYING if x.buy else 0.0))
            for x in sources
        ]
    )
    objective = np.concatenate([cost, np.full(m, task.weight / 1000), np.full(m, _OUT_OF_REACH * task.weight / 1000)])
    most = [most_steps if x.most is None else min(x.most, most_steps) for x in sources]
    fewest = [x.least if there > _MOST_OF_NONE_OR_INTEGER else x.fewest for x, there in zip(sources, most, strict=True)]
    whole = [bool(x.least) or there > _MOST_OF_NONE_OR_INTEGER for x, there in zip(sources, most, strict=True)]
    usable = [least <= there for least, there in zip(fewest, most, strict=True)]
    answer: Any = milp(
        objective,
        constraints=LinearConstraint(np.array(rows), np.array(low), np.array(high)),
        integrality=np.concatenate([[_INTEGER if one else _NONE_OR_INTEGER for one in whole], none]),
        bounds=Bounds(
            np.concatenate([[float(least) if use else 0.0 for least, use in zip(fewest, usable, strict=True)], none]),
            np.concatenate(
                [
                    [float(there) if use else 0.0 for there, use in zip(most, usable, strict=True)],
                    np.full(m, np.inf),
                    np.full(m, 0.0 if strict else np.inf),
                ]
            ),
        ),
        options={"mip_rel_gap": _NEAR_ENOUGH, "node_limit": _NODES},
    )
    if answer.x is not None:
        return [round(float(x)) for x in answer.x[:n]]
    if answer.status == _INFEASIBLE:
        return None
    raise ComputingFault(f"the search for a recipe ended without one: {answer.message}")


def guaranteed(sources: Sequence[Source], counts: Sequence[int], main: str) -> Fraction:
    """Fineness in permille with every lot at the lower end of its spread, exactly."""
    fine = sum((count * x.certain(main) for x, count in zip(sources, counts, strict=True)), Fraction(0))
    return fine / sum(counts)
