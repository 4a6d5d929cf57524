"""Will it live on a hand?

``live`` works the ring's strength under the load cases, its balance on the finger, its height, edges and years.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ringwright.steps.wear._balance import balance
from ringwright.steps.wear._edges import sharp_lengths
from ringwright.steps.wear._remarks import remarks
from ringwright.steps.wear._strength import strengths
from ringwright.terms.alloy import Alloy
from ringwright.terms.facts import used
from ringwright.terms.outcome import Outcome
from ringwright.terms.piece import Piece, PieceFigures
from ringwright.terms.progress import Progress, silent
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Point
from ringwright.terms.wear import LoadCaseFact, WearFigures, WearLimitFact

__all__ = ["live"]


def live(
    piece: Piece,
    figures: PieceFigures,
    alloy: Alloy,
    stones: Sequence[tuple[float, Point]],
    snag_at_mm: Sequence[Point],
    cases: Sequence[LoadCaseFact],
    limits: Sequence[WearLimitFact],
    progress: Progress = silent,
) -> Outcome[WearFigures]:
    """The ring on a hand.

    ``stones`` are mass in g and centre (ring's frame) of each stone; ``snag_at_mm`` the claw tips that may be
    caught (without any, nothing is caught). The metal counts as annealed: the softest state in
    which a ring is worn after heat. Raises ``ComputingFault`` if a solver does not converge.
    """
    found = strengths(piece, alloy, tuple(snag_at_mm), cases, progress)
    mass_g = figures.volume_mm3 * alloy.density_g_cm3.value / 1000.0
    poise = balance(mass_g, figures.centre_of_mass_mm, stones, figures.hole_diameter_mm / 2, limits)
    inside_mm, outside_mm = sharp_lengths(piece)
    result = WearFigures(
        strengths=found.strengths,
        off_axis_mm=poise.off_axis_mm,
        turning_Nmm=poise.turning_Nmm,
        friction_Nmm=poise.friction_Nmm,
        turning_share=poise.share,
        height_mm=figures.height_mm,
        sharp_inside_mm=inside_mm,
        sharp_outside_mm=outside_mm,
        years=_years(figures, alloy, limits),
        youngs_GPa=alloy.youngs_GPa,
        yield_MPa=alloy.yield_annealed_MPa,
        cells=found.cells,
    )
    return Outcome("wear", result, remarks(result, figures, limits), fields=found.fields, residuals=found.residuals)


def _years(figures: PieceFigures, alloy: Alloy, limits: Sequence[WearLimitFact]) -> Estimate:
    """Years until the bottom of the shank is at its limit.

    The published loss of volume is laid evenly on the outer half of this ring's surface, scaled by hardness
    (Archard: wear goes with one over hardness), and sped up on the palm side. An order of magnitude, and its
    spread says so.
    """
    loss, palm = used(limits, "loss"), used(limits, "palm-side")
    floor = used(limits, "worn-out").thickness_mm or 0.0
    left_mm = figures.band_thickness_mm - floor
    if left_mm <= 0:
        return Estimate(0.0, 0.0)
    assert loss.volume_mm3_per_year and loss.hardness_HV and palm.coefficient and palm.coefficient_low
    mean_mm = loss.volume_mm3_per_year / (figures.area_mm2 / 2) * loss.hardness_HV / alloy.hardness_HV
    years = left_mm / (mean_mm * palm.coefficient)
    slow = left_mm / (mean_mm * palm.coefficient_low)
    return Estimate(years, math.fabs(slow - years))
