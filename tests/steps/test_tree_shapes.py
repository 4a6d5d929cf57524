"""Bars, balls and cones of the tree against their closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.steps.tree.shapes import across, ball, cone_height, frustum
from tests.steps import solids


@given(
    st.tuples(*[st.floats(-20, 20)] * 3),
    st.tuples(*[st.floats(-20, 20)] * 3),
    st.floats(0.3, 6),
    st.floats(0.3, 6),
)
def test_a_frustum_has_its_exact_volume(
    start: tuple[float, float, float], end: tuple[float, float, float], a: float, b: float
) -> None:
    length = math.dist(start, end)
    if length < 0.1:
        return
    solid = frustum(np.array(start), np.array(end), a, b)
    assert solids.closed(solid)
    assert solids.volume(solid) == pytest.approx(math.pi * length * (a * a + a * b + b * b) / 3, rel=1e-9)


def test_a_ball_is_nearly_round() -> None:
    solid = ball(np.array([1.0, 2.0, 3.0]), 2.0)
    assert solids.closed(solid)
    assert solids.volume(solid) == pytest.approx(4 / 3 * math.pi * 8, rel=0.01)
    assert np.linalg.norm(solid.vertices_mm - [1, 2, 3], axis=1) == pytest.approx(2.0)


@given(st.floats(1, 3000), st.floats(0.5, 6), st.floats(15, 75))
def test_a_cone_of_that_height_holds_the_volume(volume: float, tip: float, angle: float) -> None:
    high = cone_height(volume, tip, angle)
    top = tip + high * math.tan(math.radians(angle))
    assert math.pi * high * (tip**2 + tip * top + top**2) / 3 == pytest.approx(volume, rel=1e-6)


@given(st.tuples(*[st.floats(-1, 1)] * 3))
def test_across_is_square_to_its_direction(v: tuple[float, float, float]) -> None:
    if np.linalg.norm(v) < 1e-3:
        return
    z = np.array(v) / np.linalg.norm(v)
    x, y = across(z)
    assert np.array([x, y, z]) @ np.array([x, y, z]).T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(np.array([x, y, z])) == pytest.approx(1.0)
