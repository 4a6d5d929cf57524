"""How thick a solid is, and how wide the gaps about it are: the largest ball that fits.

On cells (:func:`on_cells`): the thickness at a place is the diameter of the largest ball within the solid that holds
the place (Hildebrand & Rüegsegger, J. Microscopy 185, 1997). Balls that lie within a neighbour's ball are left out, the
others are painted about the middle of the wall, which lies between two cells as a rule.

On vertices (:func:`at_vertices`): the largest ball that touches the vertex from inside, or for the gap from outside.
A ball through the vertex p with its centre on the line along m (the normal, turned inward) passes through q when its
diameter is |q - p|^2 / (m . (q - p)); the least of this over the surface is the answer, found in the tree of boxes.
Only walls that oppose the vertex count. A ball that touches at p and q sees q under the angle b from m at p, and the
wall at q has turned by 2 b from that at p: q must lie in a cone of half-angle ``cone_deg`` about m, and the wall
there must have turned by no more than twice that. So the facets of one skin and the sides of a right corner are not
walls of each other, and the two sides of a knife edge sharper than 2 b are.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from ringwright.science.distance import Indices, Singles, nearest_cells
from ringwright.science.slabs import CORES, in_slabs
from ringwright.science.surface import Surface, away2, nearest_on, surface
from ringwright.science.voxels import Grid
from ringwright.terms.body import Floats, Ints, Mesh

CONE_DEG = 40.0
"""Half-angle of the cone: walls that meet at less than 80 degrees are one wall, those at a right corner are not."""


FINE = 0.995
"""A ball that is less than half a percent smaller is not looked for."""

SLACK = np.float32(0.15)
"""In cells: a ball that reaches no more than this out of a neighbour's is left out.

Balls are painted this much larger, and by what the balls with their middles between the cells would add.
"""


def on_cells(mesh: Mesh, grid: Grid) -> Singles:
    """The thickness in mm at every cell of ``grid`` (of the same mesh): 0 outside the solid."""
    best, which, corners = nearest_cells(mesh, grid, 0.0)
    depth = np.where(grid.inside, np.sqrt(best), np.float32(0))
    nx = depth.shape[0]
    balls = np.concatenate(in_slabs(_ridge_slab, nx, depth, which, corners))
    out = np.zeros(depth.shape, np.float32)
    if len(balls):
        balls = balls[np.argsort(balls[:, 3], kind="stable")]
        in_slabs(_paint_slab, nx, balls, out, bounds=_even(balls, nx))
    in_slabs(_finish_slab, nx, depth, np.float32(2 * grid.h_mm), out)
    return out


def _even(balls: Singles, nx: int) -> tuple[int, ...]:
    """Slabs in x with about the same number of balls."""
    if CORES < 2 or nx < 2 * CORES:
        return ()
    x = np.sort(balls[:, 0]).astype(np.int64)
    return tuple(int(c) for c in np.unique(np.clip(x[(len(x) * np.arange(1, CORES)) // CORES], 1, nx - 1)))


@njit(cache=True, nogil=True)
def _within_a_neighbours(depth: Singles, root: Singles, i: int, j: int, k: int) -> bool:
    nx, ny, nz = depth.shape
    for p in range(max(0, i - 1), min(nx, i + 2)):
        for q in range(max(0, j - 1), min(ny, j + 2)):
            for r in range(max(0, k - 1), min(nz, k + 2)):
                step = abs(p - i) + abs(q - j) + abs(r - k)
                if step > 0 and depth[p, q, r] >= depth[i, j, k] + root[step]:
                    return True
    return False


@njit(cache=True, nogil=True)
def _ridge_slab(start: int, stop: int, depth: Singles, which: Indices, corners: Floats) -> Singles:
    """The balls (x, y, z, radius in cells) of the cells that no neighbour's ball holds, up to a seventh of a cell."""
    _, ny, nz = depth.shape
    room = 0
    for i in range(start, stop):
        for j in range(ny):
            for k in range(nz):
                room += depth[i, j, k] > 0
    balls = np.empty((room, 4), np.float32)
    n = 0
    root = np.empty(4, np.float32)
    for s in range(4):
        root[s] = np.sqrt(np.float32(s)) - SLACK
    for i in range(start, stop):
        for j in range(ny):
            for k in range(nz):
                d = depth[i, j, k]
                if d <= 0:
                    continue
                within = _within_a_neighbours(depth, root, i, j, k)
                if not within:
                    balls[n, 0], balls[n, 1], balls[n, 2], balls[n, 3] = _peak(depth, which, corners, i, j, k)
                    n += 1
    return balls[:n].copy()


