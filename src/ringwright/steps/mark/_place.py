"""Whether the place inside the band bears a mark: height of the figures, metal behind it, off the sizing area."""

from __future__ import annotations

import math

from ringwright.steps.mark._rows import limit_of
from ringwright.terms.commission import MarkBrief
from ringwright.terms.mark import MarketFact, MarkingRows, MarkPlace, Marks
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.remark import Level, Point, Remark


def of_the_place(
    result: Marks, market: MarketFact, brief: MarkBrief, place: MarkPlace, rows: MarkingRows
) -> list[Remark]:
    """What the law and the tools ask of the place.

    Raises :class:`BadInput` where the place is none.
    """
    check_place(place, brief.height_mm)
    beside = beside_the_sizing_area(place, rows)
    remarks = []
    if not result.exempt and result.fineness_permille is not None:
        remarks += _of_the_height(market, brief, rows, beside)
    wall = limit_of("wall-for-punch", rows)
    if place.wall_mm is not None and wall.wall_mm is not None and place.wall_mm < wall.wall_mm:
        remarks.append(
            Remark(
                "mark",
                Level.HEED,
                "wall-thin-for-punch",
                f"Only {place.wall_mm:.2f} mm of metal lie behind the mark: a punch would show on the outside.",
                place.wall_mm,
                wall.wall_mm,
                "mm",
                wall.source,
                "inside of the band",
                beside,
                f"Have it marked by laser, or leave {wall.wall_mm:g} mm of metal there.",
            )
        )
        remarks.append(
            Remark(
                "mark",
                Level.FINE,
                "laser-caution",
                "A marking laser blinds and its smoke harms: closed housing with interlock, goggles for its wavelength "
                "where it is open, extraction at the work; follow local rules and let only trained hands use it.",
                place="inside of the band",
            )
        )
    return remarks


def check_place(place: MarkPlace, height_mm: float) -> None:
    """Raises :class:`BadInput` with every figure of the place that is none."""
    faults = []
    for name, value in (
        ("inner_diameter", place.inner_diameter_mm),
        ("band_width", place.band_width_mm),
        ("wall", place.wall_mm),
        ("height", height_mm),
    ):
        if value is not None and not (math.isfinite(value) and value > 0):
            faults.append(Mistake(f"mark.{name}", f"{value} mm is no length", "a length above 0 mm"))
    if (place.open_from_deg is None) != (place.open_to_deg is None):
        faults.append(Mistake("mark.open", "only one end of the head's openings is given", "give both or none"))
    elif place.open_from_deg is not None and place.open_to_deg is not None:
        span = place.open_to_deg - place.open_from_deg
        if not 0 < span < 360:
            right = "an angle up to which they reach, above the one where they begin, less than a turn"
            faults.append(Mistake("mark.open", f"the head's openings reach over {span:g} degrees", right))
    if faults:
        raise BadInput(*faults)


def point_at(arc_mm: float, place: MarkPlace) -> Point:
    """The point on the inside at an arc from the bottom of the shank, to the right of a reader inside the ring.

    Who looks from the finger's axis at the wall with z up sees angles fall to the right.
    """
    radius = place.inner_diameter_mm / 2
    angle = -math.pi / 2 - arc_mm / radius
    return (radius * math.cos(angle), radius * math.sin(angle), 0.0)


def beside_the_sizing_area(place: MarkPlace, rows: MarkingRows) -> Point:
    """Where the first mark begins."""
    return point_at((limit_of("sizing-area", rows).arc_mm or 0.0) / 2, place)


def _of_the_height(market: MarketFact, brief: MarkBrief, rows: MarkingRows, beside: Point) -> list[Remark]:
    """Figures that are lower than the law or a glass allows."""
    least = market.least_height_mm
    if least is not None and brief.height_mm < least:
        return [
            Remark(
                "mark",
                Level.HALT,
                "mark-too-low",
                f"Figures of {brief.height_mm:g} mm are too low: the law of {market.title} asks for {least:g} mm.",
                brief.height_mm,
                least,
                "mm",
                market.source,
                "inside of the band",
                beside,
                f"Make the figures at least {least:g} mm high.",
            )
        ]
    reads = limit_of("letter-reads", rows)
    if reads.letter_height_mm is not None and brief.height_mm < reads.letter_height_mm:
        return [
            Remark(
                "mark",
                Level.HEED,
                "letters-small",
                f"Letters of {brief.height_mm:g} mm are read with a glass only.",
                brief.height_mm,
                reads.letter_height_mm,
                "mm",
                reads.source,
                "inside of the band",
                beside,
                f"Make the letters {reads.letter_height_mm:g} mm high or more.",
            )
        ]
    return []
