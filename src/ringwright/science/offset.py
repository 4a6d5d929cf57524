"""A solid grown outward by an amount that may differ from place to place and from direction to direction.

The surface of the grown solid is the level zero of a function of each point's distance from the mesh, its nearest
point and the direction from there ("distance less amount", in the plainest case), on a grid of cells; in the cells
that matter the distance is that to the triangles themselves. The level is read by marching cubes. With a plain amount
convex edges become round and concave ones stay sharp within a cell; what overlaps is merged, so the result is closed
whatever the shape.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit

from ringwright.science.distance import between_cells
from ringwright.science.slabs import in_slabs
from ringwright.science.solids import face_normals, reversed_faces, volume
from ringwright.science.surface import nearest_on, surface
from ringwright.science.voxels import fill
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import bad

_BESIDE = 2e-3
Level = Callable[[Floats, Floats, Ints, Floats, Floats], Floats]
"""From points (n, 3), their nearest points (n, 3) on the mesh and the triangles (n,) that hold them, outward unit
directions (n, 3) and distances (n,), below 0 inside: a level in mm, below 0 in the grown solid, whose slope along the
direction is about 1."""


def grown(mesh: Mesh, level: Level, most_mm: float, h_mm: float) -> Mesh:
    """The mesh grown outward to the level zero, nowhere farther out than ``most_mm``; read on cells of ``h_mm``.

    On smooth surfaces the error is about h^2 / (8 R) with R the radius of curvature. Raises ``BadInput`` for a mesh
    that is not closed.
    """
    from skimage.measure import marching_cubes

    if most_mm < 0:
        raise bad("stock", f"{most_mm} mm would shrink the solid", "give 0 mm or more")
    grid = fill(mesh, h_mm, int(np.ceil(most_mm / h_mm)) + 3)
    # Marching cubes reads the cells within one of the level; the cells' own distances are known to within 0.87 of one.
    reach = 2.0 * h_mm
    heights = between_cells(~grid.inside, h_mm).astype(np.float64)
    heights -= between_cells(grid.inside, h_mm)
    cells = np.argwhere((heights > -reach) & (heights < most_mm + reach))
    centres = grid.centres_of(cells)
    away, which = surface(mesh).nearest(centres, most_mm + 4.0 * reach)
    near = which >= 0
    cells, centres, away, which = cells[near], centres[near], away[near], which[near]
    at = np.empty_like(centres)
    corners = mesh.corners_mm
    in_slabs(_foot_slab, len(centres), np.ascontiguousarray(centres), np.ascontiguousarray(corners), which, at)
    inside = grid.inside[tuple(cells.T)]
    direction = np.where(inside[:, None], at - centres, centres - at)
    length = np.linalg.norm(direction, axis=1)
    flat = length < 1e-9
    direction[flat] = face_normals(mesh)[which[flat]]
    length[flat] = 1.0
    distance = np.where(inside, -away, away)
    height = level(centres, at, which, direction / length[:, None], distance)
    # A cell whose centre lies on the surface would give triangles of no area: it is put beside it by next to nothing.
    least = _BESIDE * h_mm
    heights[tuple(cells.T)] = np.where(np.abs(height) < least, np.copysign(least, height), height)
    corner = np.array(grid.origin_mm) + 0.5 * h_mm
    read: Any = marching_cubes
    vertices, faces, _, _ = read(heights, 0.0, spacing=(h_mm, h_mm, h_mm))
    solid = Mesh(vertices.astype(np.float64) + corner, faces.astype(np.int64))
    return solid if volume(solid) > 0 else reversed_faces(solid)


@njit(cache=True, nogil=True)
def _foot_slab(start: int, stop: int, points: Floats, corners: Floats, which: Ints, at: Floats) -> None:
    """The nearest point of its triangle for every point."""
    for n in range(start, stop):
        x, y, z = nearest_on(corners, which[n], points[n, 0], points[n, 1], points[n, 2])
        at[n, 0] = x
        at[n, 1] = y
        at[n, 2] = z
