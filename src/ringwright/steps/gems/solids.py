"""From a stone's brief to its closed solid in its own frame."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science import polyhedra
from ringwright.science.polyhedra import Polyhedron
from ringwright.steps.gems import brilliant, outlines, stepped
from ringwright.steps.gems.cabochon import cabochon, dome_deg
from ringwright.steps.gems.check import measured
from ringwright.steps.gems.corners import corners_of
from ringwright.steps.gems.outlines import Outline
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.commission import StoneBrief
from ringwright.terms.gems import CutFact, CutRisk, CutSolid, Family
from ringwright.terms.mistake import bad

_NEAR = 1e-9
"""Vertices nearer than this share of the width to a plane lie on it."""


@dataclass(frozen=True, kw_only=True)
class Size:
    """A stone's measures in mm; ``table`` is a share of ``base``, the width (of a round: the mean diameter)."""

    length: float
    width: float
    base: float
    table: float | None
    girdle: float
    crown: float
    pavilion: float
    assumed: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Shape:
    """A solid with z = 0 at the girdle's lower edge, and its half-spaces where it has some."""

    solid: Polyhedron
    half: Floats
    normals: Floats
    offsets: Floats
    centre: float
    crown_deg: float
    pavilion_deg: float


def shape(stone: StoneBrief, cuts: Iterable[CutFact], risks: Iterable[CutRisk] = ()) -> CutSolid:
    """The closed solid of a stone, to its measured length, width, depth, table and girdle.

    What is not measured is taken as usual for the cut and named in ``assumed``. Without ``risks`` the solid has no
    corners. Raises :class:`~ringwright.terms.mistake.BadInput` for sizes that no such stone can have.
    """
    fact = measured(stone, cuts)
    size = sized(stone, fact)
    _table_fits(stone, fact, size)
    made = _MAKERS[fact.family](fact, size)
    solid = made.solid.moved((1.0, 1.0, 1.0), (0.0, 0.0, -size.girdle / 2))
    half_top, half_bottom = _girdle(made, size)
    outline = outlines.mirrored(made.half)
    top = np.concatenate([half_top, half_top[-2:0:-1]]) - size.girdle / 2
    bottom = np.concatenate([half_bottom, half_bottom[-2:0:-1]]) - size.girdle / 2
    thick = np.maximum(top - bottom, 0.0)
    steps = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
    mean = float((steps * (thick + np.roll(thick, -1)) / 2).sum() / steps.sum())
    upward = solid.normals()[:, 2]
    domed = fact.family is Family.CABOCHON
    table = (
        np.empty((0, 2)) if domed else solid.vertices[list(solid.faces[int(np.argmax(_level(solid, upward)))])][:, :2]
    )
    return CutSolid(
        name=stone.name,
        cut=fact.key,
        mesh=Mesh(solid.vertices, polyhedra.triangles(solid)),
        volume_mm3=solid.volume,
        outline_mm=outline,
        girdle_top_mm=top,
        girdle_bottom_mm=bottom,
        table_mm=table,
        edges=_edges(solid, upward, domed),
        facets=2 if domed else int((np.abs(upward) > 1e-6).sum()),
        table_z_mm=float(solid.vertices[:, 2].max()),
        culet_z_mm=float(solid.vertices[:, 2].min()),
        culet_at_mm=(made.centre, 0.0),
        crown_height_mm=size.crown,
        pavilion_depth_mm=size.pavilion,
        girdle_thickest_mm=float(thick.max()),
        girdle_thinnest_mm=float(thick.min()),
        girdle_mean_mm=mean,
        table_percent=None if size.table is None else 100 * size.table,
        girdle_percent=100 * size.girdle / size.base,
        crown_deg=made.crown_deg,
        pavilion_deg=made.pavilion_deg,
        assumed=size.assumed,
        corners=corners_of(fact, outline, risks),
    )


def _table_fits(stone: StoneBrief, fact: CutFact, size: Size) -> None:
    """Refuse a table so wide that no crown of that cut has room beside it."""
    if fact.family is not Family.BRILLIANT or size.table is None:
        return
    widest = 0.99 * brilliant.widest_table(_outline(fact, size))
    if size.table > widest:
        raise bad(
            f"stone '{stone.name}', table",
            f"a table of {100 * size.table:.0f} % leaves no room for the crown of this {fact.title}",
            f"up to {100 * widest:.0f} %, usually {fact.table_min_percent:g} to {fact.table_max_percent:g} %",
        )


