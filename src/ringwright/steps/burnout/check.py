"""The project's own check of the firing: the core of a flask against the exact series."""

from __future__ import annotations

from ringwright.science.conduction import against_series
from ringwright.steps.burnout.firing import STEP_S
from ringwright.steps.burnout.kiln import FINE
from ringwright.terms.tree import InvestmentFact


def core_against_series(
    investment: InvestmentFact, *, diameter_mm: float, height_mm: float, h_W_m2K: float, hours: float
) -> float:
    """The greatest miss of the core over ``hours`` after a step of the kiln, as a share of that step.

    With the programme's own grid and time step; the investment's mean conductivity and heat capacity kept constant,
    no water and no radiation, as the series of Carslaw & Jaeger for a finite cylinder asks.
    """
    k = sum(investment.k_W_mK) / len(investment.k_W_mK)
    c = sum(investment.cp_J_kgK) / len(investment.cp_J_kgK) * investment.fired_density_g_cm3 * 1000
    return against_series(
        radius_m=diameter_mm / 2000,
        height_m=height_mm / 1000,
        k_W_mK=k,
        c_J_m3K=c,
        h_W_m2K=h_W_m2K,
        hours=hours,
        dt_s=STEP_S,
        cells=FINE,
    )
