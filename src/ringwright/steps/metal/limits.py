"""Elements that a law limits in jewellery, or that are too dangerous to melt."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ringwright.terms.metal import MetalLimit
from ringwright.terms.remark import Remark

STEP = "metal"


def broken(composition: Mapping[str, float], limits: Iterable[MetalLimit], market: str) -> list[MetalLimit]:
    """The limits that a composition in mass per cent reaches in that market (all markets where it is empty)."""
    return [
        row
        for row in limits
        if composition.get(row.element, 0.0) > 0
        and composition[row.element] >= (row.element_limit_percent or 0.0)
        and (not row.markets or not market or market.casefold() in row.markets)
    ]


def limited(
    composition: Mapping[str, float], limits: Iterable[MetalLimit], market: str, *, what: str
) -> tuple[Remark, ...]:
    """A remark for each limit that the composition (mass per cent) reaches in that market."""
    remarks = []
    for row in broken(composition, limits, market):
        share = composition[row.element]
        by_release = row.release_ug_cm2_week is not None
        remarks.append(
            Remark(
                STEP,
                row.level,
                row.key,
                f"{what[:1].upper()}{what[1:]}, {share:.3g} % {row.element}. {row.says}.",
                figure=None if by_release else share,
                limit=row.release_ug_cm2_week if by_release else row.element_limit_percent,
                unit="µg/cm²/week" if by_release else "%",
                limit_source=row.source,
                change=row.change,
            )
        )
    return tuple(remarks)
