"""A heap of triangles made whole, and every change counted."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.science import crossings, mending, solids, sweeps
from ringwright.terms.body import Mesh
from tests.science.test_solids import ball, box

TORUS = sweeps.revolved(np.stack([10.0 + np.cos(sweeps.turns(16)), np.sin(sweeps.turns(16))], axis=1), 40)


def heap(mesh: Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Every triangle with corners of its own, as an STL has them."""
    corners = mesh.corners_mm.reshape(-1, 3)
    return corners, np.arange(len(corners)).reshape(-1, 3)


def test_a_heap_is_welded_to_the_mesh_it_came_from() -> None:
    vertices, faces = mending.welded(*heap(TORUS))
    assert len(vertices) == len(TORUS.vertices_mm)
    assert solids.is_closed(Mesh(vertices, faces))
    assert solids.volume(Mesh(vertices, faces)) == pytest.approx(solids.volume(TORUS))


def test_zero_has_one_sign() -> None:
    vertices = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [-0.0, 0, 0]])
    welded, faces = mending.welded(vertices, np.array([[0, 1, 2], [3, 2, 1]]))
    assert len(welded) == 3
    assert faces.max() == 2


def test_edges_that_nearly_meet_are_joined_and_others_left() -> None:
    vertices, faces = heap(TORUS)
    rng = np.random.default_rng(1)
    vertices = vertices + rng.uniform(-0.0004, 0.0004, vertices.shape)
    vertices, faces, joined = mending.welded_within(*mending.welded(vertices, faces), 0.002)
    assert joined == 3 * len(TORUS.faces) - len(TORUS.vertices_mm)
    assert solids.is_closed(Mesh(vertices, faces))
    assert mending.welded_within(TORUS.vertices_mm, TORUS.faces, 0.002)[2] == 0


def test_faces_that_are_spoiled_or_double_go() -> None:
    mesh = box(1.0, 1.0, 1.0)
    extra = np.array([mesh.faces[0], mesh.faces[3][[1, 2, 0]], [4, 4, 5]])
    faces, flat, double = mending.without_spoiled(np.concatenate([mesh.faces, extra]))
    assert (flat, double) == (1, 2)
    assert solids.volume(Mesh(mesh.vertices_mm, faces)) == pytest.approx(1.0)


def test_two_faces_back_to_back_enclose_nothing_and_both_go() -> None:
    mesh = box(1.0, 1.0, 1.0)
    vertices = np.concatenate([mesh.vertices_mm, [[5.0, 0, 0], [6, 0, 0], [5, 1, 0]]])
    fin = np.array([[8, 9, 10], [8, 10, 9]])
    faces, _, double = mending.without_spoiled(np.concatenate([mesh.faces, fin]))
    assert double == 2
    assert len(faces) == len(mesh.faces)
    assert solids.is_closed(Mesh(vertices, faces))


def test_of_a_surface_that_is_double_throughout_one_side_stays() -> None:
    mesh = box(1.0, 1.0, 1.0)
    faces, _, double = mending.without_spoiled(np.concatenate([mesh.faces, mesh.faces[:, ::-1]]))
    assert double == len(mesh.faces)
    pairs = mending.pair(mesh.vertices_mm, faces)
    assert abs(solids.volume(Mesh(mesh.vertices_mm, mending.wound_one_way(faces, pairs)[0]))) == pytest.approx(1.0)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.0, 0.45))
def test_any_faces_turned_round_are_turned_back(seed: int, share: float) -> None:
    turned = np.random.default_rng(seed).uniform(size=len(TORUS.faces)) < share
    faces = TORUS.faces.copy()
    faces[turned] = faces[turned][:, ::-1]
    out, count, two_sided = mending.wound_one_way(faces, mending.pair(TORUS.vertices_mm, faces))
    assert two_sided
    assert count == turned.sum()
    assert np.array_equal(out, TORUS.faces) or np.array_equal(np.sort(out, axis=1), np.sort(TORUS.faces, axis=1))
    assert solids.volume(Mesh(TORUS.vertices_mm, out)) == pytest.approx(solids.volume(TORUS))


def test_a_surface_with_one_side_is_told() -> None:
    """A Moebius band of 24 quads."""
    n = 24
    turn, half = sweeps.turns(n), 0.5 * sweeps.turns(n)
    out = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    lift = np.cos(half)[:, None] * out + np.sin(half)[:, None] * np.array([0.0, 0.0, 1.0])
    vertices = np.concatenate([5.0 * out + lift, 5.0 * out - lift])
    faces = []
    for k in range(n):
        a, b = k, k + n
        c, d = ((k + 1), (k + 1) + n) if k + 1 < n else (n, 0)
        faces += [[a, b, c], [c, b, d]]
    array = np.array(faces)
    assert not mending.wound_one_way(array, mending.pair(vertices, array))[2]


