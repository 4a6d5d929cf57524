"""The marking step whole: the law's demands, and the marks and the inscription laid inside the band."""

from __future__ import annotations

from ringwright.steps.mark._law import law
from ringwright.steps.mark._layout import layout
from ringwright.steps.mark._place import beside_the_sizing_area
from ringwright.steps.mark._rows import limit_of, market_of
from ringwright.terms.commission import MarkBrief
from ringwright.terms.mark import Layout, Marking, MarkingRows, MarkPlace, Marks, TextRun
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level, Point, Remark


def marking(
    brief: MarkBrief,
    market: str,
    metal: str,
    fineness_permille: float,
    mass_g: float | Estimate,
    place: MarkPlace | None,
    rows: MarkingRows,
    font: bytes | None = None,
) -> Outcome[Marking]:
    """What the ring must bear, and where it lies; without a place only the law.

    Where an assay office strikes, a place for its set of marks is kept free. Where the maker strikes, the fineness
    and the sponsor's initials are laid out, and the inscription after them. See :func:`law` and :func:`layout`.
    """
    found = law(market, metal, fineness_permille, mass_g, rows, brief, place)
    runs = _runs(found.result, brief, rows)
    laid = layout(runs, place, brief.height_mm, rows, font) if place is not None and runs else None
    remarks = list(found.remarks)
    if laid is not None and place is not None:
        remarks += _of_the_layout(laid, brief, rows, beside_the_sizing_area(place, rows))
    return Outcome("mark", Marking(marks=found.result, layout=laid), tuple(remarks))


def _runs(marks: Marks, brief: MarkBrief, rows: MarkingRows) -> tuple[TextRun, ...]:
    """What is to be laid inside the band, marks first."""
    runs: list[TextRun] = []
    duty = marks.duty == "marks" and not (marks.exempt and not marks.must)
    if marks.fineness_permille is not None and (duty or marks.duty in {"voluntary", "route"}):
        if market_of(marks.market, rows).struck_by == "office" and marks.duty != "voluntary":
            strip = limit_of("struck-set", rows)
            length = (strip.run_per_height or 0.0) * (strip.letter_height_mm or 0.0)
            runs.append(TextRun(text="marks of the assay office", kind="reserved", reserve_mm=length))
        else:
            runs.append(TextRun(text=marks.mark.split(" or ")[-1], kind="mark"))
            if brief.sponsor.strip():
                runs.append(TextRun(text=brief.sponsor.strip(), kind="mark"))
    if brief.text.strip():
        runs.append(TextRun(text=brief.text.strip(), kind="inscription"))
    return tuple(runs)


def _of_the_layout(laid: Layout, brief: MarkBrief, rows: MarkingRows, beside: Point) -> list[Remark]:
    """Whether the text fits, and what would."""
    limit = limit_of("edge", rows)
    if laid.fits:
        says = (
            f"Marks and inscription lie beside the {laid.sizing_area_mm:g} mm at the bottom that are kept for resizing."
        )
        return [Remark("mark", Level.FINE, "marks-placed", says, place="inside of the band", point_mm=beside)]
    remarks = []
    shorter = (
        f"Letters of {laid.height_that_fits_mm:.2f} mm would fit; or shorten the text."
        if laid.height_that_fits_mm > 0
        else "Shorten the text; no height of letters would make it fit."
    )
    if laid.too_long_mm > 0:
        says = (
            f"With letters of {brief.height_mm:g} mm the text is {laid.too_long_mm:.1f} mm too long for the inside of "
            f"{laid.strip_length_mm:.1f} mm less the sizing area and the head's openings."
        )
        remarks.append(_misfit("text-too-long", says, laid.too_long_mm, "geometry of the band", beside, shorter))
    if laid.too_high_mm > 0:
        says = (
            f"Letters of {brief.height_mm:g} mm are {laid.too_high_mm:.2f} mm too high for an inside of "
            f"{laid.strip_width_mm:g} mm with {limit.clearance_mm:g} mm clear on each side."
        )
        remarks.append(_misfit("text-too-high", says, laid.too_high_mm, limit.source, beside, shorter))
    return remarks


def _misfit(kind: str, says: str, figure: float, source: str, beside: Point, change: str) -> Remark:
    return Remark("mark", Level.HALT, kind, says, figure, 0.0, "mm", source, "inside of the band", beside, change)
