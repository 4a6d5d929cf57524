"""The finger's step: size systems and fit allowances as rows, labels and fit as results."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from ringwright.terms.fact import Row
from ringwright.terms.quantity import Estimate, Figure


@dataclass(frozen=True, kw_only=True)
class SizeSystemFact(Row):
    """A national system of ring sizes: a straight line from a number to millimetres.

    Number ``offset_number`` measures ``offset_mm``; every ``per_numbers`` numbers more are ``step_mm`` more, of
    the inner circumference or of the inner diameter as ``measures`` says. ``label`` is "number" or "letter"
    (then number 0 is A, 25 is Z). ``parts`` is into how many parts a number is cut on its label (1, 2, 4);
    ``spoken_parts`` is the finest that a client may say (0: any decimal). Numbers below ``lowest`` have no
    label; ``stick_lowest`` to ``stick_highest`` is what gauges and sticks of that system reach.
    """

    title: str
    measures: str
    label: str
    offset_number: float
    offset_mm: float
    step_mm: float
    per_numbers: int
    parts: int
    spoken_parts: int
    lowest: float
    stick_lowest: float
    stick_highest: float
    aliases: tuple[str, ...] = ()
    prefix: str = ""


@dataclass(frozen=True, kw_only=True)
class SizeChartFact(Row):
    """A row of a published table of sizes, as printed. ``same_as`` holds the other columns: system key to label."""

    chart: str
    system: str
    size: str
    inner_circumference_mm: float | None = None
    inner_diameter_mm: float | None = None
    same_as: dict[str, str] | None = None


@dataclass(frozen=True, kw_only=True)
class FitFact(Row):
    """An allowance or limit of the fit.

    Keys that begin with "width-" hold for bands from ``from_width_mm`` to less than ``to_width_mm``. Allowances
    are on the inner diameter.
    """

    from_width_mm: float | None = None
    to_width_mm: float | None = None
    diameter_allowance_mm: float | None = None
    diameter_spread_mm: float | None = None
    width_limit_mm: float | None = None
    inner_diameter_mm: float | None = None
    blank_extra_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class SizeRows:
    """The tables that the finger's step works from."""

    systems: tuple[SizeSystemFact, ...]
    charts: tuple[SizeChartFact, ...] = ()
    fits: tuple[FitFact, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SizeLabel:
    """The nearest size of one system."""

    title: Annotated[str, Figure("", 0, "The system")]
    label: Annotated[str, Figure("", 0, "Nearest size")]
    written: Annotated[str, Figure("", 0, "The size as its standard writes it")]
    residual_mm: Annotated[float, Figure("mm", 2, "This circumference less the size's own")]
    off_stick: Annotated[bool, Figure("", 0, "Whether it lies outside what the system's gauges reach")] = False


@dataclass(frozen=True, kw_only=True)
class SizeLabels:
    """One inner circumference in every system."""

    inner_circumference_mm: Annotated[float, Figure("mm", 2, "Inner circumference")]
    inner_diameter_mm: Annotated[float, Figure("mm", 2, "Inner diameter")]
    labels: Annotated[dict[str, SizeLabel], Figure("", 0, "Nearest size in each system, by its key")]


@dataclass(frozen=True, kw_only=True)
class Disagreement:
    """A published table that says otherwise of a size.

    ``difference_mm`` is theirs less ours, on the inner circumference. ``other_label`` is true where the
    difference is so great that another size of that system lies nearer: then the two tables really quarrel.
    """

    chart: Annotated[str, Figure("", 0, "The published table")]
    size: Annotated[str, Figure("", 0, "The size asked, with its system")]
    theirs: Annotated[str, Figure("", 0, "What the table prints beside it")]
    ours: Annotated[str, Figure("", 0, "What the systems' own rules give")]
    difference_mm: Annotated[float, Figure("mm", 2, "Theirs less ours, on the circumference")]
    other_label: Annotated[bool, Figure("", 0, "Whether another size of that system lies nearer")]
    source: Annotated[str, Figure("", 0, "Source of the table")]


@dataclass(frozen=True, kw_only=True)
class Fit:
    """What the inside of the ring must be."""

    asked: Annotated[str, Figure("", 0, "What the client asked for", chief=True)]
    finger_circumference_mm: Annotated[float, Figure("mm", 2, "Circumference of the size that was asked for")]
    finger_diameter_mm: Annotated[float, Figure("mm", 2, "Diameter of the size that was asked for")]
    band_width_mm: Annotated[float | None, Figure("mm", 2, "Width of the band at the finger")]
    width_allowance_mm: Annotated[Estimate, Figure("mm", 2, "Added to the diameter for the band's width")]
    comfort_allowance_mm: Annotated[Estimate, Figure("mm", 2, "Added to the diameter for the inside's profile")]
    inner_diameter_mm: Annotated[Estimate, Figure("mm", 2, "Wanted inner diameter of the finished ring", chief=True)]
    inner_circumference_mm: Annotated[
        Estimate, Figure("mm", 2, "Wanted inner circumference of the finished ring", chief=True)
    ]
    gauge: Annotated[str, Figure("", 0, "Finger gauge to measure with: narrow or wide")]
    read_at: Annotated[str, Figure("", 0, "Where the finished ring is read on the stick")]
    made: Annotated[SizeLabels, Figure("", 0, "Sizes of the ring as it is to be made")]
    disagreements: Annotated[tuple[Disagreement, ...], Figure("", 0, "Published tables that say otherwise")] = ()
