"""The chain of sizes from the printer's setting to the finished ring, and back.

Setting -> (print shrink) -> pattern -> (contraction) -> raw casting -> (stock) -> finished. Shrink and contraction
scale every length; stock is taken from surfaces, so it widens a hole and narrows an outside by twice its depth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.quantity import Figure


@dataclass(frozen=True, kw_only=True)
class Chain:
    """What happens to lengths on the way. Stocks are per surface and 0 or more."""

    contraction_percent: Annotated[float, Figure("%", 3, "Linear change from pattern to casting")]
    print_shrink_percent: Annotated[float, Figure("%", 3, "Linear change from setting to pattern")] = 0.0
    inside_stock_mm: Annotated[float, Figure("mm", 3, "Taken from the finger hole, per surface")] = 0.0
    outside_stock_mm: Annotated[float, Figure("mm", 3, "Taken from other surfaces")] = 0.0

    def __post_init__(self) -> None:
        wrong = [
            Mistake(f"habits.{name.removesuffix('_mm')}", f"a stock of {value} mm", "0 mm or more, such as 0.05 mm")
            for name, value in (
                ("inside_stock_mm", self.inside_stock_mm),
                ("outside_stock_mm", self.outside_stock_mm),
            )
            if not (math.isfinite(value) and value >= 0)
        ]
        wrong += [
            Mistake(f"habits.{name}", f"a linear change of {value} %", "above -5 % and below 15 %, such as 1.3 %")
            for name, value in (
                ("contraction", self.contraction_percent),
                ("print shrink", self.print_shrink_percent),
            )
            if not -5 < value < 15
        ]
        if wrong:
            raise BadInput(*wrong)

    @property
    def shrink(self) -> float:
        """Length of the pattern over that of the setting."""
        return 1.0 - self.print_shrink_percent / 100.0

    @property
    def contraction(self) -> float:
        """Length of the raw casting over that of the pattern."""
        return 1.0 - self.contraction_percent / 100.0

    @property
    def scale(self) -> float:
        """By how much a ring in the size of its casting is enlarged in the printer."""
        return 1.0 / (self.shrink * self.contraction)


@dataclass(frozen=True, kw_only=True)
class Stages:
    """One length at each stage, in mm."""

    set_mm: Annotated[float, Figure("mm", 3, "As set in the printer")]
    pattern_mm: Annotated[float, Figure("mm", 3, "On the cured pattern")]
    cast_mm: Annotated[float, Figure("mm", 3, "On the raw casting")]
    finished_mm: Annotated[float, Figure("mm", 3, "On the finished ring")]


def forward(set_mm: float, chain: Chain, *, hole: bool = False, surfaces: int = 2) -> Stages:
    """What becomes of a length that is set in the printer.

    ``hole``: the length spans a hole, which stock widens; else an outside, which stock narrows. ``surfaces`` is on
    how many of its two ends stock is taken.
    """
    pattern = set_mm * chain.shrink
    cast = pattern * chain.contraction
    stock = chain.inside_stock_mm if hole else -chain.outside_stock_mm
    return Stages(set_mm=set_mm, pattern_mm=pattern, cast_mm=cast, finished_mm=cast + surfaces * stock)


def back(finished_mm: float, chain: Chain, *, hole: bool = False, surfaces: int = 2) -> Stages:
    """What must be set in the printer for a finished length; the inverse of :func:`forward`."""
    stock = chain.inside_stock_mm if hole else -chain.outside_stock_mm
    cast = finished_mm - surfaces * stock
    pattern = cast / chain.contraction
    return Stages(set_mm=pattern / chain.shrink, pattern_mm=pattern, cast_mm=cast, finished_mm=finished_mm)
