"""What the finished ring must measure inside, from the finger, the band's width and the inside's profile."""

from __future__ import annotations

import math

from ringwright.steps.finger._quarrels import disagreements
from ringwright.steps.finger._sizes import check_wearable, circumference_of, labels, part_mm, read_size
from ringwright.terms.commission import FingerBrief
from ringwright.terms.facts import used
from ringwright.terms.finger import Disagreement, Fit, FitFact, SizeLabels, SizeRows
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level, Remark

_INSIDE = (0.0, 0.0, 0.0)


def fit(brief: FingerBrief, band_width_mm: float | None, rows: SizeRows) -> Outcome[Fit]:
    """The inner diameter and circumference that the ring must have when it is finished.

    ``band_width_mm`` is the width at the finger as drawn; where it is None the brief's own stands. To the size
    asked for are added, on the diameter, the allowance for a wide band (none if the finger was measured with the
    wide gauge) and for a comfort profile; their spreads and half a step of the size system add in squares. An
    ``inner_diameter_mm`` in the brief is what the ring must have, and nothing is added to it.

    Raises :class:`BadInput` with all that is wrong in the brief.
    """
    _check(brief, band_width_mm)
    width = band_width_mm if band_width_mm is not None else brief.band_width_mm
    asked, finger, reading, quarrels = _asked(brief, rows)
    measured = brief.inner_diameter_mm is None
    nothing = Estimate(0.0, 0.0)
    wide = _width_row(width, rows)
    width_allowance = _allowance(wide) if measured and brief.gauge != "wide" and wide is not None else nothing
    comfort_row = used(rows.fits, "comfort")
    comfort = _allowance(comfort_row) if measured and brief.inside == "comfort" else nothing
    diameter = finger / math.pi + width_allowance.value + comfort.value
    spread = math.hypot(reading, width_allowance.plus_minus, comfort.plus_minus)
    check_wearable(diameter * math.pi, asked, rows)
    made = labels(diameter * math.pi, rows)
    gauge = used(rows.fits, "gauge")
    narrow = width is None or gauge.width_limit_mm is None or width <= gauge.width_limit_mm
    result = Fit(
        asked=asked,
        finger_circumference_mm=finger,
        finger_diameter_mm=finger / math.pi,
        band_width_mm=width,
        width_allowance_mm=width_allowance,
        comfort_allowance_mm=comfort,
        inner_diameter_mm=Estimate(diameter, spread),
        inner_circumference_mm=Estimate(diameter * math.pi, spread * math.pi),
        gauge="narrow" if narrow else "wide",
        read_at=used(rows.fits, f"read-{brief.inside}").condition,
        made=made,
        disagreements=quarrels,
    )
    remarks = [*_of_the_stick(made, rows), *_of_the_tables(brief, quarrels, rows)]
    remarks += _of_the_width(brief, result, wide, gauge)
    remarks += _of_the_profile(brief, result, comfort_row)
    remarks.append(_of_the_day(used(rows.fits, "swing")))
    return Outcome("finger", result, tuple(remarks))


def blank_length_mm(inner_circumference_mm: float, thickness_mm: float, band_width_mm: float, rows: SizeRows) -> float:
    """Length of a flat strip that bends to a ring: circumference + pi x thickness, and a little for a wide band.

    The strip bends about its middle layer, so the neutral line is a thickness wider than the inside.
    """
    wide = used(rows.fits, "blank-wide")
    extra = wide.blank_extra_mm if wide.width_limit_mm is not None and band_width_mm > wide.width_limit_mm else 0.0
    return inner_circumference_mm + math.pi * thickness_mm + (extra or 0.0)


def _check(brief: FingerBrief, band_width_mm: float | None) -> None:
    """All that is wrong in the brief before anything is read from it."""
    faults = []
    if brief.size is not None and brief.inner_diameter_mm is not None:
        faults.append(Mistake("finger", "both a size and an inner diameter are given", "give one of the two"))
    if brief.size is None and brief.inner_diameter_mm is None:
        right = 'say size = "54" and system = "iso", or inner_diameter = "17.2 mm"'
        faults.append(Mistake("finger", "neither a size nor an inner diameter is given", right))
    if brief.size is None and brief.system is not None and brief.inner_diameter_mm is None:
        faults.append(Mistake("finger.system", f"the system {brief.system} stands without a size", "say the size too"))
    diameter = brief.inner_diameter_mm
    if diameter is not None and not (math.isfinite(diameter) and diameter > 0):
        faults.append(Mistake("finger.inner_diameter", f"{diameter} mm is no diameter", "a length above 0 mm"))
    if brief.inside not in {"flat", "comfort"}:
        faults.append(Mistake("finger.inside", f"'{brief.inside}' is no profile of the inside", "flat or comfort"))
    if brief.gauge not in {"narrow", "wide"}:
        faults.append(Mistake("finger.gauge", f"'{brief.gauge}' is no finger gauge", "narrow or wide"))
    width = band_width_mm if band_width_mm is not None else brief.band_width_mm
    if width is not None and not (math.isfinite(width) and width > 0):
        faults.append(Mistake("finger.band_width", f"{width} mm is no width of a band", "a length above 0 mm"))
    if faults:
        raise BadInput(*faults)


