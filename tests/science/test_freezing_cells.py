"""The octree's cells, their links, the rows and the multigrid, against plain twins and closed forms."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import scipy.sparse as sp

from ringwright.science.freezing import Cells, Grading, Room, cells_of
from ringwright.science.freezing.crew import Crew
from ringwright.science.freezing.grids import STEEPNESS, System
from ringwright.science.freezing.rows import Rows, rows_of
from ringwright.terms.mistake import BadInput
from tests.science import shapes

ROOM = Room(radius_mm=9.6, bottom_mm=-9.6, top_mm=9.6)


@cache
def ball_cells(h: float = 0.4) -> Cells:
    moved = shapes.ball(2.0).moved(np.eye(3), np.array([0.123, 0.071, 0.039]))
    return cells_of(moved, ROOM, Grading(h_mm=h, largest_mm=1.7))


def matrix(rows: Rows, values: np.ndarray) -> sp.csr_array:
    n = rows.count
    return sp.coo_array((values, (rows.row_of, rows.other.astype(np.int64))), shape=(n, n)).tocsr()


def test_volume_and_surface_are_those_of_the_ball() -> None:
    cells = ball_cells()
    assert cells.volume_mm3[: cells.metal].sum() == pytest.approx(4 / 3 * np.pi * 8, rel=0.004)
    cut = cells.links.across_mm2[cells.links.across_row < cells.metal].sum()
    # Where a cell is cut the piece of surface; where two whole cells of either medium meet, the face's shadow.
    assert cut == pytest.approx(16 * np.pi, rel=0.02)


def test_the_room_is_filled_once() -> None:
    cells = ball_cells()
    assert cells.volume_mm3.sum() == pytest.approx(np.pi * 9.6**2 * 19.2, rel=0.05)
    finest = np.floor(cells.centre_mm[cells.volume_mm3 >= cells.edge_mm.astype(float) ** 3 * 0.999] / 0.4 * 2)
    assert len(np.unique(finest, axis=0)) == len(finest)


def test_walls_have_the_area_of_the_cylinder() -> None:
    cells = ball_cells()
    side, top, bottom = (cells.wall_mm2[cells.wall_side == s].sum() for s in range(3))
    assert side == pytest.approx(2 * np.pi * 9.6 * 19.2, rel=1e-6)
    assert top == pytest.approx(bottom)
    assert top == pytest.approx(np.pi * 9.6**2, rel=0.05)
    assert (np.hypot(*cells.centre_mm[cells.wall_cell[cells.wall_side == 0], :2].T) > 7).all()


def test_links_go_both_ways_and_stay_within_a_medium() -> None:
    cells = ball_cells()
    links = cells.links
    reach = matrix(links.rows, links.reach_mm)
    assert abs(reach - reach.T).max() < 1e-6
    row, other = links.rows.row_of, links.rows.other.astype(np.int64)
    mixed = (row < cells.metal) != (other < cells.metal)
    assert (links.reach_mm[mixed] == 0).all()
    across = np.zeros(len(other), bool)
    across[links.across] = True
    assert (across == mixed).all()
    area = np.zeros(len(other))
    area[links.across] = links.across_mm2
    both = matrix(links.rows, area)
    assert abs(both - both.T).max() < 1e-6


def test_a_temperature_that_rises_evenly_is_in_balance_in_whole_cells() -> None:
    """Between leaves of one size the flux of a linear temperature is exact."""
    cells = ball_cells()
    links = cells.links
    row, other = links.rows.row_of, links.rows.other.astype(np.int64)
    flux = links.reach_mm * (cells.centre_mm[other, 2] - cells.centre_mm[row, 2])
    net = np.bincount(row, weights=flux, minlength=cells.count)
    same = np.ones(cells.count, bool)
    np.logical_and.at(same, row, (cells.edge_mm[row] == cells.edge_mm[other]) | (row == other))
    np.logical_and.at(same, row[links.across], False)
    cut = np.zeros(cells.count, bool)
    cut[links.across_row] = True
    np.logical_and.at(same, row, ~cut[other])
    same[cells.wall_cell] = False
    assert same.sum() > 300
    assert abs(net[same]).max() < 1e-5


def test_rows_do_what_a_plain_matrix_does() -> None:
    rng = np.random.default_rng(3)
    n = 50
    length = rng.integers(0, 14, n)
    start = np.concatenate([[0], np.cumsum(length)]).astype(np.int32)
    other = rng.integers(0, n, start[-1]).astype(np.int32)
    rows, place = rows_of(start, other)
    values = rng.random(start[-1])
    ours = np.zeros(len(rows.other))
    ours[place] = values
    plain = sp.csr_array((values, other, start), shape=(n, n))
    assert abs(matrix(rows, ours) - plain).max() < 1e-12
    assert rows.count == n


def _filled(system: System, cells: Cells) -> sp.csr_array:
    fine = system.levels[0]
    fine.conductance[:] = cells.links.reach_mm * np.where(cells.medium[cells.links.rows.row_of] == 0, 100.0, 0.4)
    fine.conductance[cells.links.across] = cells.links.across_mm2 * 0.5
    fine.mass[:] = cells.volume_mm3 * 3.0
    system.conduct()
    system.weigh()
    out = np.bincount(fine.rows.row_of, weights=fine.conductance)
    return sp.csr_array(sp.diags_array(out + fine.mass) - matrix(fine.rows, fine.conductance.astype(float)))


@pytest.mark.parametrize("hands", [1, 2])
def test_the_solver_does_what_a_direct_one_does(hands: int) -> None:
    cells = ball_cells()
    rng = np.random.default_rng(5)
    with Crew(hands) as crew:
        system = System(cells, crew)
        plain = _filled(system, cells)
        b = rng.normal(size=cells.count).astype(np.float32)
        system.levels[0].r[:] = b
        x = np.zeros(cells.count, np.float32)
        first, _, _ = system.solve(x.copy(), np.inf, 0)
        left, gain, turns = system.solve(x, 1e-9 * first, 60)
    slow = sp.linalg.spsolve(plain.tocsc(), b.astype(float))
    assert left <= 1e-9 * first
    assert turns < 25
    assert np.linalg.norm(x - slow) < 1e-3 * np.linalg.norm(slow)
    assert gain == pytest.approx(float(b @ slow), rel=1e-3)


def test_a_coarser_level_is_the_weighed_sum_over_its_cubes() -> None:
    """Links between cubes are sums, less by a power of how much farther apart the cubes lie than their cells."""
    cells = ball_cells()
    with Crew(1) as crew:
        system = System(cells, crew)
        _filled(system, cells)
        fine, coarse = system.levels[0], system.levels[1]
    assert fine.above is not None
    above = fine.above.astype(np.int64)
    row, other = fine.rows.row_of, fine.rows.other.astype(np.int64)
    size = cells.edge_mm.astype(float)
    cube = np.maximum(size, 2 * size.min())
    less = ((size[row] + size[other]) / (cube[row] + cube[other])) ** STEEPNESS
    between = above[row] != above[other]
    joined = (fine.conductance * less)[between], (above[row][between], above[other][between])
    plain = sp.coo_array(joined, shape=(coarse.count, coarse.count)).tocsr()
    ours = matrix(coarse.rows, coarse.conductance.astype(float))
    assert abs(plain - ours).max() < 1e-4 * plain.max()
    assert np.allclose(coarse.mass, np.bincount(above, weights=fine.mass))
    assert np.allclose(coarse.out, ours.sum(axis=1), rtol=1e-4)
    assert len(system.levels) >= 3


def test_metal_outside_the_flask_is_refused() -> None:
    with pytest.raises(BadInput, match="outside the flask"):
        cells_of(shapes.ball(1.0).moved(np.eye(3), np.array([40.0, 0, 0])), ROOM, Grading(h_mm=0.4))


def test_a_fault_of_a_hand_is_raised() -> None:
    def bad(first: int, last: int) -> None:
        if first:
            raise ZeroDivisionError

    with Crew(2) as crew, pytest.raises(ZeroDivisionError):
        crew(bad, (0, 1, 2))


def test_metal_thinner_than_a_cell_is_not_cut_off() -> None:
    """A plate within one layer of cells, whose corners all lie outside of it, gives its heat to the mould."""
    cells = cells_of(shapes.block(4, 4, 0.12).moved(np.eye(3), np.array([0.05, 0.03, 0.2])), ROOM, Grading(h_mm=0.4))
    links = cells.links
    linked = np.bincount(links.rows.row_of, weights=links.reach_mm, minlength=cells.count)
    linked += np.bincount(links.across_row, weights=links.across_mm2, minlength=cells.count)
    assert cells.metal > 60
    assert (linked > 0).all()
