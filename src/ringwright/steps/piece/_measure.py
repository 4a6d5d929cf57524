"""The drawn model measured: weight, hole, band, and the ring turned into its own frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ringwright.science import cylinders, solids
from ringwright.steps.piece import _hole
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Body
from ringwright.terms.commission import SeatBrief, State
from ringwright.terms.facts import used
from ringwright.terms.outcome import Outcome
from ringwright.terms.piece import Drawn, Hole, Piece, PieceFigures, PieceLimit, Placement, Weight
from ringwright.terms.remark import Level, Point, Remark


def weigh(drawn: Drawn, alloys: Sequence[Alloy]) -> Weight:
    """Volume, surface, and the mass of the metal in each alloy with the spread of its density; of any closed model."""
    figures = solids.mass_properties(drawn.metal)
    mass = {alloy.key: figures.volume_mm3 * alloy.density_g_cm3.value / 1000.0 for alloy in alloys}
    spread = {alloy.key: figures.volume_mm3 * alloy.density_g_cm3.plus_minus / 1000.0 for alloy in alloys}
    return Weight(volume_mm3=figures.volume_mm3, area_mm2=figures.area_mm2, mass_g=mass, mass_spread_g=spread)


def measure(
    drawn: Drawn,
    alloys: Sequence[Alloy],
    limits: Sequence[PieceLimit],
    *,
    ordered_diameter_mm: float | None = None,
    state: State = State.FINISHED,
    seats: Sequence[SeatBrief] = (),
) -> tuple[Piece, Outcome[PieceFigures]]:
    """The piece in the ring's own frame, and its figures.

    ``ordered_diameter_mm`` is what the finished hole must measure; it is compared only where the model is drawn in
    finished dimensions. ``seats`` are the commission's places for stones in the model's coordinates (the first is
    the main one); those of a starter shape come with ``drawn``. Raises :class:`BadInput` where there is no finger hole.
    """
    found = _hole.through(drawn.metal, drawn.name)
    wall = _hole.around(drawn.metal, found)
    places = (*drawn.seats, *seats)
    up = _hole.head(drawn.metal, drawn.stones, places, found)
    placement, band = _hole.placed(drawn.metal, found, up)
    hole = _measured(found, wall, band, placement)
    piece = Piece(
        name=drawn.name,
        metal=drawn.metal.moved(placement.matrix, np.array(placement.shift_mm)),
        stones=tuple(
            Body(stone.name, stone.role, stone.mesh.moved(placement.matrix, np.array(placement.shift_mm)))
            for stone in drawn.stones
        ),
        seats=tuple(placement.seat(seat) for seat in places),
        placement=placement,
        hole=hole,
        state=state,
        band_width_mm=band.width_mm,
        band_thickness_mm=band.thickness_mm,
    )
    figures = _figures(drawn, piece, weigh(drawn, alloys))
    outcome = Outcome("piece", figures, (*drawn.remarks, *_remarks(piece, tuple(limits))), piece.bodies)
    return piece, outcome if ordered_diameter_mm is None else compare(piece, outcome, limits, ordered_diameter_mm)


def compare(
    piece: Piece, measured: Outcome[PieceFigures], limits: Sequence[PieceLimit], ordered_diameter_mm: float
) -> Outcome[PieceFigures]:
    """What was measured, with the drawn size held against the ordered one."""
    return replace(
        measured,
        result=replace(measured.result, ordered_diameter_mm=ordered_diameter_mm),
        remarks=(*measured.remarks, _size(piece, tuple(limits), ordered_diameter_mm)),
    )


def _measured(found: cylinders.Through, wall: _hole.Round, band: _hole.Band, placement: Placement) -> Hole:
    radii = wall.radii[np.isfinite(wall.radii)]
    mean = float(radii.mean()) if len(radii) else found.radius
    largest = float(radii.max()) if len(radii) else found.radius
    return Hole(
        diameter_mm=2.0 * found.radius,
        facet_diameter_mm=2.0 * found.facet_radius,
        mean_diameter_mm=2.0 * mean,
        roundness_mm=max(largest - found.radius, 0.0),
        axis=_point(found.axis),
        centre_mm=_point(placement.to_model(np.zeros(3))),
        profile=band.profile,
        open_percent=wall.open_percent,
    )


def _figures(drawn: Drawn, piece: Piece, weight: Weight) -> PieceFigures:
    mass = solids.mass_properties(piece.metal)
    low, high = solids.bounds(piece.metal)
    hole = piece.hole
    top = max(float(np.hypot(*body.mesh.vertices_mm[:, :2].T).max()) for body in piece.bodies)
    return PieceFigures(
        format=drawn.format,
        units=drawn.units,
        units_from=drawn.units_from,
        closed=solids.is_closed(piece.metal),
        closed_as_drawn=drawn.closed_as_drawn,
        mended=drawn.mended,
        triangles=len(piece.metal.faces),
        volume_mm3=weight.volume_mm3,
        area_mm2=weight.area_mm2,
        mass_g=weight.mass_g,
        mass_spread_g=weight.mass_spread_g,
        centre_of_mass_mm=_point(mass.centroid_mm),
        off_axis_mm=float(np.hypot(mass.centroid_mm[0], mass.centroid_mm[1])),
        inertia_mm5=_point(np.diag(mass.inertia_mm5)),
        extent_mm=_point(high - low),
        height_mm=top - hole.diameter_mm / 2.0,
        hole_diameter_mm=hole.diameter_mm,
        hole_facet_diameter_mm=hole.facet_diameter_mm,
        hole_mean_diameter_mm=hole.mean_diameter_mm,
        hole_roundness_mm=hole.roundness_mm,
        hole_open_percent=hole.open_percent,
        hole_profile=hole.profile,
        hole_axis=hole.axis,
        hole_centre_mm=hole.centre_mm,
        head_axis=piece.placement.rotation[1],
        band_width_mm=piece.band_width_mm,
        band_thickness_mm=piece.band_thickness_mm,
        stones=tuple(stone.name for stone in piece.stones),
    )


def _remarks(piece: Piece, limits: tuple[PieceLimit, ...]) -> tuple[Remark, ...]:
    out: list[Remark] = []
    hole = piece.hole
    bound = used(limits, "hole")
    low, high = float(bound.low_mm or 0.0), float(bound.high_mm or np.inf)
    if not low <= hole.diameter_mm <= high:
        out.append(
            _said(
                Level.HEED, "hole", f"The hole measures {hole.diameter_mm:.2f} mm; no finger is so",
                hole.diameter_mm, low if hole.diameter_mm < low else high, bound.source,
                "see that the unit of the model is right",
            )
        )  # fmt: skip
    bound = used(limits, "roundness")
    if hole.roundness_mm > float(bound.heed_mm or 0.0):
        out.append(
            _said(
                Level.HEED, "roundness",
                f"The hole is out of round by {hole.roundness_mm:.2f} mm: the largest cylinder through it measures"
                f" {hole.diameter_mm:.2f} mm, its mean {hole.mean_diameter_mm:.2f} mm",
                hole.roundness_mm, bound.heed_mm, bound.source, "draw it round, or see that this shape is meant",
            )
        )  # fmt: skip
    bound = used(limits, "size-off")
    short = np.pi * (hole.diameter_mm - hole.facet_diameter_mm)
    if short > float(bound.heed_mm or 0.0):
        out.append(
            _said(
                Level.HEED, "facets",
                f"The hole is drawn in flat facets that narrow its circumference by {short:.2f} mm", short,
                bound.heed_mm, bound.source, "export the model with a finer tolerance, 0.005 mm",
            )
        )  # fmt: skip
    if hole.open_percent > 0.0:
        says = f"Over {hole.open_percent:.0f} % of its round the hole has an opening instead of metal"
        out.append(Remark("piece", Level.FINE, "opening", says, hole.open_percent, unit="%", place="inside"))
    return tuple(out)


def _size(piece: Piece, limits: tuple[PieceLimit, ...], ordered: float) -> Remark:
    """The drawn size against the ordered one, by inner circumference."""
    hole = piece.hole
    off = np.pi * (hole.diameter_mm - ordered)
    wide = "wider" if off > 0 else "narrower"
    says = f"The hole measures {hole.diameter_mm:.2f} mm, {ordered:.2f} mm are ordered"
    if piece.state is not State.FINISHED:
        says += f"; the model is drawn as {piece.state.value}, so that the two need not agree"
        return Remark("piece", Level.FINE, "size", says, hole.diameter_mm, unit="mm", place="inside")
    bound = used(limits, "size-off")
    heed, halt = float(bound.heed_mm or 0.0), float(bound.halt_mm or np.inf)
    if abs(off) <= heed:
        return Remark("piece", Level.FINE, "size", f"{says}: it fits", abs(off), heed, "mm", bound.source, "inside")
    level, limit = (Level.HALT, halt) if abs(off) > halt else (Level.HEED, heed)
    says += f": {abs(off):.2f} mm {wide} round the finger"
    change = f"draw the hole {ordered:.2f} mm wide, or change the ordered size"
    return _said(level, "size", says, abs(off), limit, bound.source, change)


def _said(level: Level, kind: str, says: str, figure: float, limit: float | None, source: str, change: str) -> Remark:
    return Remark("piece", level, kind, says, figure, limit, "mm", source, "inside", (0.0, 0.0, 0.0), change)


def _point(vector: np.ndarray) -> Point:
    return (float(vector[0]), float(vector[1]), float(vector[2]))
