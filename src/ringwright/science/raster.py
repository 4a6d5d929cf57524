"""A closed surface as it looks from one side: the nearest point under every pixel, in parallel projection.

Vertices are given in the picture's own coordinates: x to the right and y downward in pixels, z toward the eye, in any
one unit. Pixel (row, column) is the ray at ``x = column + 0.5``, ``y = row + 0.5``.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ringwright.terms.body import Floats, Ints

Numbers = NDArray[np.int32]

_SLIVER = 1e-4
"""Twice the area under which a face's own direction is chance, and it takes that of the faces around it."""


def face_normals(vertices: Floats, faces: Ints) -> Floats:
    """The unit normal of each face at its three corners (m, 3, 3); zero for a face without area."""
    corners = np.take(vertices, faces, axis=0)
    area = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(area, axis=1, keepdims=True)
    one = np.divide(area, size, out=np.zeros_like(area), where=size > 0)
    return np.repeat(one[:, None, :], 3, axis=1)


def corner_normals(vertices: Floats, faces: Ints, crease_deg: float) -> Floats:
    """A unit normal for each corner (m, 3, 3): the mean of the faces around it that bend by less than the crease.

    A flat face keeps its own normal, a face of a bent sheet gets the sheet's. Weighted by area.
    """
    order = np.argsort(faces.ravel(), kind="stable")
    counts = np.bincount(faces.ravel(), minlength=len(vertices))
    start = np.concatenate([[0], np.cumsum(counts)])
    corners = np.take(vertices, faces, axis=0)
    area = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    out = np.zeros((len(faces), 3, 3))
    _corner_normals(
        faces, area, np.linalg.norm(area, axis=1), order // 3, start, math.cos(math.radians(crease_deg)), out
    )
    return out


@njit(cache=True, nogil=True)
def _corner_normals(
    faces: Ints, area: Floats, size: Floats, around: Ints, start: Ints, bend: float, out: Floats
) -> None:
    for f in range(len(faces)):
        for corner in range(3):
            v = faces[f, corner]
            x = y = z = 0.0
            for n in range(start[v], start[v + 1]):
                g = around[n]
                dot = area[f, 0] * area[g, 0] + area[f, 1] * area[g, 1] + area[f, 2] * area[g, 2]
                if size[f] < _SLIVER or dot >= bend * size[f] * size[g]:
                    x += area[g, 0]
                    y += area[g, 1]
                    z += area[g, 2]
            length = math.sqrt(x * x + y * y + z * z)
            if length > 0.0:
                out[f, corner, 0] = x / length
                out[f, corner, 1] = y / length
                out[f, corner, 2] = z / length


@njit(cache=True, nogil=True)
def paint(corners: Floats, normals: Floats, label: int, depth: Floats, normal: Floats, labels: Numbers) -> None:
    """Paint triangles (m, 3, 3) with their corner normals into the buffers, where they are nearer than what is there.

    A triangle that faces away (clockwise to the eye) is not painted: of a closed surface it is never seen.
    ``depth`` (h, w) begins at −inf, ``normal`` (h, w, 3) gets the normal between the corners, ``labels`` the label.
    """
    height, width = depth.shape
    for t in range(len(corners)):
        ax, ay, az = corners[t, 0, 0], corners[t, 0, 1], corners[t, 0, 2]
        bx, by, bz = corners[t, 1, 0], corners[t, 1, 1], corners[t, 1, 2]
        cx, cy, cz = corners[t, 2, 0], corners[t, 2, 1], corners[t, 2, 2]
        twice = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if twice >= 0.0:
            continue
        first = max(0, math.ceil(min(ay, by, cy) - 0.5))
        last = min(height - 1, math.floor(max(ay, by, cy) - 0.5))
        left = max(0, math.ceil(min(ax, bx, cx) - 0.5))
        right = min(width - 1, math.floor(max(ax, bx, cx) - 0.5))
        for row in range(first, last + 1):
            y = row + 0.5
            for column in range(left, right + 1):
                x = column + 0.5
                u = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / twice
                v = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / twice
                w = 1.0 - u - v
                if u < 0.0 or v < 0.0 or w < 0.0:
                    continue
                z = u * az + v * bz + w * cz
                if z > depth[row, column]:
                    depth[row, column] = z
                    labels[row, column] = label
                    for k in range(3):
                        normal[row, column, k] = u * normals[t, 0, k] + v * normals[t, 1, k] + w * normals[t, 2, k]


