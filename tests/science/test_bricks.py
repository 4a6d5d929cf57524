"""Elasticity on bricks: exact where it must be, close to the handbook where that is close to the truth."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.bricks import (
    NODES,
    Voxels,
    bricks_of,
    held_at_three,
    lame,
    residual,
    shapes,
    slopes,
    stiffness,
    within,
)  # fmt: skip
from ringwright.science.fronts import factors
from ringwright.terms.body import Floats
from ringwright.terms.mistake import ComputingFault
from tests.agrees import agrees
from tests.science.test_tetrahedra import pinched as by_tetrahedra
from tests.science.tetrahedra.elastic import quadratic
from tests.science.tetrahedra.tetra import fill
from tests.science.voxelled import solved, voxels

E_GPA, NU = 90.0, 0.42


def bar(p: Floats) -> Floats:
    """A round bar of radius 0.5 mm along x, 6 mm long, its middle beside those of the cells."""
    return np.minimum(0.5 - np.hypot(p[:, 1] - 0.013, p[:, 2] + 0.021), 3.0 - np.abs(p[:, 0]))


def torus(p: Floats) -> Floats:
    return 0.8 - np.hypot(np.hypot(p[:, 0], p[:, 1]) - 9.4, p[:, 2])


@pytest.fixture(scope="module")
def round_bar() -> Voxels:
    return voxels(bar, np.array([-3.0, -0.6, -0.6]), np.array([3.0, 0.6, 0.6]), 0.1)


@pytest.fixture(scope="module")
def ring() -> Voxels:
    return voxels(torus, np.array([-10.35, -10.35, -0.9]), np.array([10.35, 10.35, 0.9]), 0.15)


def test_the_shape_functions_are_those_of_a_brick() -> None:
    """One at their own node and nothing at the others; their slopes are those of differences."""
    assert shapes(NODES.astype(float)) == pytest.approx(np.eye(20))
    at = np.random.default_rng(3).uniform(-1.0, 1.0, (7, 3))
    for axis in range(3):
        step = 1e-6 * np.eye(3)[axis]
        assert slopes(at)[:, axis] == pytest.approx((shapes(at + step) - shapes(at - step)) / 2e-6, abs=1e-8)


def test_the_stiffness_of_a_cell_is_that_of_its_voxels() -> None:
    """The slow twin adds up every voxel, at eight points each: full ones, and none partly full."""
    share = np.zeros((4, 4, 4), np.float32)
    share[:3, 1:, :] = 1.0
    share[0, 1, 0] = 0.0
    bricks = bricks_of(Voxels(np.zeros(3), 0.2, share), 4)
    found = stiffness(bricks, E_GPA, NU)[0]
    first, shear = lame(E_GPA, NU)
    gauss = np.array(list(np.ndindex(3, 3, 3)))
    roots, weights = np.polynomial.legendre.leggauss(3)
    slow = np.zeros((20, 3, 20, 3))
    for full in (np.argwhere(share > 0), np.argwhere(share >= 0)):
        factor = 1.0 - 1e-5 if len(full) < share.size else 1e-5
        for where in full:
            at = ((where + 0.5 + roots[gauss] / 2.0) / 2.0) - 1.0
            for g, w in zip(slopes(at) / 0.4, weights[gauss].prod(axis=1) * factor * 0.1**3, strict=True):
                outer = np.einsum("ra,cb->arbc", g, g)
                slow += w * (first * outer + shear * outer.transpose(0, 3, 2, 1))
                slow += w * shear * np.einsum("ra,rb->ab", g, g)[:, None, :, None] * np.eye(3)[None, :, None, :]
    assert found == pytest.approx(slow.reshape(60, 60), rel=1e-9, abs=1e-9 * np.abs(slow).max())


def test_the_factors_solve_as_a_dense_system_does(round_bar: Voxels) -> None:
    bricks = bricks_of(round_bar, 6)
    matrix = stiffness(bricks, E_GPA, NU)
    n = 3 * len(bricks.points_mm)
    dense = np.zeros((n, n))
    dof = (3 * bricks.cells[:, :, None] + np.arange(3)).reshape(-1, 60)
    for at, k in zip(dof, matrix, strict=True):
        dense[np.ix_(at, at)] += k
    fixed = held_at_three(bricks)
    forces = np.random.default_rng(4).normal(size=(len(bricks.points_mm), 3, 2))
    free = np.flatnonzero(~fixed.ravel())
    wanted = np.linalg.solve(dense[np.ix_(free, free)], forces.reshape(n, 2)[free])
    found = factors(bricks.cells, bricks.places, matrix, fixed).solve(forces)
    assert found.reshape(n, 2)[free] == pytest.approx(wanted, rel=1e-6, abs=1e-6 * np.abs(wanted).max())
    assert residual(bricks, matrix, found, forces, fixed) < 1e-8
    assert residual(bricks, matrix, 1.01 * found, forces, fixed) > 5e-3


def test_a_rigid_motion_costs_no_force_and_an_even_strain_is_met_exactly(round_bar: Voxels) -> None:
    bricks = bricks_of(round_bar, 8)
    matrix, p = stiffness(bricks, E_GPA, NU), bricks.points_mm
    rigid = np.stack([np.tile([1.0, 0, 0], (len(p), 1)), np.cross([0, 0, 1.0], p), np.cross([1.0, 0, 0], p)], axis=2)
    forces = matrix @ rigid[bricks.cells].reshape(len(matrix), 60, 3)
    assert np.abs(forces).max() < 1e-9 * np.abs(matrix).max()
    gradient = np.array([[1e-3, 2e-4, 0], [-3e-4, 5e-4, 1e-4], [0, 2e-4, -4e-4]])
    inside = np.array([[0.3, 0.1, -0.2], [-2.9, 0.4, 0.1], [2.0, -0.3, -0.3]])
    first, shear = lame(E_GPA, NU)
    wanted = shear * (gradient + gradient.T) + first * np.trace(gradient) * np.eye(3)
    stress = within(bricks, inside).stress((p @ gradient.T)[:, :, None], first, shear)[:, :, 0]
    assert stress == pytest.approx(np.tile(wanted[[0, 1, 2, 0, 1, 2], [0, 1, 2, 1, 2, 0]], (3, 1)))
    assert within(bricks, inside).moved((p @ gradient.T)[:, :, None])[:, :, 0] == pytest.approx(inside @ gradient.T)


def test_the_metal_of_all_cells_is_that_of_the_voxels_wherever_cells_begin(round_bar: Voxels) -> None:
    for per in (4, 5, 7, 12):
        bricks = bricks_of(round_bar, per)
        volume = bricks.filled.sum() * bricks.edge_mm**3
        assert volume == pytest.approx(float(round_bar.share.sum()) * 0.1**3, rel=2e-3)
    assert volume == pytest.approx(np.pi * 0.25 * 6.0, rel=3e-3)


def test_a_gap_through_a_cell_parts_it_and_a_loose_crumb_is_left_out() -> None:
    """Two plates of 0.3 mm, 0.2 mm apart and joined at one end only, in cells of 0.8 mm."""
    share = np.zeros((32, 8, 8), np.float32)
    share[:, 0:3, :] = share[:, 5:8, :] = 1.0
    share[:4] = 1.0
    hairpin = Voxels(np.zeros(3), 0.1, share)
    bricks = bricks_of(hairpin, 8, stands_on=0)
    assert len(bricks.cells) == 7, "one cell at the joint, two each after it"
    ends = np.array([[3.2, 0.0, 0.4], [3.2, 0.8, 0.4]])
    apart = np.zeros((2, 3, 1))
    apart[:, 1, 0] = (-1.0, 1.0)
    fixed = np.repeat((bricks.points_mm[:, 0] < 1e-6)[:, None], 3, axis=1)
    moved = solved(bricks, stiffness(bricks, E_GPA, 0.0), fixed, ends, apart)
    opens = np.diff(within(bricks, ends).moved(moved)[:, 1, 0])[0]
    # Two cantilevers of 2.8 mm: 2 F l³ / 3 E I; somewhat less, as the cell at their root is one and bends but one way.
    alone = 2.0 * 2.8**3 / (3 * 90e3 * 0.8 * 0.3**3 / 12)
    assert 0.65 * alone < opens < alone
    share[20:24, 3:5, :] = 1.0
    closed = bricks_of(Voxels(np.zeros(3), 0.1, share), 8, stands_on=0)
    fixed = np.repeat((closed.points_mm[:, 0] < 1e-6)[:, None], 3, axis=1)
    moved = solved(closed, stiffness(closed, E_GPA, 0.0), fixed, ends, apart)
    assert np.diff(within(closed, ends).moved(moved)[:, 1, 0])[0] < 0.3 * alone
    loose = np.zeros((32, 8, 8), np.float32)
    loose[:8] = loose[20:22, :2, :2] = 1.0
    assert len(bricks_of(Voxels(np.zeros(3), 0.1, loose), 8).cells) == 1


def test_nothing_to_fill_and_nothing_to_hang_on_are_told(round_bar: Voxels) -> None:
    with pytest.raises(ComputingFault, match="any metal"):
        bricks_of(Voxels(np.zeros(3), 0.1, np.zeros((8, 8, 8), np.float32)), 8)
    bricks = bricks_of(round_bar, 12)
    with pytest.raises(ComputingFault, match="hangs on nothing"):
        factors(bricks.cells, bricks.places, -stiffness(bricks, E_GPA, NU), np.zeros((len(bricks.points_mm), 3), bool))


@pytest.mark.parametrize("per", [5, 10])
def test_a_round_cantilever_bends_as_in_the_handbook(round_bar: Voxels, per: int) -> None:
    bricks = bricks_of(round_bar, per, stands_on=0)
    fixed = np.repeat((bricks.points_mm[:, 0] < -3.0 + 1e-6)[:, None], 3, axis=1)
    tip = np.array([[3.0, 0.013, -0.021]])
    moved = solved(bricks, stiffness(bricks, E_GPA, 0.0), fixed, tip, np.array([[[0.0], [0.0], [5.0]]]))
    at = np.array([[2.9, 0.013, -0.021], [0.0, 0.013, 0.429]])
    # Timoshenko: F (l a² / 2 - a³ / 6) / EI + F a / (κ G A), κ = 6(1+ν)/(7+6ν) of a round section, a = 5.9 mm on.
    second, area, length, along = np.pi * 0.5**4 / 4, np.pi * 0.25, 6.0, 5.9
    bend = 5.0 * (length * along**2 / 2 - along**3 / 6) / (90e3 * second) + 5.0 * along / (6 / 7 * 45e3 * area)
    there = within(bricks, at)
    agrees(there.moved(moved)[0, 2, 0], bend, within=0.01, what=f"round cantilever, cells of {per / 10} mm",
           source="S. Timoshenko, Strength of Materials: cantilever with shear")  # fmt: skip
    stress = there.stress(moved, *lame(E_GPA, 0.0))
    agrees(float(-stress[1, 0, 0]), 5.0 * 3.0 * 0.45 / second, within=0.02, what="the same, stress in the middle (MPa)",
           source="S. Timoshenko, Strength of Materials: M y / I")  # fmt: skip


def pinched(ring: Voxels, per: int, newton: float) -> tuple[float, float]:
    """How much shorter and wider a torus gets by two forces at top and bottom, each over 1.4 mm of its outside."""
    bricks = bricks_of(ring, per)
    x = np.linspace(-0.7, 0.7, 15)
    top = np.column_stack([x, np.sqrt(10.2**2 - x**2), np.zeros(15)])
    forces = np.zeros((30, 3, 1))
    forces[:15, 1, 0], forces[15:, 1, 0] = -newton / 15, newton / 15
    matrix = stiffness(bricks, E_GPA, NU)
    moved = solved(bricks, matrix, held_at_three(bricks), np.concatenate([top, top * [1, -1, 1]]), forces)
    u = within(bricks, np.array([[0.0, 9.4, 0], [0, -9.4, 0], [9.4, 0, 0], [-9.4, 0, 0]])).moved(moved)[:, :, 0]
    return float(u[1, 1] - u[0, 1]), float(u[2, 0] - u[3, 0])


@pytest.mark.parametrize("per", [5, 8])
def test_a_pinched_ring_gives_as_the_thin_ring_formula_says(ring: Voxels, per: int) -> None:
    shorter, wider = pinched(ring, per, 50.0)
    unit = 50.0 * 9.4**3 / (90e3 * np.pi * 0.8**4 / 4)
    source, cells = (
        "R. J. Roark, Formulas for Stress and Strain: ring under two opposite loads",
        f"cells of {0.15 * per} mm",
    )
    short, wide = (np.pi / 4 - 2 / np.pi) * unit, (2 / np.pi - 0.5) * unit
    agrees(shorter, short, within=0.03, what=f"pinched ring, shortening (mm), {cells}", source=source)
    agrees(wider, wide, within=0.03, what=f"pinched ring, widening (mm), {cells}", source=source)


def test_a_pinched_ring_gives_as_tetrahedra_say(ring: Voxels) -> None:
    """The second way shares nothing with the bricks: cells that follow the surface, and iteration."""
    mesh = quadratic(fill(torus, np.array([-10.2, -10.2, -0.8]), np.array([10.2, 10.2, 0.8]), 0.55), torus)
    shorter, wider, _ = by_tetrahedra(mesh, 50.0)
    for per in (5, 8):
        assert pinched(ring, per, 50.0) == pytest.approx((shorter, wider), rel=0.015)
