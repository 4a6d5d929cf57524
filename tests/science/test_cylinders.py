"""The largest cylinder through a body: found however it is turned, bars and flats heeded, and none where none is."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science import cylinders, solids, sweeps
from ringwright.terms.body import Mesh
from tests.science.test_solids import ball, rotation

FLAT = np.array([[9.0, -2.0], [10.0, -2.0], [10.0, 2.0], [9.0, 2.0]])


def rounded(rise: float, half: float = 3.0) -> np.ndarray:
    z = np.linspace(-half, half, 25)
    return np.concatenate([np.stack([9.0 + rise * z**2, z], axis=1), [[10.5, half], [10.5, -half]]])


def found(mesh: Mesh) -> cylinders.Through:
    through = cylinders.largest_through(mesh)
    assert through is not None
    return through


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    "section", [FLAT, rounded(0.02), FLAT * [1.0, 3.5]], ids=["flat", "rounded inside", "as wide as long"]
)
def test_the_radius_and_the_axis_are_found_however_the_body_is_turned(section: np.ndarray, seed: int) -> None:
    scale = (1.0, 0.03937, 25.4)[seed]
    turn = rotation(seed)
    mesh = sweeps.revolved(section, 128).moved(turn * scale, scale * np.array([5.0, -3.0, 40.0]))
    through = found(mesh)
    assert through.radius / scale == pytest.approx(9.0, abs=1e-4)
    assert abs(through.axis @ turn[:, 2]) == pytest.approx(1.0, abs=1e-6)
    away = cylinders.distances(scale * np.array([[5.0, -3.0, 40.0]]), through.point, through.axis)[0]
    assert float(away[0]) / scale == pytest.approx(0.0, abs=1e-3)
    assert through.walled == 1.0


def test_vertices_tell_the_hole_that_was_meant_and_facets_what_passes() -> None:
    """24 facets: the inscribed circle is shorter by the cosine of half the angle between vertices."""
    through = found(sweeps.revolved(FLAT, 24).moved(rotation(7), np.zeros(3)))
    assert through.radius == pytest.approx(9.0, abs=1e-6)
    assert through.facet_radius == pytest.approx(9.0 * np.cos(np.pi / 24.0), abs=1e-6)


def test_a_bar_across_the_hole_whose_vertices_lie_outside_it_is_heeded() -> None:
    """A block comes 1 mm into the hole; its corners lie far off. What passes is 17 mm wide."""
    block = sweeps.prism(np.array([[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]]), -5.0, 5.0)
    ring = solids.united([sweeps.revolved(FLAT, 256), block.moved(np.eye(3), np.array([0.0, 13.0, 0.0]))])
    through = found(ring.moved(rotation(1), np.zeros(3)))
    assert through.radius == pytest.approx(8.5, abs=1e-3)


def test_a_square_hole_takes_the_circle_between_its_sides() -> None:
    outer = 12.0 * np.stack([np.cos(sweeps.turns(64)), np.sin(sweeps.turns(64))], axis=1)
    square = np.array([[-8.0, -8.0], [8.0, -8.0], [8.0, 8.0], [-8.0, 8.0]])
    through = found(sweeps.prism(outer, 0.0, 3.0, [square]).moved(rotation(2), np.zeros(3)))
    assert through.radius == pytest.approx(8.0, abs=1e-3)


def test_a_ring_may_be_open_by_less_than_a_quarter() -> None:
    wedge = np.array([[0.0, 0.0], [40.0, 14.0], [40.0, -14.0]])
    ring = solids.without(sweeps.revolved(FLAT, 256), [sweeps.prism(wedge, -5.0, 5.0)])
    through = found(ring.moved(rotation(3), np.zeros(3)))
    assert through.radius == pytest.approx(9.0, abs=2e-3)
    assert 0.85 < through.walled < 0.92, "38.6 of 360 degrees are open"


def test_the_finger_wins_over_a_smaller_hole() -> None:
    side = sweeps.revolved(np.array([[2.0, -1.0], [3.0, -1.0], [3.0, 1.0], [2.0, 1.0]]), 64)
    turned = side.moved(np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]]), np.array([0.0, 12.0, 0.0]))
    ring = solids.united([sweeps.revolved(FLAT, 128), turned])
    assert found(ring.moved(rotation(4), np.zeros(3))).radius == pytest.approx(9.0, abs=1e-3)


@pytest.mark.parametrize("mesh", [ball(3.0, 40), sweeps.turned(np.array(
    [[0.0, 0.0], [10.0, 0.0], [10.0, 9.0], [9.0, 9.0], [9.0, 1.0], [0.0, 1.0]]), 64)], ids=["ball", "cup"])  # fmt: skip
def test_nothing_is_found_where_nothing_passes(mesh: Mesh) -> None:
    assert cylinders.largest_through(mesh.moved(rotation(5), np.zeros(3))) is None


def test_the_rough_radius_is_near_and_never_larger() -> None:
    mesh = sweeps.revolved(FLAT, 128).moved(rotation(6), np.zeros(3))
    rough = cylinders.rough_radius(mesh)
    assert rough is not None
    assert 8.0 < rough < 9.3


@pytest.mark.parametrize("seed", range(6))
def test_the_empty_circle_is_that_of_the_slow_twin(seed: int) -> None:
    from ringwright.science.empty_circles import empty_circle

    rng = np.random.default_rng(seed)
    ring = np.ascontiguousarray(sweeps.revolved(FLAT, 64).vertices_mm.T)
    points = [ring, rng.normal(size=(3, 400)), np.concatenate([ring, ring * 0.4 + 3.0], axis=1)][seed % 3]
    found = 0
    for _ in range(40):
        axis = rng.normal(size=3)
        frame = cylinders._frame(axis / np.linalg.norm(axis))
        told = cylinders.look_slow(points, frame)
        (first, second), radius = empty_circle(points, frame, cylinders.RASTER, cylinders.SECTORS, cylinders.SURROUNDED)
        if told is None:
            assert radius == 0.0
        else:
            found += 1
            assert (first, second) == pytest.approx(tuple(told[0]), abs=1e-9) and radius == pytest.approx(told[1])
    assert found > 0


@pytest.mark.parametrize("k", [2, 4])
def test_the_highest_place_under_planes_is_that_of_a_general_linear_programme(k: int) -> None:
    """Against SciPy's HiGHS (which lets a bound be overrun by 1e-7), on random planes that each stand there twice."""
    from scipy.optimize import linprog

    rng = np.random.default_rng(3)
    for n in (1, 2, 7, 60, 900):
        for step in (0.1, 1e-3, 1e-6):
            slopes, heights = rng.normal(size=(n, k)), 0.5 + rng.uniform(0.0, 2.0 * step, n)
            slopes[n // 2 :], heights[n // 2 :] = slopes[: n - n // 2], heights[: n - n // 2]
            own = cylinders.highest(slopes, heights, step)
            rows = np.hstack([slopes, np.ones((n, 1))])
            bounds = [(-step, step)] * k + [(None, None)]
            known = linprog(np.append(np.zeros(k), -1.0), A_ub=rows, b_ub=heights, bounds=bounds, method="highs")
            assert own is not None
            assert own[-1] == pytest.approx(-known.fun, abs=2e-7)
            assert (rows @ own <= heights + 1e-11).all()
            assert (np.abs(own[:-1]) <= step + 1e-11).all()
