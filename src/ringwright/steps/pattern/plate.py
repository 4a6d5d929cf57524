"""How the pattern stands on the plate: every orientation of a set is judged by one cost, in minutes of the hand.

An orientation is the direction that points up from the plate. What is counted: places that begin in the air (lows of
the surface with solid above, deeper than a layer), surface too flat to stand by itself, weighed by where it lies on
the ring, hollows that hold resin or suck at the plate (lows with solid below, and the same upside down), steps
between layers on seen surfaces, and hours. All are read off the mesh itself, not off a raster of layers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringwright.science.heights import Neighbours, lows, neighbours
from ringwright.science.solids import face_areas, face_normals, volume
from ringwright.steps.pattern.solid import faces_of_hole
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.pattern import OnPrinter, PrintRuleFact, Turn
from ringwright.terms.workshop import Printer

_NO_TRIFLE = 0.01
_WORDS = {0: ("left", "right"), 1: ("bottom", "head"), 2: ("back", "front")}


@dataclass(frozen=True, eq=False)
class Surface:
    """The pattern's surface, made ready once for all orientations."""

    mesh: Mesh
    beside: Neighbours
    area: Floats
    normal: Floats
    seen: Floats
    outside: NDArray[np.bool_]
    volume_mm3: float


@dataclass(frozen=True)
class Plain:
    """What is quickly counted against an orientation; ``hand_min`` is at least so much."""

    up: tuple[float, float, float]
    overhang_mm2: float
    show_overhang_mm2: float
    stair_mm: float
    extent_mm: float
    hand_min: float


@dataclass(frozen=True)
class Hollows:
    """What begins in the air, and what holds resin or sucks."""

    islands: int
    cups: int
    deepest_cup_mm: float
    hand_min: float


def ready(mesh: Mesh, hole_diameter_mm: float, rules: PrintRuleFact) -> Surface:
    """Areas, normals and how much each triangle is seen: hole, shank or head."""
    hole = faces_of_hole(mesh, hole_diameter_mm)
    head = ~hole & (mesh.middles_mm[:, 1] > hole_diameter_mm / 2)
    weight = np.where(hole, rules.hole_weight, np.where(head, rules.head_weight, rules.shank_weight))
    return Surface(
        mesh=mesh,
        beside=neighbours(mesh),
        area=face_areas(mesh),
        normal=face_normals(mesh),
        seen=weight,
        outside=~hole,
        volume_mm3=volume(mesh),
    )


def directions() -> list[tuple[float, float, float]]:
    """The ways up that are tried: the 26 of a cube's faces, edges and corners, and tilts of 30 and 60 degrees."""
    ways = [(x, y, z) for x in (-1.0, 0.0, 1.0) for y in (-1.0, 0.0, 1.0) for z in (-1.0, 0.0, 1.0) if x or y or z]
    for tilt in (30.0, 60.0):
        s, c = math.sin(math.radians(tilt)), math.cos(math.radians(tilt))
        ways += [(0.0, y * s, z * c) for y in (-1.0, 1.0) for z in (-1.0, 1.0)]
    lengths = [math.sqrt(sum(a * a for a in w)) for w in ways]
    return [(x / n, y / n, z / n) for (x, y, z), n in zip(ways, lengths, strict=True)]


def plain(surface: Surface, up: tuple[float, float, float], layer_mm: float, rules: PrintRuleFact) -> Plain:
    """Overhang, steps and extent of one orientation on a printer of that layer."""
    u = np.array(up)
    rise = surface.normal @ u
    over = rise < -math.cos(math.radians(rules.overhang_deg)) - _NO_TRIFLE
    overhang = surface.area[over]
    slant = np.abs(rise)
    weighed = surface.area * surface.seen
    stair = float((weighed * np.where(slant < 1.0 - 1e-6, slant, 0.0)).sum()) * layer_mm / 2
    return Plain(
        up=up,
        overhang_mm2=float(overhang.sum()),
        show_overhang_mm2=float(surface.area[over & surface.outside].sum()),
        stair_mm=stair / float(weighed.sum()),
        extent_mm=float(np.ptp(surface.mesh.vertices_mm @ u)),
        hand_min=float(overhang @ surface.seen[over]) * rules.support_min_per_mm2 + stair * rules.stair_min_per_mm3,
    )


def hollows(surface: Surface, up: tuple[float, float, float], layer_mm: float, rules: PrintRuleFact) -> Hollows:
    """Islands and cups of one orientation: lows deeper than a layer with solid above, deep ones with solid below."""
    u = np.array(up)
    height = surface.mesh.vertices_mm @ u
    low, deep = lows(surface.beside, height)
    low, deep = low[deep >= layer_mm], deep[deep >= layer_mm]
    below = _leans(surface, low) @ u < 0
    islands = int(np.count_nonzero(below))
    high, tall = lows(surface.beside, -height)
    high, tall = high[tall >= rules.cup_mm], tall[tall >= rules.cup_mm]
    ceiling = _leans(surface, high) @ u < 0
    cups = np.concatenate([deep[~below], tall[ceiling]])
    cups = cups[np.isfinite(cups) & (cups >= rules.cup_mm)]
    return Hollows(
        islands=islands,
        cups=len(cups),
        deepest_cup_mm=float(cups.max()) if len(cups) else 0.0,
        hand_min=islands * rules.island_min + len(cups) * rules.cup_min,
    )


