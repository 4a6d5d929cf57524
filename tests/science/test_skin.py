"""Patches of a surface: all of it once, whatever the triangles."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.skin import coarser, patches
from tests.science.shapes import ball, block


def test_large_triangles_and_small_ones_make_the_same_patches() -> None:
    coarse, fine = patches(block(4.0, 3.0, 2.0), 0.5), patches(block(4.0, 3.0, 2.0, finest=0.2), 0.5)
    for found in (coarse, fine):
        assert found.area_mm2.sum() == pytest.approx(2 * (12.0 + 8.0 + 6.0))
        assert found.area_mm2.max() < 0.5
        assert np.abs(found.outward).max(axis=1) == pytest.approx(1.0), "patches of two sides are not mixed"
        off = np.abs(found.points_mm) / [2.0, 1.5, 1.0]
        assert off.max(axis=1) == pytest.approx(1.0)
    assert abs(len(coarse.area_mm2) / len(fine.area_mm2) - 1.0) < 0.35


def test_patches_of_a_ball_look_outward_and_close_it() -> None:
    found = patches(ball(3.0), 0.4)
    assert np.linalg.norm(found.points_mm, axis=1) == pytest.approx(3.0, rel=0.02)
    assert np.einsum("pi,pi->p", found.points_mm / 3.0, found.outward).min() > 0.9
    larger = coarser(found, 1.0)
    assert len(larger.area_mm2) < len(found.area_mm2) / 3
    assert larger.area_mm2.sum() == pytest.approx(found.area_mm2.sum())
    above = larger.where(larger.points_mm[:, 1] > 0)
    assert above.area_mm2.sum() == pytest.approx(larger.area_mm2.sum() / 2, rel=0.1)
