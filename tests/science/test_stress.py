"""Stress at a surface: exact for an even and a linear field, and against its slow twin."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science import tetra10
from ringwright.science.elastic import quadratic, stiffness
from ringwright.science.stress import _fitted, at_surface, mises
from ringwright.science.tetra import fill
from tests.agrees import agrees

E_GPA, NU = 90.0, 0.3


def test_a_linear_field_is_met_exactly_and_a_jump_is_levelled() -> None:
    rng = np.random.default_rng(5)
    places = rng.uniform(0.0, 4.0, (4000, 3))
    volumes = rng.uniform(0.5, 1.5, 4000)
    slope = np.array([[3.0, -1.0], [0.5, 2.0], [-2.0, 0.0]])
    at = np.concatenate([rng.uniform(0.8, 3.2, (20, 3)), [[0.0, 2.0, 2.0], [0.0, 0.0, 0.0]]])
    found = _fitted(places, volumes, 7.0 + places @ slope, at, 0.8)
    # The fit is held level by a thousandth, which shows at faces and corners, where the places lie to one side.
    assert found == pytest.approx(7.0 + at @ slope, abs=0.08)
    jump = _fitted(places, volumes, (places[:, :1] > 2.0).astype(float), np.array([[2.0, 2.0, 2.0]]), 0.8)
    assert jump[0, 0] == pytest.approx(0.5, abs=0.06)


def test_the_fit_is_that_of_least_squares() -> None:
    """The slow twin solves each place's least squares by itself."""
    rng = np.random.default_rng(6)
    places, volumes = rng.uniform(0.0, 2.0, (600, 3)), rng.uniform(0.5, 1.5, 600)
    values = np.sin(3.0 * places[:, :1]) + places[:, 1:2] ** 2
    at = rng.uniform(0.0, 2.0, (15, 3))
    found = _fitted(places, volumes, values, at, 0.7)
    for p, ours in zip(at, found, strict=True):
        off = places - p
        near = np.linalg.norm(off, axis=1) < 0.7
        if near.sum() < 12:
            continue
        weight = np.sqrt(volumes[near] * (1.0 - (off[near] ** 2).sum(axis=1) / 0.49))
        basis = np.column_stack([np.ones(near.sum()), off[near]])
        level = np.sqrt(1e-3 * 0.49 * (weight**2).sum()) * np.eye(4)[1:]
        left = np.vstack([basis * weight[:, None], level])
        right = np.concatenate([values[near, 0] * weight, np.zeros(3)])
        assert ours[0] == pytest.approx(np.linalg.lstsq(left, right)[0][0], rel=1e-9)


def test_the_stress_of_an_even_and_of_a_bent_solid() -> None:
    """Displacements that are known give stresses that are known: an even stretch, and pure bending about z."""
    mesh = quadratic(fill(lambda p: 1.0 - np.abs(p).max(axis=1), np.full(3, -1.0), np.full(3, 1.0), 0.5))
    x, y, z = mesh.points_mm.T
    even = np.column_stack([1e-3 * x, -NU * 1e-3 * y, -NU * 1e-3 * z])
    k = 1e-3
    bent = np.column_stack([-k * x * y, 0.5 * k * (x**2 + NU * (y**2 - z**2)), NU * k * y * z])
    matrix = stiffness(mesh, E_GPA, NU)
    found = at_surface(matrix, np.stack([even, bent], axis=2), 0.7)
    assert found.stress_MPa[:, 0, 0] == pytest.approx(90.0)
    assert np.abs(found.stress_MPa[:, 1:, 0]).max() < 1e-6
    assert mises(found.stress_MPa[:, :, 0]) == pytest.approx(90.0)
    agrees(
        float(np.abs(found.stress_MPa[:, 0, 1] + 90e3 * k * mesh.points_mm[found.nodes, 1]).max()), 0.0, within=1.0,
        absolute=True, what="pure bending, worst miss of the stress at the skin of 90 MPa",
        source="exact: M y / I, the solution of Saint-Venant",
    )  # fmt: skip
    _, volumes, _ = tetra10.stress_inside(mesh.points_mm, mesh.cells, even[:, :, None], 1.0, 1.0)
    assert volumes.sum() == pytest.approx(8.0, rel=0.02)
