"""From a heap of triangles to closed shells that face outward, with every change told."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ringwright.science import mending, solids
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import BadInput, bad

KEEP_TRIANGLES = 400_000
"""Above this a body is thinned out: no later step gains from more, and each would take ten times as long."""
JOIN_MM = 0.002
"""Open edges this near are the same edge: 32-bit coordinates and a printer's finest step are both of this order."""
PINHOLE_MM2 = 0.05
"""Largest opening that is closed unasked: a quarter of a millimetre across, the size of a slip in a modeller."""
FLAT_MM = 0.01
"""How far from flat such an opening may be."""


@dataclass
class Mends:
    """What was mended, counted over all bodies."""

    joined: int = 0
    flat: int = 0
    double: int = 0
    turned: int = 0
    apart: int = 0
    pinholes: int = 0
    largest_mm2: float = 0.0
    inside_out: int = 0
    thinned_from: int = 0
    thinned_to: int = 0
    thinned_percent: float | None = None
    buried: int = 0
    united: int = 0
    united_mm3: float = 0.0
    was_open: bool = False
    said: list[str] = field(default_factory=list)

    def add(self, other: Mends) -> None:
        """Count what ``other`` counted."""
        self.joined += other.joined
        self.flat += other.flat
        self.double += other.double
        self.turned += other.turned
        self.apart += other.apart
        self.pinholes += other.pinholes
        self.largest_mm2 = max(self.largest_mm2, other.largest_mm2)
        self.was_open |= other.was_open

    def sentences(self) -> tuple[str, ...]:
        """All of it in plain words."""
        out: list[str] = []
        if self.thinned_from:
            change = "" if self.thinned_percent is None else f", volume changed by {self.thinned_percent:+.3f} %"
            out.append(f"thinned out from {self.thinned_from:,} to {self.thinned_to:,} triangles{change}")
        if self.joined:
            out.append(f"{_many(self.joined, 'vertex', 'vertices')} of open edges joined within {JOIN_MM} mm")
        if self.flat:
            out.append(f"{_many(self.flat, 'triangle')} without area dropped")
        if self.double:
            out.append(f"{_many(self.double, 'double triangle')} dropped")
        if self.turned:
            out.append(f"{_many(self.turned, 'triangle')} wound the wrong way turned round")
        if self.apart:
            out.append(f"{_many(self.apart, 'vertex', 'vertices')} split where parts only touch")
        if self.pinholes:
            out.append(f"{_many(self.pinholes, 'pinhole')} closed, the largest {self.largest_mm2:.3f} mm2")
        if self.inside_out:
            out.append(f"{_many(self.inside_out, 'shell')} that faced inward turned inside out")
        if self.buried:
            out.append(f"{_many(self.buried, 'shell')} wholly inside the metal left out")
        if self.united:
            out.append(f"{self.united} overlapping shells united; {self.united_mm3:.2f} mm3 would have counted twice")
        return (*out, *self.said)

    @property
    def shape_changed(self) -> bool:
        """Whether more than the bookkeeping of the mesh changed."""
        return bool(self.thinned_from or self.joined or self.pinholes or self.buried or self.united or self.said)


def _many(count: int, one: str, more: str = "") -> str:
    return f"1 {one}" if count == 1 else f"{count:,} {more or one + 's'}"


class Open(Exception):
    """A surface that does not close. Kept inside this package: several such bodies may close one another."""

    def __init__(self, fault: BadInput) -> None:
        super().__init__(str(fault))
        self.fault = fault


def thinned(vertices: Floats, faces: Ints, mends: Mends, keep: int) -> tuple[Floats, Ints]:
    """At most ``keep`` triangles, by collapsing the edges that bend the surface least (quadric errors)."""
    if len(faces) <= keep:
        return vertices, faces
    import fast_simplification

    before = Mesh(vertices, faces)
    points, triangles = fast_simplification.simplify(vertices, faces, target_count=keep)[:2]
    after = Mesh(np.asarray(points, dtype=np.float64), np.asarray(triangles, dtype=np.int64))
    mends.thinned_from += len(faces)
    mends.thinned_to += len(after.faces)
    if solids.is_closed(before):
        mends.thinned_percent = 100.0 * (solids.volume(after) / solids.volume(before) - 1.0)
    return after.vertices_mm, after.faces


