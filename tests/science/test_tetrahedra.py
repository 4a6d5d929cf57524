"""Linear elasticity: exact where it must be, close to the handbook where that is close to the truth."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.terms.body import Floats
from tests.agrees import agrees
from tests.science.tetrahedra.elastic import Quadratic, face_forces, held_at_three, quadratic, solve, stiffness
from tests.science.tetrahedra.tetra import fill

E_GPA, NU = 90.0, 0.42


def bar(p: Floats) -> Floats:
    """A round bar of radius 0.5 mm along x, 6 mm long."""
    return np.minimum(0.5 - np.hypot(p[:, 1], p[:, 2]), 3.0 - np.abs(p[:, 0]))


def torus(p: Floats) -> Floats:
    return 0.8 - np.hypot(np.hypot(p[:, 0], p[:, 1]) - 9.4, p[:, 2])


@pytest.fixture(scope="module")
def bar_mesh() -> Quadratic:
    return quadratic(fill(bar, np.array([-3, -0.5, -0.5]), np.array([3, 0.5, 0.5]), 0.2), bar)


@pytest.fixture(scope="module")
def ring_mesh() -> Quadratic:
    return quadratic(fill(torus, np.array([-10.2, -10.2, -0.8]), np.array([10.2, 10.2, 0.8]), 0.55), torus)


def test_a_rigid_motion_costs_no_force(bar_mesh: Quadratic) -> None:
    matrix = stiffness(bar_mesh, E_GPA, NU)
    p = bar_mesh.points_mm
    motions = np.stack([np.tile([1.0, 0, 0], (len(p), 1)), np.cross([0, 0, 1.0], p), np.cross([1.0, 0, 0], p)], axis=2)
    forces = matrix.times(motions)
    scale = np.abs(matrix.blocks).max()
    assert np.abs(forces).max() < 1e-9 * scale


def test_an_even_strain_is_met_exactly() -> None:
    """The patch test, on straight elements: linear displacements on the skin give that strain everywhere inside."""
    bar_mesh = quadratic(fill(bar, np.array([-3, -0.5, -0.5]), np.array([3, 0.5, 0.5]), 0.3))
    matrix = stiffness(bar_mesh, E_GPA, NU)
    p = bar_mesh.points_mm
    gradient = np.array([[1e-3, 2e-4, 0], [-3e-4, 5e-4, 1e-4], [0, 2e-4, -4e-4]])
    wanted = (p @ gradient.T)[:, :, None]
    fixed = np.zeros((len(p), 3), bool)
    fixed[np.unique(bar_mesh.skin_faces)] = True
    # Hold the skin: the load is what the held displacements put on the free nodes.
    held = np.where(fixed[:, :, None], wanted, 0.0)
    answer = solve(matrix, -matrix.times(held), fixed)
    assert np.abs(answer.moved_mm + held - wanted).max() < 1e-4 * np.abs(wanted).max()
    assert answer.residual < 1e-5


def test_a_round_cantilever_bends_as_in_the_handbook(bar_mesh: Quadratic) -> None:
    matrix = stiffness(bar_mesh, E_GPA, 0.0)
    p = bar_mesh.points_mm
    faces = bar_mesh.skin_faces
    tip = faces[(p[faces[:, :3], 0] > 2.999).all(axis=1)]
    fixed = np.repeat((p[:, 0] < -2.999)[:, None], 3, axis=1)
    answer = solve(matrix, face_forces(bar_mesh, tip, np.array([0, 0, 5.0]))[:, :, None], fixed)
    # Timoshenko: F l³ / 3EI + F l / (κ G A), κ = 6(1+ν)/(7+6ν) of a round section, with the volume that was meshed.
    second, area = np.pi * 0.5**4 / 4, np.pi * 0.25
    bend = 5.0 * 6**3 / (3 * 90e3 * second) + 5.0 * 6 / (6 / 7 * 45e3 * area)
    ours = answer.moved_mm[p[:, 0] > 2.999, 2, 0].mean()
    agrees(ours, bend, within=0.02, what="tip of a round cantilever (mm)",
           source="S. Timoshenko, Strength of Materials: cantilever with shear")  # fmt: skip


def pinched(mesh: Quadratic, newton: float) -> tuple[float, float, float]:
    p, faces = mesh.points_mm, mesh.skin_faces
    middle = p[faces[:, :3]].mean(axis=1)
    top = faces[(middle[:, 1] > 10.0) & (np.abs(middle[:, 0]) < 0.7)]
    bottom = faces[(middle[:, 1] < -10.0) & (np.abs(middle[:, 0]) < 0.7)]
    force = np.array([0, -newton, 0])
    load = face_forces(mesh, top, force) + face_forces(mesh, bottom, -force)
    answer = solve(stiffness(mesh, E_GPA, NU), load[:, :, None], held_at_three(mesh))

    def at(place: list[float]) -> Floats:
        return answer.moved_mm[np.argmin(np.linalg.norm(p - place, axis=1)), :, 0]

    shorter = at([0, -9.4, 0])[1] - at([0, 9.4, 0])[1]
    wider = at([9.4, 0, 0])[0] - at([-9.4, 0, 0])[0]
    return float(shorter), float(wider), answer.residual


def test_a_pinched_ring_gives_as_the_thin_ring_formula_says(ring_mesh: Quadratic) -> None:
    shorter, wider, residual = pinched(ring_mesh, 50.0)
    second = np.pi * 0.8**4 / 4
    unit = 50.0 * 9.4**3 / (90e3 * second)
    source = "R. J. Roark, Formulas for Stress and Strain: ring under two opposite loads"
    agrees(shorter, (np.pi / 4 - 2 / np.pi) * unit, within=0.03, what="pinched ring, shortening (mm)", source=source)
    agrees(wider, (2 / np.pi - 0.5) * unit, within=0.03, what="pinched ring, widening (mm)", source=source)
    assert residual < 1e-5