def _leans(surface: Surface, vertices: Ints) -> Floats:
    """The sum of the normals, by area, of the triangles at each of a few vertices."""
    total = np.zeros((len(vertices), 3))
    for n, vertex in enumerate(vertices):
        at = (surface.mesh.faces == vertex).any(axis=1)
        total[n] = (surface.normal[at] * surface.area[at, None]).sum(axis=0)
    return total


def laid(surface: Surface, printers: Sequence[Printer], rules: PrintRuleFact) -> tuple[OnPrinter, ...]:
    """The pattern on each printer: the cheapest orientation that fits, or the cheapest of all with ``fits`` false.

    Hollows are counted only where the quick part of the cost does not already rule an orientation out.
    """
    known: dict[tuple[tuple[float, float, float], float], Hollows] = {}
    return tuple(_on(surface, printer, rules, known) for printer in printers)


def _on(
    surface: Surface,
    printer: Printer,
    rules: PrintRuleFact,
    known: dict[tuple[tuple[float, float, float], float], Hollows],
) -> OnPrinter:
    margin = 2 * rules.plate_margin_mm
    room = (printer.plate_length_mm - margin, printer.plate_width_mm - margin)

    def least(one: Plain) -> float:
        return one.hand_min + rules.island_min + _hours(one, printer, rules) * rules.print_min_per_h

    best: tuple[bool, float, OnPrinter] | None = None
    for one in sorted((plain(surface, up, printer.layer_mm, rules) for up in directions()), key=least):
        if best is not None and not best[0] and least(one) >= best[1]:
            break
        turn, length, width = _turned(surface.mesh.vertices_mm, one.up, room)
        height = one.extent_mm + rules.support_height_mm
        fits = length <= room[0] and width <= room[1] and height <= printer.height_mm
        key = (one.up, printer.layer_mm)
        if key not in known:
            known[key] = hollows(surface, one.up, printer.layer_mm, rules)
        found = known[key]
        cost = least(one) - rules.island_min + found.hand_min
        if best is not None and (not fits, cost) >= (best[0], best[1]):
            continue
        on = OnPrinter(
            printer=printer.name,
            fits=fits,
            orientation=in_words(one.up),
            turn=turn,
            footprint_mm=(length, width),
            height_mm=height,
            layers=_layers(one, printer, rules),
            hours=_hours(one, printer, rules),
            islands=found.islands,
            overhang_mm2=one.overhang_mm2,
            show_overhang_mm2=one.show_overhang_mm2,
            stair_mm=one.stair_mm,
            cups=found.cups,
            deepest_cup_mm=found.deepest_cup_mm,
            clean_up_min=cost,
            resin_mm3=surface.volume_mm3,
        )
        best = (not fits, cost, on)
    assert best is not None
    return best[2]


def _layers(one: Plain, printer: Printer, rules: PrintRuleFact) -> int:
    return math.ceil((one.extent_mm + rules.support_height_mm) / printer.layer_mm - 1e-9)


def _hours(one: Plain, printer: Printer, rules: PrintRuleFact) -> float:
    return _layers(one, printer, rules) * printer.layer_s / 3600.0


def _turned(points: Floats, up: tuple[float, float, float], room: tuple[float, float]) -> tuple[Turn, float, float]:
    """The rotation that brings ``up`` to z, turned about z so that the print lies best on its plate."""
    base = upright(up)
    flat = np.ascontiguousarray((points @ base.T)[:, :2].T)
    best: tuple[float, Floats, float, float] | None = None
    for degrees in range(0, 180, 15):
        a = math.radians(degrees)
        spin = np.array([[math.cos(a), -math.sin(a), 0.0], [math.sin(a), math.cos(a), 0.0], [0.0, 0.0, 1.0]])
        length, width = (float(np.ptp(row)) for row in spin[:2, :2] @ flat)
        over = max(length - room[0], width - room[1])
        if best is None or over < best[0]:
            best = (over, spin @ base, length, width)
    assert best is not None
    x, y, z = ((float(a), float(b), float(c)) for a, b, c in best[1])
    return (x, y, z), best[2], best[3]


def upright(up: tuple[float, float, float]) -> Floats:
    """A rotation that brings the unit direction ``up`` to z."""
    z = np.array(up)
    x = np.cross((0.0, 1.0, 0.0) if abs(z[1]) < 0.9 else (1.0, 0.0, 0.0), z)
    x /= np.linalg.norm(x)
    return np.array([x, np.cross(z, x), z])


def in_words(up: tuple[float, float, float]) -> str:
    """What points up from the plate, in words: "head up", "front and head up, by equal parts" …"""
    parts = sorted(((abs(a), _WORDS[i][a > 0]) for i, a in enumerate(up) if abs(a) > 1e-6), reverse=True)
    if len(parts) == 1:
        lying = " (the ring lies flat)" if parts[0][1] in _WORDS[2] else " (the ring stands)"
        return f"{parts[0][1]} up{lying}"
    first = math.degrees(math.acos(min(1.0, parts[0][0])))
    return f"{parts[0][1]} up, tilted {first:.0f}° to the {' and '.join(word for _, word in parts[1:])}"