def sized(stone: StoneBrief, fact: CutFact) -> Size:
    """The measures, with what was not measured taken as usual for the cut.

    The girdle is taken off the measured depth; crown and pavilion share the rest as they do in the usual stone of
    that cut with the same table.
    """
    length = stone.length_mm
    width = stone.width_mm if stone.width_mm is not None else length
    base = width_of(stone, fact)
    assumed = ["girdle"] if stone.girdle_percent is None else []
    girdle = (fact.girdle_percent if stone.girdle_percent is None else stone.girdle_percent) / 100 * base
    if fact.table_percent is None:
        return Size(
            length=length,
            width=width,
            base=base,
            table=None,
            girdle=girdle,
            crown=stone.depth_mm - girdle,
            pavilion=0.0,
            assumed=tuple(assumed),
        )
    if stone.table_percent is None:
        assumed.append("table")
    table = (fact.table_percent if stone.table_percent is None else stone.table_percent) / 100
    crown, pavilion = usual_heights(fact, table)
    rest = stone.depth_mm - girdle
    share = crown / (crown + pavilion)
    return Size(
        length=length,
        width=width,
        base=base,
        table=table,
        girdle=girdle,
        crown=rest * share,
        pavilion=rest * (1 - share),
        assumed=(*assumed, "crown and pavilion"),
    )


def width_of(stone: StoneBrief, fact: CutFact) -> float:
    """What percents of a stone are of: the mean diameter of a round, the shorter side of a step cut, else the width."""
    width = stone.width_mm if stone.width_mm is not None else stone.length_mm
    if fact.outline == "round":
        return (stone.length_mm + width) / 2
    return min(stone.length_mm, width) if fact.family is Family.STEP else width


def usual_heights(fact: CutFact, table: float) -> tuple[float, float]:
    """Crown height and pavilion depth of the usual stone of a cut, as shares of the width; the crown angle is kept."""
    if fact.crown_deg is not None:
        crown = (1 - table) / 2 * math.tan(math.radians(fact.crown_deg))
    else:
        crown = (fact.crown_percent or 0.0) / 100 * (1 - table) / (1 - (fact.table_percent or 0.0) / 100)
    return crown, (fact.pavilion_percent or 0.0) / 100


def _brilliant(fact: CutFact, size: Size) -> _Shape:
    outline = _outline(fact, size)
    fullness = (fact.fullness_percent or 0.0) / 100
    table = size.table or 0.0
    normals, offsets = brilliant.planes(
        outline,
        brilliant.Proportions(
            crown=size.crown,
            girdle=size.girdle,
            pavilion=size.pavilion,
            table=table,
            star=(fact.star_percent or 0.0) / 100,
            lower=(fact.lower_half_percent or 0.0) / 100,
            fullness=fullness,
        ),
    )
    return _Shape(
        _faceted(outline.points, normals, offsets, size),
        outline.points,
        normals,
        offsets,
        outline.centre,
        math.degrees(math.atan2(size.crown, (1 - table) * size.base / 2)),
        math.degrees(math.atan2(size.pavilion, (1 + fullness) * size.base / 2)),
    )


def _outline(fact: CutFact, size: Size) -> Outline:
    """The exact outline of a brilliant."""
    length, width = size.length, size.width
    match fact.outline:
        case "marquise":
            return outlines.marquise(length, width)
        case "pear":
            return outlines.pear(length, width)
        case "heart":
            return outlines.heart(length, width, (fact.cleft_percent or 0.0) / 100 * length)
        case "cushion":
            corner, bulge = (fact.corner_percent or 0.0) / 100, (fact.bulge_percent or 0.0) / 100
            return outlines.cushion(length, width, corner * width, bulge * width)
        case _:
            return outlines.ellipse(length, width)


def _step(fact: CutFact, size: Size) -> _Shape:
    half = outlines.rectangle(size.length, size.width, (fact.corner_percent or 0.0) / 100 * size.base)
    crown, pavilion = _profiles(fact, size)
    normals, offsets = stepped.step_planes(half, size.girdle, crown, pavilion)
    return _stepped(half, normals, offsets, size, crown, pavilion)