def test_boxes_that_share_an_edge_become_two_shells() -> None:
    both = solids.joined([box(1.0, 1.0, 1.0), box(1.0, 1.0, 1.0).moved(np.eye(3), np.array([1.0, 1.0, 0.0]))])
    vertices, faces = mending.welded(both.vertices_mm, both.faces)
    assert len(vertices) == 14
    pairs = mending.pair(vertices, faces)
    assert (pairs.open, pairs.shared) == (0, 1)
    vertices, faces, added = mending.cut_apart(vertices, faces, pairs)
    assert added == 2
    parts = solids.shells(Mesh(vertices, faces))
    assert [solids.volume(part) for part in parts] == pytest.approx([1.0, 1.0])
    assert solids.to_manifold(Mesh(vertices, faces)).volume() == pytest.approx(2.0)


def test_openings_are_found_measured_and_closed() -> None:
    mesh = ball(3.0, 60)
    gone = np.zeros(len(mesh.faces), dtype=bool)
    gone[[500, 1200]] = True
    faces = mesh.faces[~gone]
    pairs = mending.pair(mesh.vertices_mm, faces)
    assert pairs.open == 6
    found = mending.openings(mesh.vertices_mm, faces, pairs)
    assert found is not None
    areas = solids.face_areas(mesh)[gone]
    assert [one.area for one in found] == pytest.approx(sorted(areas, reverse=True))
    whole = Mesh(mesh.vertices_mm, np.concatenate([faces, *(one.faces for one in found)]))
    assert solids.is_closed(whole)
    assert solids.volume(whole) == pytest.approx(solids.volume(mesh))


def test_a_crack_without_area_is_an_opening_without_area() -> None:
    """A vertex in the middle of an edge on one side only (a T): the crack is closed by a triangle without area."""
    mesh = box(1.0, 1.0, 1.0)
    a, b, c = mesh.faces[0]
    middle = len(mesh.vertices_mm)
    vertices = np.concatenate([mesh.vertices_mm, [0.5 * (mesh.vertices_mm[a] + mesh.vertices_mm[b])]])
    faces = np.concatenate([mesh.faces[1:], [[a, middle, c], [middle, b, c]]])
    found = mending.openings(vertices, faces, mending.pair(vertices, faces))
    assert found is not None
    assert [one.area for one in found] == pytest.approx([0.0], abs=1e-12)
    assert found[0].bulge == pytest.approx(0.0, abs=1e-12)
    assert solids.is_closed(Mesh(vertices, np.concatenate([faces, found[0].faces])))


@pytest.mark.parametrize("shift", [(3.0, 0.1, 0.3), (0.0, 0.0, 1.0), (25.0, 0.0, 0.0)], ids=str)
def test_crossings_agree_with_trying_every_pair(shift: tuple[float, float, float]) -> None:
    small = sweeps.revolved(np.stack([10.0 + np.cos(sweeps.turns(8)), np.sin(sweeps.turns(8))], axis=1), 24)
    both = solids.joined([small, small.moved(np.eye(3), np.array(shift))])
    slow = crossings.crossings_slow(both, 1e-6)
    fast = crossings.crossings(both, 1e-6)
    assert np.array_equal(slow, fast.faces if fast else np.empty(0, dtype=np.int64))
    assert (fast is None) == (shift[0] > 22.0)


def test_a_clean_surface_does_not_cross_itself_and_doubled_space_is_weighed() -> None:
    """Two balls of radius 1 whose middles are 1 apart share a lens; its part in the box of what crosses counts."""
    assert crossings.crossings(TORUS, 1e-9) is None
    one = ball(1.0, 80)
    both = solids.joined([one, one.moved(np.eye(3), np.array([0.6, 0.64, 0.48]))])
    crossed = crossings.crossings(both, 1e-6)
    assert crossed is not None
    assert np.linalg.norm(crossed.point_mm - [0.3, 0.32, 0.24]) == pytest.approx(np.sqrt(0.75), abs=0.03)
    corners = both.corners_mm[crossed.faces].reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    points = np.random.default_rng(0).uniform(low, high, (200_000, 3))
    inside = (np.linalg.norm(points, axis=1) < 1) & (np.linalg.norm(points - [0.6, 0.64, 0.48], axis=1) < 1)
    assert crossings.doubled_volume(both, crossed.faces) == pytest.approx(inside.mean() * np.prod(high - low), rel=0.02)