def _asked(brief: FingerBrief, rows: SizeRows) -> tuple[str, float, float, tuple[Disagreement, ...]]:
    """What was asked in words, its circumference, half a size step on the diameter, and the tables' quarrels."""
    if brief.size is None:
        assert brief.inner_diameter_mm is not None
        circumference = brief.inner_diameter_mm * math.pi
        asked = f"an inner diameter of {brief.inner_diameter_mm:g} mm"
        check_wearable(circumference, asked, rows)
        return asked, circumference, 0.0, ()
    number, system = read_size(brief.size, brief.system, rows)
    circumference = circumference_of(number, system)
    asked = f"{system.title}: {brief.size}"
    check_wearable(circumference, asked, rows)
    return asked, circumference, part_mm(system) / 2 / math.pi, disagreements(brief.size, brief.system, rows)


def _width_row(width: float | None, rows: SizeRows) -> FitFact | None:
    """The preferred allowance of the band's width."""
    if width is None:
        return None
    for key in dict.fromkeys(row.key for row in rows.fits if row.key.startswith("width-")):
        row = used(rows.fits, key)
        if (
            row.from_width_mm is not None
            and row.to_width_mm is not None
            and row.from_width_mm <= width < row.to_width_mm
        ):
            return row
    right = "check the width of the band at the finger"
    raise BadInput(Mistake("finger.band_width", f"a band of {width:g} mm is wider than any in the tables", right))


def _allowance(row: FitFact) -> Estimate:
    return Estimate(row.diameter_allowance_mm or 0.0, row.diameter_spread_mm or 0.0)


def _of_the_stick(made: SizeLabels, rows: SizeRows) -> list[Remark]:
    """A ring that the standard's stick does not reach."""
    if not made.labels["iso"].off_stick:
        return []
    iso = used(rows.systems, "iso")
    figure = made.inner_circumference_mm
    limit = iso.stick_lowest if figure < iso.stick_lowest + 0.5 else iso.stick_highest
    return [
        Remark(
            "finger",
            Level.HEED,
            "size-off-stick",
            f"An inner circumference of {figure:.1f} mm is outside what the ring stick reads "
            f"({iso.stick_lowest:g} to {iso.stick_highest:g} mm).",
            figure,
            limit,
            "mm",
            iso.source,
            "inside of the band",
            _INSIDE,
            "Measure the finger again; if it is right, gauge the hole with a plug or a caliper instead of the stick.",
        )
    ]


def _of_the_tables(brief: FingerBrief, quarrels: tuple[Disagreement, ...], rows: SizeRows) -> list[Remark]:
    """Published tables that put another size where ours puts this one.

    Where the size asked is itself a length (ISO, diameter), nobody doubts the ring, only what others call it.
    """
    real = [one for one in quarrels if one.other_label]
    if not real or brief.size is None:
        return []
    worst = real[0]
    _, system = read_size(brief.size, brief.system, rows)
    level = Level.FINE if system.spoken_parts == 0 else Level.HEED
    tables = ", ".join(dict.fromkeys(one.chart for one in real))
    return [
        Remark(
            "finger",
            level,
            "size-tables-quarrel",
            f"Published tables quarrel about {worst.size}: the {worst.chart} prints {worst.theirs}, the rules of the "
            f"systems give {worst.ours} ({worst.difference_mm:+.2f} mm of circumference). "
            f"Tables that differ: {tables}.",
            abs(worst.difference_mm),
            part_mm(system) / 2,
            "mm",
            "half a step of the size system: beyond it another size lies nearer",
            "inside of the band",
            _INSIDE,
            "Measure the finger and the ring with one and the same set of gauges and stick, and agree the millimetres.",
        )
    ]


def _of_the_width(brief: FingerBrief, result: Fit, wide: FitFact | None, gauge: FitFact) -> list[Remark]:
    """What the band's width adds, and which gauge the finger should be measured with."""
    width = result.band_width_mm
    if width is None or wide is None or not wide.diameter_allowance_mm:
        return []
    if result.width_allowance_mm.value:
        says = (
            f"A band of {width:g} mm feels tighter than a narrow one: {result.width_allowance_mm.value:.1f} mm "
            f"are added to the diameter of {result.finger_diameter_mm:.2f} mm."
        )
        change = "Measure the finger with the wide gauge and say so; then nothing needs to be added."
    elif brief.inner_diameter_mm is not None:
        says = f"The inner diameter is taken as given; nothing is added for a band of {width:g} mm."
        change = ""
    else:
        says = f"The finger was measured with the wide gauge, so nothing is added for a band of {width:g} mm."
        change = ""
    return [
        Remark(
            "finger", Level.FINE, "band-wide", says, width, wide.from_width_mm, "mm", wide.source, "inside of the band",
            _INSIDE, change,
        ),
        Remark(
            "finger", Level.FINE, "gauge", f"Measure with the {result.gauge} finger gauge.", width,
            gauge.width_limit_mm, "mm", gauge.source, "inside of the band", _INSIDE,
        ),
    ]  # fmt: skip


def _of_the_profile(brief: FingerBrief, result: Fit, row: FitFact) -> list[Remark]:
    """What a domed inside takes away."""
    if brief.inside != "comfort":
        return []
    given = brief.inner_diameter_mm is not None
    says = (
        "The inner diameter is taken as given; nothing is taken off for the domed inside."
        if given
        else f"A domed inside feels looser: {abs(result.comfort_allowance_mm.value):.1f} mm are taken off the diameter."
    )
    return [
        Remark("finger", Level.FINE, "comfort", says, row.diameter_allowance_mm, unit="mm", place="inside of the band")
    ]


def _of_the_day(row: FitFact) -> Remark:
    """A finger is not the same in the morning and in the evening."""
    says = (
        f"A finger's diameter moves by {row.diameter_allowance_mm:.1f} mm and more within a day and with the weather: "
        "measure it twice, warm and at rest."
    )
    return Remark("finger", Level.FINE, "finger-swing", says, row.diameter_allowance_mm, unit="mm")