def _chevron(fact: CutFact, size: Size) -> _Shape:
    half = outlines.rectangle(size.length, size.width, 0.0)
    crown, pavilion = _profiles(fact, size)
    ridge = (fact.ridge_percent or 0.0) / 100
    normals, offsets = stepped.princess_planes(size.length, size.width, size.girdle, crown, pavilion, ridge)
    return _stepped(half, normals, offsets, size, crown, pavilion)


def _profiles(fact: CutFact, size: Size) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """The steps of the crown and of the pavilion on the width."""
    run = (1 - (size.table or 0.0)) * size.base / 2
    crown = stepped.profile(fact.crown_steps_deg, [1.0] * len(fact.crown_steps_deg), run, size.crown)
    insets = fact.insets or (1.0,) * len(fact.pavilion_steps_deg)
    return crown, stepped.profile(fact.pavilion_steps_deg, insets, size.base / 2, size.pavilion)


def _stepped(
    half: Floats,
    normals: Floats,
    offsets: Floats,
    size: Size,
    crown: Sequence[tuple[float, float]],
    pavilion: Sequence[tuple[float, float]],
) -> _Shape:
    """The solid of a cut with straight sides; its angles are those of the steps at the girdle."""
    return _Shape(
        _faceted(half, normals, offsets, size),
        half,
        normals,
        offsets,
        0.0,
        math.degrees(math.atan2(crown[1][1], crown[1][0])),
        math.degrees(math.atan2(pavilion[1][1], pavilion[1][0])),
    )


def _cabochon(fact: CutFact, size: Size) -> _Shape:
    half = outlines.ellipse(size.length, size.width).points
    fullness = (fact.fullness_percent or 100.0) / 100
    solid = cabochon(outlines.mirrored(half), size.girdle, size.crown, fullness)
    none = np.empty((0, 3))
    return _Shape(solid, half, none, np.empty(0), 0.0, dome_deg(size.crown, size.width / 2, fullness), pavilion_deg=0.0)


_MAKERS = {
    Family.BRILLIANT: _brilliant,
    Family.STEP: _step,
    Family.CHEVRON: _chevron,
    Family.CABOCHON: _cabochon,
}


def _faceted(half: Floats, normals: Floats, offsets: Floats, size: Size) -> Polyhedron:
    """The prism over half the outline, cut by the planes, and doubled."""
    tolerance = _NEAR * size.width
    room = size.crown + size.pavilion + size.width
    block = polyhedra.prism(half, -room, size.girdle + room)
    return polyhedra.doubled(polyhedra.cut(block, normals, offsets, tolerance), tolerance)


def _girdle(made: _Shape, size: Size) -> tuple[Floats, Floats]:
    """Heights of the girdle's upper and lower edge at the points of the half outline."""
    if not len(made.offsets):
        return np.full(len(made.half), size.girdle), np.zeros(len(made.half))
    reach = made.offsets[:, None] - made.normals[:, :2] @ made.half.T
    slope = made.normals[:, 2]
    top: Floats = (reach[slope > 0] / slope[slope > 0, None]).min(axis=0)
    bottom: Floats = (reach[slope < 0] / slope[slope < 0, None]).max(axis=0)
    return top, bottom


def _level(solid: Polyhedron, upward: Floats) -> Floats:
    """Height of each level upward face, minus infinity for the others."""
    return np.array(
        [
            solid.vertices[face[0], 2] if up > 1 - 1e-12 else -np.inf
            for face, up in zip(solid.faces, upward, strict=True)
        ]
    )


def _edges(solid: Polyhedron, upward: Floats, domed: bool) -> Ints:
    """The edges of facets, not those between two walls of the girdle nor those inside a dome."""
    wall = np.abs(upward) < 1e-6
    kind = np.where(wall, 1, np.where(upward > 0, 2, 3)) if domed else wall.astype(int)
    of: dict[tuple[int, int], list[int]] = {}
    for number, face in enumerate(solid.faces):
        for a, b in zip(face, face[1:] + face[:1], strict=True):
            of.setdefault((min(a, b), max(a, b)), []).append(number)
    sharp = [
        edge
        for edge, (first, second) in of.items()
        if (kind[first] != kind[second] if domed else not (kind[first] and kind[second]))
    ]
    return np.array(sharp, dtype=np.int64).reshape(-1, 2)
