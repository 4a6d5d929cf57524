"""Stress at a surface: exact for an even and a linear field, and against its slow twin."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.bricks import bricks_of, lame, within
from ringwright.science.stress import fitting, mises
from tests.agrees import agrees
from tests.science.voxelled import voxels

E_GPA, NU = 90.0, 0.3


def test_a_linear_field_is_met_exactly_and_a_jump_is_levelled() -> None:
    rng = np.random.default_rng(5)
    places = rng.uniform(0.0, 4.0, (4000, 3))
    volumes = rng.uniform(0.5, 1.5, 4000)
    slope = np.array([[3.0, -1.0], [0.5, 2.0], [-2.0, 0.0]])
    at = np.concatenate([rng.uniform(0.8, 3.2, (20, 3)), [[0.0, 2.0, 2.0], [0.0, 0.0, 0.0]]])
    found = fitting(places, volumes, at, 0.8) @ (7.0 + places @ slope)
    # The fit is held level by a thousandth, which shows at faces and corners, where the places lie to one side.
    assert found == pytest.approx(7.0 + at @ slope, abs=0.08)
    jump = fitting(places, volumes, np.array([[2.0, 2.0, 2.0]]), 0.8) @ (places[:, :1] > 2.0).astype(float)
    assert jump[0, 0] == pytest.approx(0.5, abs=0.06)


def test_the_fit_is_that_of_least_squares() -> None:
    """The slow twin solves each place's least squares by itself."""
    rng = np.random.default_rng(6)
    places, volumes = rng.uniform(0.0, 2.0, (600, 3)), rng.uniform(0.5, 1.5, 600)
    values = np.sin(3.0 * places[:, :1]) + places[:, 1:2] ** 2
    at = rng.uniform(0.0, 2.0, (15, 3))
    found = fitting(places, volumes, at, 0.7) @ values
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
    bricks = bricks_of(voxels(lambda p: 1.0 - np.abs(p).max(axis=1), np.full(3, -1.0), np.full(3, 1.0), 0.125), 4)
    x, y, z = bricks.points_mm.T
    even = np.column_stack([1e-3 * x, -NU * 1e-3 * y, -NU * 1e-3 * z])
    k = 1e-3
    bent = np.column_stack([-k * x * y, 0.5 * k * (x**2 + NU * (y**2 - z**2)), NU * k * y * z])
    inner = (np.stack(np.meshgrid(*[np.arange(16)] * 3, indexing="ij"), axis=-1).reshape(-1, 3) + 0.5) / 8.0 - 1.0
    inside = within(bricks, inner).stress(np.stack([even, bent], axis=2), *lame(E_GPA, NU))
    at = np.array([[0.0, 1.0, 0.0], [0.5, -1.0, 0.5], [1.0, 0.3, 0.0], [-1.0, 1.0, 1.0]])
    fit = fitting(inner, np.full(len(inner), 0.125**3), at, 0.7)
    found = (fit @ inside.reshape(len(inner), -1)).reshape(len(at), 6, 2)
    assert found[:, 0, 0] == pytest.approx(90.0)
    assert np.abs(found[:, 1:, 0]).max() < 1e-6
    assert mises(found[:, :, 0]) == pytest.approx(90.0)
    agrees(
        float(np.abs(found[:, 0, 1] + 90e3 * k * at[:, 1]).max()), 0.0, within=1.0,
        absolute=True, what="pure bending, worst miss of the stress at the skin of 90 MPa",
        source="exact: M y / I, the solution of Saint-Venant",
    )  # fmt: skip