@njit(cache=True, nogil=True)
def _peak(depth: Singles, which: Indices, corners: Floats, i: int, j: int, k: int) -> tuple[float, float, float, float]:
    """Where between the cell and a neighbour the depth is greatest, and how great it is there.

    The depth rises towards the middle from both sides with the slopes that two cells on each side show; where the two
    lines meet is the place, and the triangles that the cells about it hold give the depth there. Half a cell off the
    middle, a wall would else read a cell too thin.
    """
    nx, ny, nz = depth.shape
    d = depth[i, j, k]
    x, y, z, best = float(i), float(j), float(k), float(d)
    ip, jp, kp = i, j, k
    for p in range(-1, 2):
        for q in range(-1, 2):
            for r in range(-1, 2):
                if p == 0 and q == 0 and r == 0:
                    continue
                i0, j0, k0 = i - p, j - q, k - r
                i2, j2, k2 = i + 2 * p, j + 2 * q, k + 2 * r
                if min(i0, j0, k0, i2, j2, k2) < 0 or max(i0, i2) >= nx or max(j0, j2) >= ny or max(k0, k2) >= nz:
                    continue
                beside = depth[i + p, j + q, k + r]
                up = d - depth[i0, j0, k0]
                down = beside - depth[i2, j2, k2]
                if up <= 0 or down <= 0:
                    continue
                share = (beside - d + down) / (up + down)
                if 0 < share < 1 and d + up * share > best:
                    best = d + up * share
                    x, y, z = i + share * p, j + share * q, k + share * r
                    ip, jp, kp = i + p, j + q, k + r
    if best == d:
        return x, y, z, d
    least = _least_away2(which, corners, (i, j, k), (ip, jp, kp), (x + 0.5, y + 0.5, z + 0.5), best * best)
    best = np.sqrt(least)
    if best <= d:
        return float(i), float(j), float(k), d
    return x, y, z, best


@njit(cache=True, nogil=True)
def _least_away2(
    which: Indices,
    corners: Floats,
    one: tuple[int, int, int],
    other: tuple[int, int, int],
    at: tuple[float, float, float],
    least: float,
) -> float:
    """The least squared distance of a place to the triangles of the cells about two neighbours."""
    last = -1
    for a in range(max(0, min(one[0], other[0]) - 1), min(which.shape[0], max(one[0], other[0]) + 2)):
        for b in range(max(0, min(one[1], other[1]) - 1), min(which.shape[1], max(one[1], other[1]) + 2)):
            for c in range(max(0, min(one[2], other[2]) - 1), min(which.shape[2], max(one[2], other[2]) + 2)):
                t = which[a, b, c]
                if t >= 0 and t != last:
                    last = t
                    least = min(least, away2(corners, int(t), at[0], at[1], at[2]))
    return least


@njit(cache=True, nogil=True)
def _paint_slab(start: int, stop: int, balls: Singles, out: Singles) -> None:
    """Paints the balls, small before large, so that the last word is the largest's."""
    _, ny, nz = out.shape
    for n in range(balls.shape[0]):
        x, y, z, r = balls[n, 0], balls[n, 1], balls[n, 2], balls[n, 3]
        reach = r + SLACK + min(np.float32(0.3), np.float32(0.25) / r)
        for p in range(max(start, int(np.ceil(x - reach))), min(stop - 1, int(np.floor(x + reach))) + 1):
            left = reach * reach - (p - x) * (p - x)
            v = np.sqrt(max(left, np.float32(0)))
            for q in range(max(0, int(np.ceil(y - v))), min(ny - 1, int(np.floor(y + v))) + 1):
                u = np.sqrt(max(left - (q - y) * (q - y), np.float32(0)))
                for s in range(max(0, int(np.ceil(z - u))), min(nz - 1, int(np.floor(z + u))) + 1):
                    out[p, q, s] = r


@njit(cache=True, nogil=True)
def _finish_slab(start: int, stop: int, depth: Singles, to_mm: np.float32, out: Singles) -> None:
    _, ny, nz = depth.shape
    for i in range(start, stop):
        for j in range(ny):
            for k in range(nz):
                out[i, j, k] = to_mm * max(out[i, j, k], depth[i, j, k]) if depth[i, j, k] > 0 else np.float32(0)


