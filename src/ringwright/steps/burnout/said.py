"""What is to be said of a firing: remarks, and the cautions that belong to it."""

from __future__ import annotations

from collections.abc import Sequence

from ringwright.terms.burnout import Programme
from ringwright.terms.pattern import ResinFact
from ringwright.terms.remark import Level, Remark
from ringwright.terms.tree import InvestmentFact
from ringwright.terms.workshop import Kiln

STEP = "burnout"


def caution_keys(pattern: ResinFact, investment: InvestmentFact) -> tuple[str, ...]:
    """Keys of the cautions of this firing."""
    keys = ["burnout-smoke", "hot-flask", "silica-dust"]
    if investment.sulfur_from_C is not None:
        keys.insert(1, "sulfur-dioxide")
    if pattern.kind == "resin":
        keys.append("resin")
    return tuple(keys)


def remarks_on(
    result: Programme,
    pattern: ResinFact,
    investment: InvestmentFact,
    kiln: Kiln | None,
    temperatures: Sequence[tuple[float | None, float, str]],
) -> tuple[Remark, ...]:
    """What is to be said of the programme. ``temperatures``: of each hold the row's, the one taken, and the source."""
    found = []
    if pattern.kind not in investment.pattern_kinds:
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "investment-pattern",
                f"{investment.title} is not meant for {pattern.kind} patterns.",
                change=f"take an investment for {pattern.kind}, or a pattern of "
                + " or ".join(investment.pattern_kinds),
            )
        )
    if pattern.kind == "resin" and kiln is not None and not kiln.moving_air:
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "still-air",
                f"The kiln '{kiln.name}' moves no air, and char of resin burns only in fresh air.",
                change="open the vents until 700 °C, raise the flask with the sprue up for the hottest hold, "
                "or fire in a kiln with moving air",
            )
        )
    hottest = max(taken for _, taken, _ in temperatures)
    if kiln is not None and hottest + kiln.spread_C > investment.max_oven_C:
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "kiln-stray",
                f"At {hottest:.0f} °C the kiln '{kiln.name}' may stray to {hottest + kiln.spread_C:.0f} °C, above what "
                f"{investment.binder} bears.",
                figure=hottest + kiln.spread_C,
                limit=investment.max_oven_C,
                unit="°C",
                limit_source=investment.source,
                change=f"set {investment.max_oven_C - kiln.spread_C:.0f} °C, or have the kiln's thermometer checked",
            )
        )
    holds = [(own, taken, source) for own, taken, source in temperatures if own is not None]
    usual_top, _, top_source = max(holds)
    asked_top = max(taken for _, taken, _ in holds)
    if asked_top < min(usual_top, investment.max_oven_C):
        found.append(
            Remark(
                STEP,
                Level.HEED,
                "burnout-cool",
                f"The hottest hold is {asked_top:.0f} °C; carbon burns off at {usual_top:.0f} °C.",
                figure=asked_top,
                limit=usual_top,
                unit="°C",
                limit_source=top_source,
                change="raise the hottest hold, or keep it many hours longer and look into the sprue hole: "
                "grey or black is carbon",
            )
        )
    if result.published_h is not None:
        found.append(
            Remark(
                STEP,
                Level.FINE,
                "published",
                f"Our holds take {result.hold_h:.2f} h, with ramps {result.total_h:.2f} h; published holds for a flask "
                f"of this size take {result.published_h:g} h.",
                figure=result.hold_h,
                limit=result.published_h,
                unit="h",
                limit_source=result.published_source,
            )
        )
    return tuple(found)
