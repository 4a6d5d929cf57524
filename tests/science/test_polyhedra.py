"""Polyhedra: cutting against the slow twins, closedness where many planes meet, doubling, triangles."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull, HalfspaceIntersection

from ringwright.science import polyhedra
from ringwright.science.polyhedra import Polyhedron
from ringwright.terms.body import Floats
from ringwright.terms.mistake import ComputingFault

SQUARE = np.array([(1.0, 0.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, 0.0)])
CUBE = polyhedra.prism(np.array([(1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)]), -1.0, 1.0)


def regular(n: int) -> Floats:
    angles = np.arange(n) * 2 * math.pi / n
    return np.column_stack([np.cos(angles), np.sin(angles)])


def test_a_prism_is_closed_and_has_its_volume() -> None:
    solid = polyhedra.prism(regular(7), -0.5, 2.0)
    assert solid.closed
    assert solid.euler == 2
    assert solid.volume == pytest.approx(2.5 * 3.5 * math.sin(2 * math.pi / 7), rel=1e-12)


def test_an_open_or_doubled_face_is_seen() -> None:
    assert not Polyhedron(CUBE.vertices, CUBE.faces[1:]).closed
    assert not Polyhedron(CUBE.vertices, (*CUBE.faces, CUBE.faces[0])).closed
    turned = (tuple(reversed(CUBE.faces[0])), *CUBE.faces[1:])
    assert not Polyhedron(CUBE.vertices, turned).closed


@pytest.mark.parametrize("planes", [8, 30, 120])
@pytest.mark.parametrize("seed", range(4))
def test_cutting_agrees_with_the_intersection_of_half_spaces(planes: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    normals = random.normal(size=(planes, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    offsets = random.uniform(0.4, 0.9, planes)
    cut = polyhedra.cut(CUBE, normals, offsets, 1e-9)
    sides = np.vstack([np.eye(3), -np.eye(3)])
    rows = np.vstack([np.column_stack([normals, -offsets]), np.column_stack([sides, -np.ones(6)])])
    twin = ConvexHull(HalfspaceIntersection(rows, np.zeros(3)).intersections)
    assert cut.closed
    assert cut.euler == 2
    assert cut.volume == pytest.approx(twin.volume, rel=1e-9)


def test_many_planes_through_one_point_and_planes_that_only_touch() -> None:
    """A pyramid of sixteen planes with one top; planes along its edges, corners and faces change nothing."""
    around = np.arange(16) * math.pi / 8
    normals = np.column_stack([np.cos(around), np.sin(around), np.ones(16)])
    pyramid = polyhedra.cut(CUBE, normals, np.full(16, 0.5), 1e-9)
    assert pyramid.closed
    top = np.flatnonzero(pyramid.vertices[:, 2] > 0.5 - 1e-12)
    assert len(top) == 1
    assert sum(int(top[0]) in face for face in pyramid.faces) == 16
    touching = np.array([(0.0, 0.0, 1.0), (0.3, 0.1, 1.0), (0.0, 0.0, -1.0)])
    again = polyhedra.cut(pyramid, touching, np.array([0.5, 0.5, 1.0]), 1e-9)
    assert again.faces == pyramid.faces
    assert np.array_equal(again.vertices, pyramid.vertices)


def test_a_plane_may_run_through_corners() -> None:
    half = polyhedra.cut(CUBE, np.array([(1.0, 1.0, 0.0)]), np.array([0.0]), 1e-9)
    assert half.closed
    assert len(half.faces) == 5
    assert half.volume == pytest.approx(4.0, rel=1e-12)


def test_cutting_all_away_is_a_fault_of_computing() -> None:
    with pytest.raises(ComputingFault, match="cut the whole solid away"):
        polyhedra.cut(CUBE, np.array([(0.0, 0.0, 1.0)]), np.array([-2.0]), 1e-9)


def test_doubling_gives_the_whole_solid_with_whole_faces() -> None:
    half = polyhedra.prism(SQUARE, -1.0, 1.0)
    whole = polyhedra.doubled(half, 1e-9)
    assert whole.closed
    assert whole.euler == 2
    assert len(whole.faces) == 6
    assert len(whole.vertices) == 8
    assert whole.volume == pytest.approx(8.0, rel=1e-12)


def test_doubling_may_leave_a_valley() -> None:
    """Half with a plane that leans over the mirror: the union has a groove, and no boolean made it."""
    half = polyhedra.cut(polyhedra.prism(SQUARE, -1.0, 1.0), np.array([(0.0, -1.0, 1.0)]), np.array([0.0]), 1e-9)
    whole = polyhedra.doubled(half, 1e-9)
    assert whole.closed
    assert whole.euler == 2
    assert whole.volume == pytest.approx(2 * half.volume, rel=1e-12)
    assert whole.volume == pytest.approx(8.0 - 2.0, rel=1e-12)
    assert ConvexHull(whole.vertices).volume == pytest.approx(8.0, rel=1e-9)


def test_doubling_needs_a_face_on_the_mirror() -> None:
    with pytest.raises(ComputingFault, match="0 faces lie on the mirror plane"):
        polyhedra.doubled(polyhedra.prism(np.add(SQUARE, (0.0, 1.0)), 0.0, 1.0), 1e-9)


def test_triangles_cover_every_face_and_none_is_flat() -> None:
    """A face with corners in the middle of its sides, and one with a dent that a corner sees whole."""
    dented = np.array([(2.0, 0.0), (1.0, 1.0), (0.0, 0.3), (-1.0, 1.0), (-2.0, 0.0), (0.0, 0.0)])
    solid = polyhedra.prism(dented, 0.0, 1.0)
    corners = solid.vertices[polyhedra.triangles(solid)]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.linalg.norm(across, axis=1).min() > 1e-6
    assert solid.volume == pytest.approx(2.3, rel=1e-12)
    assert np.sum(across[across[:, 2] > 0.0][:, 2]) / 2 == pytest.approx(2.3, rel=1e-12)


def test_normals_are_outward_and_unit() -> None:
    middles = np.array([CUBE.vertices[list(face)].mean(axis=0) for face in CUBE.faces])
    assert np.allclose(CUBE.normals(), middles, atol=1e-15)


def test_moving_scales_then_shifts() -> None:
    moved = CUBE.moved((2.0, 1.0, 0.5), (0.0, 0.0, 3.0))
    assert moved.volume == pytest.approx(8.0, rel=1e-12)
    assert np.ptp(moved.vertices, axis=0) == pytest.approx((4.0, 2.0, 1.0))
    assert moved.vertices[:, 2].min() == pytest.approx(2.5)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(-3, 3), st.integers(-3, 3), st.integers(-3, 3), st.integers(1, 4)).filter(
            lambda p: any(p[:3])
        ),
        min_size=1,
        max_size=12,
    )
)
def test_cutting_stays_closed_where_planes_coincide(planes: list[tuple[int, int, int, int]]) -> None:
    """Planes with small whole numbers meet in common points and lines all the time."""
    normals = np.array([p[:3] for p in planes], float)
    offsets = np.array([p[3] / 2 for p in planes])
    solid = polyhedra.cut(CUBE, normals, offsets, 1e-9)
    assert solid.closed
    assert solid.euler == 2
    assert solid.volume == pytest.approx(ConvexHull(solid.vertices).volume, rel=1e-9)
    assert (solid.vertices @ normals.T <= offsets + 1e-8).all()
