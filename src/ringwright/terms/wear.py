"""Will it live on a hand? Load cases and limits as facts, and what a ring's strength and balance come to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Estimate, Figure
from ringwright.terms.remark import Point


class LoadKind(StrEnum):
    """What happens to the ring. Which way the force goes and what holds the ring follows from it."""

    SQUEEZE = "squeeze"
    STRETCH = "stretch"
    SNAG = "snag"
    KNOCK = "knock"


@dataclass(frozen=True, kw_only=True)
class LoadCaseFact(Row):
    """A load that a ring must bear: a force in N, or for a stretch the growth of the inner diameter in mm."""

    title: str
    kind: LoadKind
    force_N: float | None = None
    stretch_mm: float | None = None
    patch_mm: float


@dataclass(frozen=True, kw_only=True)
class WearLimitFact(Row):
    """A bound or a coefficient of wear; its key tells which column it has."""

    title: str
    heed_below: float | None = None
    halt_below: float | None = None
    heed_above: float | None = None
    coefficient: float | None = None
    coefficient_low: float | None = None
    volume_mm3_per_year: float | None = None
    hardness_HV: float | None = None
    thickness_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Strength:
    """One load case: the stress that it makes, how sure that is, and how far it lies from yielding."""

    title: Annotated[str, Figure("", 0, "Load case")]
    kind: Annotated[LoadKind, Figure("", 0, "squeeze, stretch, snag or knock")]
    load: Annotated[str, Figure("", 0, "Force or stretch")]
    stress_MPa: Annotated[Estimate | None, Figure("MPa", 0, "Highest equivalent stress, and how far the meshes differ")]
    strain_percent: Annotated[Estimate | None, Figure("%", 2, "Highest strain of a stretch")]
    moved_mm: Annotated[float, Figure("mm", 3, "Largest movement under the load")]
    safety: Annotated[Estimate, Figure("", 2, "Yield strength over stress; for a stretch, elongation over strain")]
    place: Annotated[str, Figure("", 0, "Where on the ring")]
    point_mm: Annotated[Point, Figure("mm", 2, "The place")]
    converged: Annotated[bool, Figure("", 0, "Whether the next finer mesh moves the figure by under 5 %")]
    change_percent: Annotated[float, Figure("%", 1, "How far the finer mesh moved it")]


@dataclass(frozen=True, kw_only=True)
class WearFigures:
    """What becomes of the ring on a hand."""

    strengths: Annotated[tuple[Strength, ...], Figure("", 0, "Strength under each load case")]
    off_axis_mm: Annotated[float, Figure("mm", 2, "Centre of mass, stones included, off the finger's axis")]
    turning_Nmm: Annotated[float, Figure("N mm", 3, "Moment of the weight that turns the ring, head sideways")]
    friction_Nmm: Annotated[float, Figure("N mm", 3, "Moment that friction holds of a ring that hangs loose")]
    turning_share: Annotated[
        float, Figure("", 2, "Turning moment over what friction holds: above 1 a loose ring turns", chief=True)
    ]
    height_mm: Annotated[float, Figure("mm", 2, "Highest point above the finger", chief=True)]
    sharp_inside_mm: Annotated[float, Figure("mm", 1, "Length of sharp edges toward the finger")]
    sharp_outside_mm: Annotated[float, Figure("mm", 1, "Length of sharp outer edges that can snag or scratch")]
    years: Annotated[Estimate, Figure("years", 0, "Until the bottom of the shank is worn to its limit")]
    youngs_GPa: Annotated[float, Figure("GPa", 0, "Young's modulus used")]
    yield_MPa: Annotated[Estimate, Figure("MPa", 0, "Yield strength used")]
    cells: Annotated[int, Figure("", 0, "Cells of the finest mesh")]