def vertex_normals(mesh: Mesh) -> Floats:
    """The outward unit normal at each vertex: the faces' normals weighted by their angle there; 0 without a face."""
    normals = np.zeros((len(mesh.vertices_mm), 3))
    _normals(mesh.vertices_mm, mesh.faces, normals)
    return normals


@njit(cache=True, nogil=True)
def _normals(vertices: Floats, faces: Ints, out: Floats) -> None:
    for f in range(faces.shape[0]):
        for c in range(3):
            at, one, two = faces[f, c], faces[f, (c + 1) % 3], faces[f, (c + 2) % 3]
            ux, uy, uz = (
                vertices[one, 0] - vertices[at, 0],
                vertices[one, 1] - vertices[at, 1],
                vertices[one, 2] - vertices[at, 2],
            )
            vx, vy, vz = (
                vertices[two, 0] - vertices[at, 0],
                vertices[two, 1] - vertices[at, 1],
                vertices[two, 2] - vertices[at, 2],
            )
            x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
            long = np.sqrt(x * x + y * y + z * z)
            if long == 0.0:
                continue
            share = np.arctan2(long, ux * vx + uy * vy + uz * vz) / long
            out[at, 0] += share * x
            out[at, 1] += share * y
            out[at, 2] += share * z
    for n in range(out.shape[0]):
        long = np.sqrt(out[n, 0] * out[n, 0] + out[n, 1] * out[n, 1] + out[n, 2] * out[n, 2])
        for c in range(3):
            out[n, c] /= long if long > 0 else 1.0


def at_vertices(
    mesh: Mesh,
    *,
    outside: bool = False,
    at_most_mm: float = 20.0,
    cone_deg: float = CONE_DEG,
    normals: Floats | None = None,
    tree: Surface | None = None,
) -> Floats:
    """The diameter in mm of the largest ball that touches each vertex from inside, or from ``outside`` (the gap).

    ``at_most_mm`` is the answer where nothing opposes the vertex within that distance. ``normals`` and ``tree`` may be
    given where they are known already.
    """
    towards = vertex_normals(mesh) if normals is None else normals
    tree = surface(mesh) if tree is None else tree
    out = np.empty(len(mesh.vertices_mm))
    sense = 1.0 if outside else -1.0
    order = _near_together(mesh.vertices_mm)
    in_slabs(
        _touch_slab,
        len(order),
        order,
        mesh.vertices_mm,
        sense * towards,
        -sense,
        np.cos(np.radians(cone_deg)),
        at_most_mm,
        *tree.arrays,
        out,
    )
    return out


def _near_together(points: Floats) -> Ints:
    """An order in which points that follow each other are near each other (along a curve through cubes)."""
    low = points.min(axis=0)
    size = max(float((points.max(axis=0) - low).max()), 1e-12)
    at = np.clip((points - low) / size * 1023, 0, 1023).astype(np.int64)
    code = np.zeros(len(points), np.int64)
    for bit in range(10):
        for axis in range(3):
            code |= ((at[:, axis] >> bit) & 1) << (3 * bit + axis)
    return np.argsort(code, kind="stable")


@njit(cache=True, nogil=True)
def _touch_slab(
    start: int,
    stop: int,
    order: Ints,
    points: Floats,
    towards: Floats,
    facing: float,
    cosine: float,
    at_most: float,
    corners: Floats,
    planes: Floats,
    low: Floats,
    high: Floats,
    sheets: Floats,
    first: Ints,
    out: Floats,
) -> None:
    hint = int(np.int64(0))
    stack = np.empty(64, np.int64)
    for o in range(start, stop):
        n = order[o]
        mx, my, mz = towards[n, 0], towards[n, 1], towards[n, 2]
        if mx == 0.0 and my == 0.0 and mz == 0.0:
            out[n] = at_most
            continue
        out[n], hint = _touch(
            points[n, 0], points[n, 1], points[n, 2], mx, my, mz,
            facing, cosine, at_most, hint, corners, planes, low, high, sheets, first, stack,
        )  # fmt: skip


