"""The painter against a slow twin, and what borders and normals are of solids whose look is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ringwright.science.raster import borders, corner_normals, develop, face_normals, paint
from ringwright.terms.body import Floats


def slow(corners: Floats, rows: int, columns: int) -> tuple[Floats, Floats]:
    """Depth and number of the nearest triangle under each pixel, by the plainest code."""
    depth, which = np.full((rows, columns), -np.inf), np.full((rows, columns), -1.0)
    for number, (a, b, c) in enumerate(corners):
        edges = np.array([b - a, c - a])[:, :2].T
        if np.linalg.det(edges) >= 0:
            continue
        for row in range(rows):
            for column in range(columns):
                v, w = np.linalg.solve(edges, np.array([column + 0.5, row + 0.5]) - a[:2])
                if min(v, w, 1 - v - w) >= 0:
                    z = float((1 - v - w) * a[2] + v * b[2] + w * c[2])
                    if z > depth[row, column]:
                        depth[row, column], which[row, column] = z, number
    return depth, which


def test_painted_as_by_the_slow_twin() -> None:
    chance = np.random.default_rng(7)
    corners = chance.uniform(-4, 28, size=(40, 3, 3))
    rows, columns = 20, 24
    depth, which = slow(corners, rows, columns)
    found, normal = np.full((rows, columns), -np.inf), np.zeros((rows, columns, 3))
    labels = np.full((rows, columns), -1, dtype=np.int32)
    for number in range(len(corners)):
        paint(corners[number : number + 1], np.ones((1, 3, 3)), number, found, normal, labels)
    assert np.isfinite(depth).mean() > 0.5, "the test paints something"
    np.testing.assert_allclose(found, depth, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(labels, which.astype(int))


def cube() -> tuple[Floats, np.ndarray]:
    points = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    faces = np.array(
        [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4],
         [1, 5, 7], [1, 7, 3]]
    )  # fmt: skip
    return points, faces


def test_a_cube_keeps_its_flat_faces_and_a_round_does_not() -> None:
    points, faces = cube()
    flat = face_normals(points, faces)
    np.testing.assert_allclose(np.linalg.norm(flat, axis=2), 1.0)
    np.testing.assert_allclose(corner_normals(points, faces, 30.0), flat, atol=1e-12)
    assert np.abs(corner_normals(points, faces, 100.0) - flat).max() > 0.2, "with so wide a crease its edges are smooth"
    turns = np.linspace(0, 2 * math.pi, 60, endpoint=False)
    ring = np.array([[math.cos(t), math.sin(t), z] for t in turns for z in (0.0, 1.0)])
    n = np.arange(60)
    one, two = 2 * n, 2 * ((n + 1) % 60)
    wall = np.concatenate([np.stack([one, two, two + 1], 1), np.stack([one, two + 1, one + 1], 1)])
    smooth = corner_normals(ring, wall, 30.0)
    radial = ring[wall] * [1.0, 1.0, 0.0]
    assert np.arccos(np.clip((smooth * radial).sum(axis=2), -1, 1)).max() < math.radians(3.1), "the round's own normals"
    flat_off = np.arccos(np.clip((face_normals(ring, wall) * radial).sum(axis=2), -1, 1)).max()
    assert flat_off == pytest.approx(math.radians(3.0), abs=1e-6)


def test_borders_are_where_the_surface_ends_or_bends() -> None:
    depth, labels = np.full((9, 9), -np.inf), np.full((9, 9), -1, dtype=np.int32)
    normal = np.zeros((9, 9, 3))
    normal[..., 2] = 1.0
    depth[:, :6], labels[:, :6] = 0.0, 0
    depth[:, 2:4] = 1.0
    normal[5:, :6] = [0.0, math.sin(1.0), math.cos(1.0)]
    found = borders(depth, normal, labels, 0.1, 0.2, np.array([0.9]))
    assert (found[0, :8] == [0, 2, 2, 2, 2, 2, 2, 0]).all(), "a step up, a step down, and the end of the metal"
    assert (found[3:7, 0] == [0, 1, 1, 0]).all(), "a bend"
    assert (borders(depth, normal, labels, 0.1, 0.2, np.array([0.5]))[3:7, 0] == 0).all(), "a bend that is let pass"


def test_light_makes_the_grey_and_nothing_covers_nothing() -> None:
    normal = np.zeros((4, 4, 3))
    normal[..., 2] = 1.0
    labels = np.full((4, 4), -1, dtype=np.int32)
    labels[:2, :2] = 0
    ends = np.zeros((4, 4), dtype=np.int32)
    ends[2:, 2:] = 2
    lights, tones = np.array([[0.0, 0.0, 1.0, 0.5]]), np.array([[0.2, 0.6]])
    picture = develop(normal, labels, ends, lights, tones, np.array([1.0, 0.5, 0.0]), 2)
    assert picture[..., 0].tolist() == [[round(255 * 0.4), 0], [0, 0]]
    assert picture[..., 1].tolist() == [[255, 0], [0, 255]], "metal, nothing, nothing, and the dark end of a body"
    labels[0, 0], ends[0, 0] = -1, 0
    half = develop(normal, labels, ends, lights, tones, np.array([1.0, 0.5, 0.0]), 2)[0, 0]
    assert half.tolist() == [round(255 * 0.4), round(255 * 0.75)], "the tone is that of what is there"
