"""The planes of a brilliant on any outline: table, stars, mains, halves; to the published construction of the round.

Heights in mm from the lower edge of the girdle at the mains (z = 0); its upper edge there is at z = ``girdle``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ringwright.steps.gems.outlines import Outline
from ringwright.terms.body import Floats


@dataclass(frozen=True, kw_only=True)
class Proportions:
    """Heights in mm and shares: ``table`` of the width, ``star`` and ``lower`` the lengths of stars and lower halves.

    ``fullness``: by which share the pavilion is drawn to a wider outline than the girdle's, so that it is fuller; a
    row of steep facets under the girdle then closes it to the girdle.
    """

    crown: float
    girdle: float
    pavilion: float
    table: float
    star: float
    lower: float
    fullness: float = 0.0


@dataclass
class _Planes:
    """Half-spaces as they are found: normal . x <= offset."""

    normals: list[Floats] = field(default_factory=list)
    offsets: list[float] = field(default_factory=list)

    def add(self, normal: Floats, through: Floats) -> None:
        self.normals.append(normal)
        self.offsets.append(float(normal @ through))

    def through(self, a: Floats, b: Floats, c: Floats, up: float) -> None:
        """The plane of three points whose outward normal points up (1) or down (-1)."""
        normal = np.cross(b - a, c - a)
        normal = normal / np.linalg.norm(normal)
        self.add(normal if normal[2] * up > 0 else -normal, a)


def planes(outline: Outline, p: Proportions) -> tuple[Floats, Floats]:
    """The half-spaces (normals (m, 3), offsets (m,)) of the facets that touch the half y >= 0 of the stone.

    1. A crown main through its place on the girdle, level along the outline there, and through the table's corner;
       the table is the outline of the mains, smaller about the point over the culet.
    2. A star through two corners of the table and the star's tip on the crease of two mains.
    3. Two upper halves through the star's tip, the main's place and the place between two mains.
    4. A pavilion main through its place and the culet; two lower halves from a point of the crease of two mains.

    On a circle this is the construction of the reference brilliant (Reinitz, Geurts and Gilbertson: no culet, no
    painting); on an ellipse its affine image.
    """
    centre = np.array([outline.centre, 0.0])
    mains, normals, mids = outline.mains, outline.normals, outline.mids
    corners = centre + p.table * (mains - centre)
    top = p.girdle + p.crown
    up = p.crown / np.einsum("ij,ij->i", normals, mains - corners)
    found = _Planes()
    found.add(np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, top]))
    for place, normal, steep in zip(mains, normals, up, strict=True):
        found.add(np.array([*(steep * normal), 1.0]), np.array([*place, p.girdle]))
    for k, mid in enumerate(mids):
        pair = slice(k, k + 2)
        start, along = _crease(normals[pair], mains[pair], up[pair])
        edge = _crossing(start, along, corners[k], corners[k + 1])
        rim = start + along * ((mid - start) @ along)
        tip = _beyond(centre, start, along, corners[k], normals[k], edge + p.star * (rim - edge), rim)
        tip3 = np.array([*tip, p.girdle + up[k] * (normals[k] @ (mains[k] - tip))])
        found.through(np.array([*corners[k], top]), np.array([*corners[k + 1], top]), tip3, 1.0)
        for place in mains[pair]:
            found.through(tip3, np.array([*place, p.girdle]), np.array([*mid, p.girdle]), 1.0)
    below = _pavilion(outline, centre, p)
    return np.array(found.normals + below.normals), np.array(found.offsets + below.offsets)


def _pavilion(outline: Outline, centre: Floats, p: Proportions) -> _Planes:
    """Mains to the culet and lower halves; with ``fullness`` drawn wider, and a steep row under the girdle."""
    wide = 1.0 + p.fullness
    mains, mids = centre + wide * (outline.mains - centre), centre + wide * (outline.mids - centre)
    normals = outline.normals
    down = p.pavilion / np.einsum("ij,ij->i", normals, mains - centre)
    found = _Planes()
    for place, normal, deep in zip(mains, normals, down, strict=True):
        found.add(np.array([*(deep * normal), -1.0]), np.array([*place, 0.0]))
    for k, mid in enumerate(mids):
        pair = slice(k, k + 2)
        start, along = _crease(normals[pair], mains[pair], down[pair])
        rim = start + along * ((mid - start) @ along)
        keel = centre + (1.0 - p.lower) * (rim - centre)
        keel3 = np.array([*keel, -down[k] * (normals[k] @ (mains[k] - keel))])
        for place in mains[pair]:
            found.through(keel3, np.array([*place, 0.0]), np.array([*mid, 0.0]), -1.0)
    if p.fullness <= 0:
        return found
    steep = _Planes()
    for k, mid in enumerate(outline.mids):
        for place in outline.mains[k : k + 2]:
            inner = centre + (1.0 - p.fullness) * ((place + mid) / 2 - centre)
            height = max((n[:2] @ inner - o) / -n[2] for n, o in zip(found.normals, found.offsets, strict=True))
            steep.through(np.array([*inner, height]), np.array([*place, 0.0]), np.array([*mid, 0.0]), -1.0)
    return _Planes(found.normals + steep.normals, found.offsets + steep.offsets)


def widest_table(outline: Outline) -> float:
    """The share of the width from which a table leaves no room for stars on this outline.

    Two neighbouring mains rise from the girdle towards the table's level; they reach it on their crease at the table's
    share of the way from the culet's place to where their tangents meet. A star's tip must lie lower, so farther out,
    and still inside of the girdle's place between the two.
    """
    centre = np.array([outline.centre, 0.0])
    reach = np.einsum("ij,ij->i", outline.normals, outline.mains - centre)
    shares = []
    for k, mid in enumerate(outline.mids):
        pair = slice(k, k + 2)
        meet = np.linalg.solve(outline.normals[pair], reach[pair])
        shares.append((mid - centre) @ meet / (meet @ meet))
    return float(min(shares))


_LEAST = 0.1
"""A star's tip is at least this share of the way from where it would be level with the table to the girdle."""


def _beyond(
    centre: Floats, start: Floats, along: Floats, corner: Floats, normal: Floats, tip: Floats, rim: Floats
) -> Floats:
    """The tip of a star, moved outward where a wide table would leave it as high as itself."""
    level = start + along * ((normal @ (corner - start)) / (normal @ along))
    least = level + _LEAST * (rim - level)
    far = np.linalg.norm(least - centre) > np.linalg.norm(tip - centre)
    return least if far else tip


def _crease(normals: Floats, places: Floats, slopes: Floats) -> tuple[Floats, Floats]:
    """The line seen from above in which two mains meet: a point of it, and its direction of length one."""
    rows = slopes[:, None] * normals
    heights = np.einsum("ij,ij->i", rows, places)
    across = rows[0] - rows[1]
    start = across * (heights[0] - heights[1]) / (across @ across)
    along = np.array([-across[1], across[0]]) / np.linalg.norm(across)
    return start, along


def _crossing(start: Floats, along: Floats, a: Floats, b: Floats) -> Floats:
    """Where the line crosses the line through ``a`` and ``b``."""
    shares = np.linalg.solve(np.column_stack([along, a - b]), a - start)
    crossing: Floats = start + shares[0] * along
    return crossing