def closed(vertices: Floats, faces: Ints, mends: Mends, where: str) -> tuple[Mesh, bool]:
    """The closed surface, and whether it was wound one way as drawn.

    Raises :class:`Open` where an opening stays, :class:`BadInput` for a surface with one side only.
    """
    vertices, faces = mending.welded(vertices, faces)
    faces, flat, double = mending.without_spoiled(faces)
    if not len(faces):
        raise bad(where, "all its triangles are without area", "export a solid body")
    pairs = mending.pair(vertices, faces)
    if pairs.open:
        vertices, faces, joined = mending.welded_within(vertices, faces, JOIN_MM)
        faces, more_flat, more_double = mending.without_spoiled(faces)
        flat, double = flat + more_flat, double + more_double
        pairs = mending.pair(vertices, faces)
        mends.joined += joined
    turned_faces, turned, two_sided = mending.wound_one_way(faces, pairs)
    if not two_sided:
        raise bad(where, "its surface has one side only, so that it encloses nothing", "model a solid body")
    faces = turned_faces
    if pairs.open:
        mends.was_open = True
        faces, vertices = _filled(vertices, faces, mends, where)
    pairs = mending.pair(vertices, faces)
    vertices, faces, apart = mending.cut_apart(vertices, faces, pairs)
    mends.flat += flat
    mends.double += double
    mends.turned += turned
    mends.apart += apart
    return Mesh(vertices, faces), turned == 0


def _filled(vertices: Floats, faces: Ints, mends: Mends, where: str) -> tuple[Ints, Floats]:
    """The faces with pinholes closed. Raises :class:`Open` if a larger opening is there."""
    vertices, faces, _ = mending.cut_apart(vertices, faces, mending.pair(vertices, faces))
    pairs = mending.pair(vertices, faces)
    loops = mending.openings(vertices, faces, pairs)
    right = "close it in the modeller: a solid has no edge where its surface ends"
    if loops is None:
        raise Open(bad(where, f"its surface is open along {pairs.open:,} edges", right))
    large = [one for one in loops if one.area > PINHOLE_MM2 or one.bulge > FLAT_MM]
    if large:
        x, y, z = large[0].middle
        what = f"its surface has {_many(len(large), 'opening')}"
        raise Open(
            bad(where, f"{what}, the largest {large[0].size:.2f} mm across near ({x:.2f}, {y:.2f}, {z:.2f})", right)
        )
    mends.pinholes += len(loops)
    mends.largest_mm2 = max([mends.largest_mm2, *(one.area for one in loops)])
    return np.concatenate([faces, *(one.faces for one in loops)]), vertices


@dataclass(frozen=True, eq=False)
class Shell:
    """A closed shell that faces outward, with the hollows inside it (each facing outward too)."""

    mesh: Mesh
    hollows: tuple[Mesh, ...] = ()


def faced(mesh: Mesh, mends: Mends, *, as_drawn: bool) -> list[Shell]:
    """The shells of a closed surface, outward, each with its hollows.

    A shell inside another is a hollow if it is wound against it; where winding could not be trusted
    (``as_drawn`` false), every second shell inward is. A shell wound alike inside another is metal twice over.
    """
    parts = [part for part in solids.shells(mesh) if solids.volume(part) != 0.0]
    sign = [1 if solids.volume(part) > 0 else -1 for part in parts]
    outward = [part if s > 0 else solids.reversed_faces(part) for part, s in zip(parts, sign, strict=True)]
    around = _around(outward)
    out: list[Shell] = []
    hollows: dict[int, list[Mesh]] = {}
    outer: list[int] = []
    for k, holders in enumerate(around):
        top = max(holders, key=lambda h: solids.volume(outward[h]), default=None)
        if top is None:
            outer.append(k)
            mends.inside_out += sign[k] < 0
        elif sign[k] != sign[top] if as_drawn else len(holders) % 2 == 1:
            hollows.setdefault(top, []).append(outward[k])
        elif len(holders) > 1:  # a body inside a hollow
            outer.append(k)
        else:
            mends.buried += 1
    for k in outer:
        out.append(Shell(outward[k], tuple(hollows.get(k, ()))))
    return out


def _around(parts: list[Mesh]) -> list[list[int]]:
    """For each shell, the shells that hold it wholly (20 of its vertices are tried)."""
    import igl

    boxes = [solids.bounds(part) for part in parts]
    holders: list[list[int]] = []
    for k, part in enumerate(parts):
        found = []
        for h, other in enumerate(parts):
            if h == k or not (np.all(boxes[h][0] <= boxes[k][0]) and np.all(boxes[h][1] >= boxes[k][1])):
                continue
            tried = part.vertices_mm[:: max(len(part.vertices_mm) // 20, 1)]
            turns = igl.winding_number(np.array(other.vertices_mm), np.array(other.faces), np.array(tried))
            if np.all(np.abs(turns) > 0.5):
                found.append(h)
        holders.append(found)
    return holders