def borders(depth: Floats, normal: Floats, labels: Numbers, pixel: float, leap: float, bends: Floats) -> Numbers:
    """2 where the nearest surface ends before another one, 1 where it bends sharply, else 0; both sides of it.

    ``pixel`` is a pixel's width in the unit of the depth. Two neighbours lie on one surface where their depths differ
    by less than ``leap`` beyond what the slope of the surface makes; it bends sharply where the cosine between their
    normals is under that of ``bends`` for the label.
    """
    found = np.zeros(depth.shape, np.int32)
    _borders(depth, normal, labels, pixel, leap, bends, found)
    return found


@njit(cache=True, nogil=True)
def _borders(
    depth: Floats, normal: Floats, labels: Numbers, pixel: float, leap: float, bends: Floats, found: Numbers
) -> None:
    height, width = depth.shape
    for row in range(height):
        for column in range(width):
            for step in range(2):
                below, beside = row + step, column + 1 - step
                if below >= height or beside >= width:
                    continue
                one, two = labels[row, column], labels[below, beside]
                if one < 0 and two < 0:
                    continue
                kind = 0
                if one != two:
                    kind = 2
                else:
                    facing = min(abs(normal[row, column, 2]), abs(normal[below, beside, 2]))
                    slope = math.sqrt(max(0.0, 1.0 - facing * facing)) / max(facing, 0.05)
                    if abs(depth[row, column] - depth[below, beside]) > leap + 2.5 * slope * pixel:
                        kind = 2
                    else:
                        dot = 0.0
                        for k in range(3):
                            dot += normal[row, column, k] * normal[below, beside, k]
                        if dot < bends[one]:
                            kind = 1
                found[row, column] = max(found[row, column], kind)
                found[below, beside] = max(found[below, beside], kind)


def develop(
    normal: Floats, labels: Numbers, found: Numbers, lights: Floats, tones: Floats, lines: Floats, over: int
) -> NDArray[np.uint8]:
    """The picture (rows, columns, 2): grey (0 black, 255 white) and how much is covered (0 nothing, 255 all).

    ``over`` x ``over`` pixels of the buffers make one of its own. ``lights`` (k, 4) are unit directions to lights and
    their shares; ``tones`` (n, 2) the darkest and the brightest grey of each label; ``lines`` (3,) by what a pixel of
    :func:`borders` is multiplied; an end covers on its outer side too.
    """
    picture = np.zeros((labels.shape[0] // over, labels.shape[1] // over, 2), np.uint8)
    _develop(normal, labels, found, lights, tones, lines, over, picture)
    return picture


@njit(cache=True, nogil=True)
def _develop(
    normal: Floats, labels: Numbers, found: Numbers, lights: Floats, tones: Floats, lines: Floats, over: int,
    picture: NDArray[np.uint8],
) -> None:  # fmt: skip
    height, width = labels.shape[0] // over, labels.shape[1] // over
    for row in range(height):
        for column in range(width):
            total, covered = 0.0, 0
            for i in range(row * over, (row + 1) * over):
                for j in range(column * over, (column + 1) * over):
                    label = labels[i, j]
                    if label < 0 and found[i, j] != 2:
                        continue
                    tone = 1.0
                    if label >= 0:
                        light = 0.0
                        for k in range(len(lights)):
                            dot = 0.0
                            for c in range(3):
                                dot += normal[i, j, c] * lights[k, c]
                            light += lights[k, 3] * max(dot, 0.0)
                        tone = tones[label, 0] + (tones[label, 1] - tones[label, 0]) * min(light, 1.0)
                    total += tone * lines[found[i, j]]
                    covered += 1
            if covered > 0:
                picture[row, column, 0] = round(255.0 * total / covered)
                picture[row, column, 1] = round(255.0 * covered / (over * over))
