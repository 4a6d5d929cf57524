"""What size the pattern must be: rows of the facts, and the figures that the step ``pattern`` yields."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.terms.fact import Row


@dataclass(frozen=True, kw_only=True)
class ResinFact(Row):
    """A material that patterns are made of (key = the word in ``printer.resin``).

    ``kind`` is "wax" or "resin": it melts out, or it must burn. ``print_shrink_percent`` is the linear change
    from the size set in the printer to the cured pattern. ``breakdown_low_C`` to ``breakdown_high_C`` is where it
    melts (wax) or breaks down to char (resin).
    """

    title: str
    kind: str
    density_g_cm3: float
    density_low_g_cm3: float
    density_high_g_cm3: float
    wax_share_percent: float
    print_shrink_percent: float
    print_shrink_spread_percent: float
    breakdown_low_C: float
    breakdown_high_C: float
    melts_out: bool
    burnout_factor: float
    clean_up: str = ""
    caution: str = ""
    note: str = ""
