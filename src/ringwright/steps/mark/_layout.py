"""Text laid out on the developed inside of the band, off the sizing area and clear of the head's openings.

The inside of the band is cut at the bottom of the shank and rolled out: an arc runs from there to the right of a
reader who looks from the finger's axis at the wall with z up, once round to the bottom again.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from ringwright.steps.mark._letters import Drawn, drawn
from ringwright.steps.mark._place import check_place, point_at
from ringwright.steps.mark._rows import limit_of
from ringwright.terms.mark import Layout, MarkingRows, MarkPlace, PlacedRun, TextRun
from ringwright.terms.mistake import BadInput, Mistake

_HALVINGS = 30


@dataclass(frozen=True)
class _Run:
    """A run with its drawing; a reserved place has no drawing and a fixed length."""

    run: TextRun
    drawing: Drawn | None

    def length(self, height: float) -> float:
        if self.drawing is None:
            return self.run.reserve_mm or 0.0
        return self.drawing.width * height


def layout(
    runs: tuple[TextRun, ...], place: MarkPlace, height_mm: float, rows: MarkingRows, font: bytes | None = None
) -> Layout:
    """The runs in their places, with capitals of ``height_mm``; or by how much they do not fit, and what height would.

    Marks and reserved places stand first, just off the sizing area; inscriptions follow, each group in the middle
    of the room that is left. Raises :class:`BadInput` for a place or height that is none, and for characters that
    cannot be drawn.
    """
    check_place(place, height_mm)
    faults = [Mistake("mark.text", "a run of text is empty", "some text") for run in runs if not run.text.strip()]
    if faults:
        raise BadInput(*faults)
    drawings = tuple(_Run(run, None if run.kind == "reserved" else drawn(run.text, rows.letters, font)) for run in runs)
    length = math.pi * place.inner_diameter_mm
    sizing = limit_of("sizing-area", rows).arc_mm or 0.0
    gap = limit_of("gap", rows).clearance_mm or 0.0
    room = _room(place, length, sizing, gap)
    found = _set(drawings, room, height_mm, gap)
    edge = limit_of("edge", rows).clearance_mm or 0.0
    clear = place.band_width_mm - 2 * edge
    too_high = max(0.0, _span(drawings, height_mm) - clear)
    opening = _opening(place, length)
    fits = found is not None and too_high == 0
    return Layout(
        strip_length_mm=length,
        strip_width_mm=place.band_width_mm,
        height_mm=height_mm,
        sizing_area_mm=sizing,
        open_from_mm=opening[0] if opening else None,
        open_to_mm=opening[1] if opening else None,
        runs=tuple(_placed(one, start, height_mm, place, edge) for one, start in found) if found and fits else (),
        fits=fits,
        too_long_mm=0.0 if found is not None else _too_long(drawings, room, height_mm, gap),
        too_high_mm=too_high,
        height_that_fits_mm=_greatest(
            lambda h: _set(drawings, room, h, gap) is not None and _span(drawings, h) <= clear, height_mm
        ),
    )


def _opening(place: MarkPlace, length: float) -> tuple[float, float] | None:
    """The arcs between which the head's openings lie; angles run the other way than the reader's arc."""
    if place.open_from_deg is None or place.open_to_deg is None:
        return None
    start = (-90 - place.open_to_deg) % 360 / 360 * length
    return start, start + (place.open_to_deg - place.open_from_deg) / 360 * length


def _room(place: MarkPlace, length: float, sizing: float, gap: float) -> tuple[tuple[float, float], ...]:
    """The free arcs, from the right of the bottom onward."""
    first, last = sizing / 2, length - sizing / 2
    opening = _opening(place, length)
    if opening is None:
        free = [(first, last)]
    else:
        free = [(first, min(opening[0] - gap, last)), (max(opening[1] + gap, first), last)]
    return tuple((a, b) for a, b in free if b > a)


def _set(
    runs: tuple[_Run, ...], room: tuple[tuple[float, float], ...], height: float, gap: float
) -> tuple[tuple[_Run, float], ...] | None:
    """Where each run begins; None where one finds no place."""
    at = [start for start, _ in room]
    groups: list[list[tuple[_Run, float]]] = [[] for _ in room]
    order = sorted(runs, key=lambda one: one.run.kind == "inscription")
    for one in order:
        width = one.length(height)
        fitting = [i for i, (_, end) in enumerate(room) if at[i] + width <= end + 1e-9]
        if not fitting:
            return None
        mark = one.run.kind != "inscription"
        chosen = fitting[0] if mark else max(fitting, key=lambda i: (room[i][1] - at[i], -i))
        groups[chosen].append((one, at[chosen]))
        at[chosen] += width + gap
    found: list[tuple[_Run, float]] = []
    for group, start, (_, end) in zip(groups, at, room, strict=True):
        spare = (end - (start - gap)) / 2 if group else 0.0
        found += [(one, begin + (spare if one.run.kind == "inscription" else 0.0)) for one, begin in group]
    return tuple(found)


def _too_long(runs: tuple[_Run, ...], room: tuple[tuple[float, float], ...], height: float, gap: float) -> float:
    """By how much the runs are too long together: what must go before the rest finds its place."""

    def together(h: float) -> float:
        return sum(one.length(h) for one in runs)

    fitting = _greatest(lambda h: _set(runs, room, h, gap) is not None, height)
    free = sum(end - start for start, end in room)
    beyond = max(0.0, together(0.0) - free) if fitting == 0 else 0.0
    return together(height) - together(fitting) + beyond


def _greatest(fits: Callable[[float], bool], height: float) -> float:
    """The greatest height up to ``height`` for which ``fits`` holds; 0 where none does."""
    if fits(height):
        return height
    low, high = 0.0, height
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low if low > height * 2.0 ** (1 - _HALVINGS) else 0.0


def _span(runs: tuple[_Run, ...], height: float) -> float:
    """The height that the letters take with all that hangs below and stands above."""
    drawings = [one.drawing for one in runs if one.drawing is not None]
    if not drawings:
        return 0.0
    return (max(d.high for d in drawings) - min(d.low for d in drawings)) * height


def _placed(one: _Run, start: float, height: float, place: MarkPlace, edge: float) -> PlacedRun:
    """The run in its place: capitals in the middle of the band, moved only where a tail would leave it."""
    end = start + one.length(height)
    middle = (start + end) / 2
    base = (place.band_width_mm - height) / 2
    if one.drawing is not None:
        lowest = edge - one.drawing.low * height
        highest = place.band_width_mm - edge - one.drawing.high * height
        base = min(max(base, lowest), highest)
    angle = (-90 - middle / (math.pi * place.inner_diameter_mm) * 360) % 360
    x, y, _ = point_at(middle, place)
    return PlacedRun(
        text=one.run.text,
        kind=one.run.kind,
        height_mm=height,
        start_mm=start,
        end_mm=end,
        base_mm=base,
        middle_deg=angle,
        middle_mm=(x, y, base + height / 2 - place.band_width_mm / 2),
    )
