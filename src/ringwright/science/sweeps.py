"""Closed solids built directly: swept round an axis, turned on it, extruded from an outline.

Every vertex lies on the surface that is meant; the flat faces between them cut the corners. All are wound outward.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringwright.science import solids
from ringwright.terms.body import Floats, Mesh
from ringwright.terms.mistake import ComputingFault


def turns(count: int, start_rad: float = 0.0) -> Floats:
    """``count`` equal angles round a full turn, in rad."""
    return np.asarray(start_rad + np.arange(count) * (2.0 * np.pi / count), dtype=np.float64)


def swept_round(angles_rad: Floats, sections_mm: Floats) -> Mesh:
    """A ring about the z axis: at each angle a closed section (r, z), the sections joined in a closed loop.

    ``sections_mm`` is (n, m, 2): n angles, m points of the outline, the same corner at the same index. The outline may
    run either way round. The vertex of point k at angle j has the index ``j m + k``.
    """
    n, m, _ = sections_mm.shape
    r, z = sections_mm[:, :, 0], sections_mm[:, :, 1]
    angles = np.asarray(angles_rad)[:, None]
    vertices = np.stack([r * np.cos(angles), r * np.sin(angles), z], axis=-1).reshape(-1, 3)
    j, k = np.meshgrid(np.arange(n), np.arange(m), indexing="ij")
    here, along = j * m + k, j * m + (k + 1) % m
    there, across = (j + 1) % n * m + k, (j + 1) % n * m + (k + 1) % m
    faces = np.concatenate(
        [np.stack([here, there, across], -1).reshape(-1, 3), np.stack([here, across, along], -1).reshape(-1, 3)]
    )
    return _outward(Mesh(vertices, faces))


def revolved(section_mm: Floats, count: int) -> Mesh:
    """One closed section (m, 2) of (r, z), r > 0, taken round the z axis in ``count`` steps."""
    section = np.asarray(section_mm, dtype=np.float64)
    return swept_round(turns(count), np.broadcast_to(section, (count, *section.shape)))


def turned(profile_mm: Floats, count: int) -> Mesh:
    """A solid of revolution about z whose profile (m, 2) of (r, z) begins and ends on the axis (r = 0)."""
    profile = np.asarray(profile_mm, dtype=np.float64)
    inner = profile[1:-1]
    angles = turns(count)[:, None]
    r, z = inner[:, 0], inner[:, 1]
    rings = np.stack([r * np.cos(angles), r * np.sin(angles), np.broadcast_to(z, (count, len(z)))], axis=-1)
    m = len(inner)
    first, last = count * m, count * m + 1
    vertices = np.concatenate([rings.reshape(-1, 3), [[0.0, 0.0, profile[0, 1]], [0.0, 0.0, profile[-1, 1]]]])
    j = np.arange(count)
    on = (j + 1) % count
    caps = [
        np.stack([np.full(count, first), on * m, j * m], -1),
        np.stack([np.full(count, last), j * m + m - 1, on * m + m - 1], -1),
    ]
    jj, kk = np.meshgrid(j, np.arange(m - 1), indexing="ij")
    here, along = jj * m + kk, jj * m + kk + 1
    there, across = (jj + 1) % count * m + kk, (jj + 1) % count * m + kk + 1
    sides = [np.stack([here, there, across], -1).reshape(-1, 3), np.stack([here, across, along], -1).reshape(-1, 3)]
    return _outward(Mesh(vertices, np.concatenate([*caps, *sides])))


def rod(start_mm: Sequence[float], end_mm: Sequence[float], radius_mm: float, count: int, end_radius_mm: float) -> Mesh:
    """A round rod from ``start`` to ``end``: flat at the start, at the end a half ball that reaches to ``end``.

    Its radius runs evenly from ``radius_mm`` to ``end_radius_mm`` at the foot of the half ball.
    """
    start, end = np.asarray(start_mm, dtype=np.float64), np.asarray(end_mm, dtype=np.float64)
    length = float(np.linalg.norm(end - start))
    steps = max(count // 4, 4)
    bow = np.linspace(0.0, np.pi / 2.0, steps + 1)[:-1]
    foot = length - end_radius_mm
    profile = [(0.0, 0.0), (radius_mm, 0.0)]
    profile += [(end_radius_mm * np.cos(t), foot + end_radius_mm * np.sin(t)) for t in bow]
    profile += [(0.0, length)]
    upright = turned(np.array(profile), count)
    return upright.moved(turn_to(end - start), start)


def prism(outline_mm: Floats, low_mm: float, high_mm: float, holes_mm: Sequence[Floats] = ()) -> Mesh:
    """An outline (n, 2) of (x, y), less holes, extruded along z from ``low`` to ``high``."""
    import manifold3d

    area = manifold3d.CrossSection([np.asarray(outline_mm, dtype=np.float64)], manifold3d.FillRule.NonZero)
    for hole in holes_mm:
        area -= manifold3d.CrossSection([np.asarray(hole, dtype=np.float64)], manifold3d.FillRule.NonZero)
    solid = manifold3d.Manifold.extrude(area, high_mm - low_mm)
    mesh = solids.from_manifold(solid)
    return mesh.moved(np.eye(3), np.array([0.0, 0.0, low_mm]))


def widened(outline_mm: Floats, by_mm: float, arc_mm: float = 0.002) -> Floats:
    """A simple outline moved outward (inward if negative) by a distance, with round corners.

    ``arc_mm`` is how far the chords of a round corner may fall short of it.
    """
    import shapely

    ring = shapely.Polygon(np.asarray(outline_mm, dtype=np.float64))
    quarter = 8 if by_mm == 0 else max(8, int(np.ceil(np.pi / 4.0 / np.sqrt(2.0 * arc_mm / max(abs(by_mm), arc_mm)))))
    moved = ring.buffer(by_mm, quad_segs=quarter)
    if moved.is_empty or moved.geom_type != "Polygon":
        raise ComputingFault(f"an outline moved by {by_mm:.3f} mm is no single outline any more")
    points: Floats = np.asarray(moved.exterior.coords, dtype=np.float64)[:-1]
    return points if shapely.is_ccw(moved.exterior) else points[::-1]


def turn_to(direction: Floats) -> Floats:
    """A rotation (3, 3) that takes z to ``direction``; the same direction gives the same rotation."""
    z = np.asarray(direction, dtype=np.float64)
    z = z / np.linalg.norm(z)
    helper = np.eye(3)[int(np.argmin(np.abs(z)))]
    x = np.cross(helper, z)
    x /= np.linalg.norm(x)
    rotation: Floats = np.stack([x, np.cross(z, x), z], axis=1)
    return rotation


def _outward(mesh: Mesh) -> Mesh:
    return mesh if solids.volume(mesh) >= 0 else solids.reversed_faces(mesh)