@njit(cache=True, nogil=True)
def _on_triangle(
    corners: Floats, planes: Floats, t: int, px: float, py: float, pz: float, mx: float, my: float, mz: float,
    facing: float, cosine: float, best: float,
) -> float:  # fmt: skip
    """The least diameter of a ball at p along m that meets triangle t within the cone; ``best`` if hardly less."""
    off = planes[t, 3] - planes[t, 0] * px - planes[t, 1] * py - planes[t, 2] * pz
    if off * facing <= 0.0:
        return best
    turn = planes[t, 0] * mx + planes[t, 1] * my + planes[t, 2] * mz
    if turn * facing < 2.0 * cosine * cosine - 1.0:
        return best
    r = 0.5 * best * FINE
    if abs(r * turn - off) >= r:
        return best
    found = best
    for _ in range(5):
        qx, qy, qz = nearest_on(corners, t, px + r * mx, py + r * my, pz + r * mz)
        dx, dy, dz = qx - px, qy - py, qz - pz
        along = dx * mx + dy * my + dz * mz
        d2 = dx * dx + dy * dy + dz * dz
        if along <= 0.0 or along * along < cosine * cosine * d2 or d2 >= 1.99999 * r * along:
            break
        found = d2 / along
        r = 0.5 * found
    return found


@njit(cache=True, nogil=True)
def _worth(
    low: Floats, high: Floats, sheets: Floats, node: int, px: float, py: float, pz: float,
    mx: float, my: float, mz: float, facing: float, cosine: float, r: float,
) -> float:  # fmt: skip
    """How near the node's box comes to p, squared; below 0 if it does not meet the cone and the ball of radius r, or if
    none of its triangles faces p."""
    turn = (sheets[node, 0] * mx + sheets[node, 1] * my + sheets[node, 2] * mz) * facing
    turned = 2.0 * cosine * cosine - 1.0
    aside = np.sqrt(max(1.0 - turned * turned, 0.0))
    wide, narrow = sheets[node, 6], sheets[node, 5]
    if wide * turned + narrow * aside > 0.0 and turn < narrow * turned - wide * aside - 1e-9:
        return -1.0
    ax, bx = low[node, 0] - px, high[node, 0] - px
    ay, by = low[node, 1] - py, high[node, 1] - py
    az, bz = low[node, 2] - pz, high[node, 2] - pz
    x, y, z = r * mx, r * my, r * mz
    s = sheets[node, 0] * (px + x) + sheets[node, 1] * (py + y) + sheets[node, 2] * (pz + z)
    if max(sheets[node, 3] - s, s - sheets[node, 4]) >= r:
        return -1.0
    x, y, z = max(ax - x, x - bx, 0.0), max(ay - y, y - by, 0.0), max(az - z, z - bz, 0.0)
    if x * x + y * y + z * z >= r * r:
        return -1.0
    along = max(ax * mx, bx * mx) + max(ay * my, by * my) + max(az * mz, bz * mz)
    x, y, z = max(ax, -bx, 0.0), max(ay, -by, 0.0), max(az, -bz, 0.0)
    near2 = x * x + y * y + z * z
    if along <= 0.0 or along * along < cosine * cosine * near2:
        return -1.0
    return float(near2)


@njit(cache=True, nogil=True)
def _touch(
    px: float, py: float, pz: float, mx: float, my: float, mz: float, facing: float, cosine: float, at_most: float,
    hint: int, corners: Floats, planes: Floats, low: Floats, high: Floats, sheets: Floats, first: Ints, stack: Ints,
) -> tuple[float, int]:  # fmt: skip
    lowest = first.size - 2
    stack[0] = 0
    top = 1
    best = at_most
    a, b = hint, hint + 1
    while True:
        for t in range(a, b):
            d = _on_triangle(corners, planes, t, px, py, pz, mx, my, mz, facing, cosine, best)
            if d < best:
                best = d
                hint = t
        a = b = 0
        while top > 0 and b == 0:
            top -= 1
            node = stack[top]
            if node >= lowest:
                a, b = first[node - lowest], first[node - lowest + 1]
                continue
            r = 0.5 * best * FINE
            under, nearer = top, -1.0
            for child in range(2 * node + 1, 2 * node + 3):
                near2 = _worth(low, high, sheets, child, px, py, pz, mx, my, mz, facing, cosine, r)
                if near2 < 0.0:
                    continue
                stack[top] = child
                if top > under and near2 > nearer:  # the nearer one is looked at first
                    stack[top - 1], stack[top] = child, stack[top - 1]
                nearer = near2
                top += 1
        if b == 0:
            return best, hint
