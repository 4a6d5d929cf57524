"""Volumes, centroids and moments against closed forms; shells, sections and booleans against what they must be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.science import solids, sweeps
from ringwright.terms.body import Mesh
from ringwright.terms.mistake import ComputingFault


def box(x: float, y: float, z: float) -> Mesh:
    return sweeps.prism(np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]]), 0.0, z)


def rotation(seed: int) -> np.ndarray:
    q, r = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q if np.linalg.det(q) > 0 else -q


def ball(radius: float, count: int) -> Mesh:
    bow = np.linspace(-np.pi / 2.0, np.pi / 2.0, count // 2 + 1)
    profile = np.stack([radius * np.cos(bow), radius * np.sin(bow)], axis=1)
    profile[[0, -1], 0] = 0.0
    return sweeps.turned(profile, count)


def test_a_box_has_the_volume_surface_centre_and_moments_of_a_box() -> None:
    x, y, z = 2.0, 3.0, 5.0
    found = solids.mass_properties(box(x, y, z).moved(np.eye(3), np.array([100.0, -50.0, 7.0])))
    assert found.volume_mm3 == pytest.approx(30.0, rel=1e-12)
    assert found.area_mm2 == pytest.approx(62.0, rel=1e-12)
    assert found.centroid_mm == pytest.approx([101.0, -48.5, 9.5], rel=1e-12)
    expected = np.diag([y * y + z * z, x * x + z * z, x * x + y * y]) * 30.0 / 12.0
    assert found.inertia_mm5 == pytest.approx(expected, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(-200.0, 200.0))
def test_volume_and_moments_do_not_depend_on_where_a_solid_lies(seed: int, shift: float) -> None:
    mesh = box(2.0, 3.0, 5.0)
    turn = rotation(seed)
    found = solids.mass_properties(mesh.moved(turn, np.array([shift, 2.0 * shift, -shift])))
    still = solids.mass_properties(mesh)
    assert found.volume_mm3 == pytest.approx(still.volume_mm3, rel=1e-9)
    assert found.inertia_mm5 == pytest.approx(turn @ still.inertia_mm5 @ turn.T, rel=1e-7, abs=1e-7)
    assert solids.volume(solids.reversed_faces(mesh)) == pytest.approx(-30.0)


def test_chords_take_from_a_revolved_volume_with_the_second_power_of_their_number() -> None:
    """Pappus: area times the way of its centroid. The deficit must fall as n^-2."""
    section = np.array([[9.0, -2.0], [11.0, -1.0], [10.0, 2.0]])
    exact = 2.0 * np.pi * section[:, 0].mean() * 3.5
    counts = np.array([16, 32, 64, 128])
    errors = [1.0 - solids.volume(sweeps.revolved(section, int(n))) / exact for n in counts]
    order = -np.polyfit(np.log(counts), np.log(errors), 1)[0]
    assert order == pytest.approx(2.0, abs=0.02)
    assert errors[-1] < 5e-4


def test_a_section_may_run_either_way_round() -> None:
    section = np.array([[9.0, -2.0], [11.0, -1.0], [10.0, 2.0]])
    there, back = sweeps.revolved(section, 64), sweeps.revolved(section[::-1], 64)
    assert solids.volume(there) == pytest.approx(solids.volume(back))
    assert solids.volume(there) > 0


def test_a_rod_is_a_cylinder_with_half_a_ball() -> None:
    start, end = (1.0, 2.0, 3.0), (2.0, 4.0, 6.0)
    mesh = sweeps.rod(start, end, 0.5, 256, 0.5)
    length = np.sqrt(14.0)
    exact = np.pi * 0.25 * (length - 0.5) + 2.0 / 3.0 * np.pi * 0.125
    assert solids.volume(mesh) == pytest.approx(exact, rel=3e-4)
    assert solids.is_closed(mesh)
    assert np.linalg.norm(mesh.vertices_mm - np.array(end), axis=1).min() == pytest.approx(0.0, abs=1e-12)


def test_a_ball_has_the_moments_of_a_ball() -> None:
    found = solids.mass_properties(ball(3.0, 200))
    volume = 4.0 / 3.0 * np.pi * 27.0
    assert found.volume_mm3 == pytest.approx(volume, rel=5e-4)
    assert found.area_mm2 == pytest.approx(4.0 * np.pi * 9.0, rel=5e-4)
    assert np.diag(found.inertia_mm5) == pytest.approx(np.full(3, 0.4 * volume * 9.0), rel=2e-3)


def test_a_widened_outline_has_steiners_area() -> None:
    """Area of a convex outline moved out by d: A + P d + pi d²."""
    square = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 3.0], [0.0, 3.0]])
    wide = sweeps.widened(square, 0.5, arc_mm=1e-4)
    assert solids.volume(sweeps.prism(wide, 0.0, 1.0)) == pytest.approx(6.0 + 5.0 + np.pi * 0.25, rel=1e-4)
    narrow = sweeps.widened(square, -0.5)
    assert solids.volume(sweeps.prism(narrow, 0.0, 1.0)) == pytest.approx(2.0)
    with pytest.raises(ComputingFault):
        sweeps.widened(square, -1.5)


def test_closed_is_told_from_open() -> None:
    mesh = ball(2.0, 24)
    assert solids.is_closed(mesh)
    assert not solids.is_closed(Mesh(mesh.vertices_mm, mesh.faces[1:]))
    flipped = mesh.faces.copy()
    flipped[5] = flipped[5, ::-1]
    assert not solids.is_closed(Mesh(mesh.vertices_mm, flipped)), "a face wound against its neighbours"
    assert not solids.is_closed(Mesh(mesh.vertices_mm, mesh.faces[:0]))


def test_shells_are_parted_and_joined_again() -> None:
    one, two = box(1.0, 1.0, 1.0), ball(0.3, 16).moved(np.eye(3), np.array([5.0, 0.0, 0.0]))
    both = solids.joined([one, two])
    parts = solids.shells(both)
    assert [len(p.faces) for p in parts] == [len(one.faces), len(two.faces)]
    assert sum(solids.volume(p) for p in parts) == pytest.approx(solids.volume(both))


def test_union_difference_and_common_part_add_up() -> None:
    one, two = box(2.0, 2.0, 2.0), ball(1.0, 48).moved(np.eye(3), np.array([2.0, 1.0, 1.0]))
    union, common = solids.united([one, two]), solids.common(one, two)
    left = solids.without(one, [two])
    volumes = {name: solids.volume(m) for name, m in (("a", one), ("b", two), ("u", union), ("c", common), ("l", left))}
    assert volumes["u"] == pytest.approx(volumes["a"] + volumes["b"] - volumes["c"], rel=1e-9)
    assert volumes["l"] == pytest.approx(volumes["a"] - volumes["c"], rel=1e-9)
    assert volumes["c"] == pytest.approx(volumes["b"] / 2.0, rel=1e-6), "the face of the box halves the ball"
    assert solids.is_closed(union)


def test_the_gap_between_two_solids_is_found() -> None:
    one, two = box(1.0, 1.0, 1.0), box(1.0, 1.0, 1.0).moved(np.eye(3), np.array([1.25, 0.0, 0.0]))
    assert solids.gap(one, two, 5.0) == pytest.approx(0.25)
    assert solids.gap(one, two, 0.1) == pytest.approx(0.1)


def test_an_open_mesh_is_refused_for_boolean_work() -> None:
    mesh = ball(1.0, 12)
    with pytest.raises(ComputingFault, match="no closed manifold"):
        solids.to_manifold(Mesh(mesh.vertices_mm, mesh.faces[1:]))


def test_a_section_of_a_ball_is_a_circle() -> None:
    cut = solids.section(ball(3.0, 400), (0.0, 0.0, 1.0), (0.0, 0.0, 2.0))
    radius = np.hypot(cut[..., 0], cut[..., 1])
    assert radius == pytest.approx(np.full(radius.shape, np.sqrt(8.0)), rel=1e-4)
    around = np.linalg.norm(cut[:, 1] - cut[:, 0], axis=1).sum()
    assert around == pytest.approx(2.0 * np.pi * np.sqrt(8.0), rel=1e-3)
    assert solids.section(ball(3.0, 40), (0.0, 0.0, 9.0), (0.0, 0.0, 1.0)).shape == (0, 2, 3)


def test_a_section_through_vertices_still_closes() -> None:
    """The plane z = 0 holds a ring of the ball's vertices; each point must be met by an even number of ends."""
    cut = solids.section(ball(3.0, 40), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    _, times = np.unique(np.round(cut.reshape(-1, 3), 9), axis=0, return_counts=True)
    assert set(times % 2) == {0}


def test_points_are_spread_evenly_over_the_surface() -> None:
    """On a box each face gets its share by area, and the points' mean is the box's centre."""
    mesh = box(2.0, 3.0, 5.0)
    points = solids.spread_points(mesh, 6200)
    on_top = np.abs(points[:, 2] - 5.0) < 1e-9
    assert int(on_top.sum()) == pytest.approx(600, abs=3)
    assert points.mean(axis=0) == pytest.approx([1.0, 1.5, 2.5], abs=0.02)
    assert np.array_equal(points, solids.spread_points(mesh, 6200))


def test_convexity_tells_a_ring_from_a_ball() -> None:
    assert solids.convexity(ball(1.0, 32)) == pytest.approx(1.0, abs=1e-9)
    assert solids.convexity(sweeps.revolved(np.array([[9.0, -1.0], [10.0, -1.0], [10.0, 1.0], [9.0, 1.0]]), 64)) < 0.3
    flat = Mesh(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]]))
    assert solids.convexity(flat) == 0.0


def test_a_hull_faces_outward() -> None:
    points = np.random.default_rng(3).normal(size=(60, 3))
    mesh = solids.hull(points)
    assert solids.volume(mesh) > 0
    assert solids.is_closed(mesh)
    heights = (mesh.corners_mm[:, 0] * solids.face_normals(mesh)).sum(axis=1)
    assert (points @ solids.face_normals(mesh).T - heights).max() < 1e-9
