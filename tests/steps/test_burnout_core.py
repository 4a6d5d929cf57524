"""The programme's own grid and time steps: against the exact series, and against finer ones."""

from __future__ import annotations

import pytest

from ringwright.steps.burnout import core_against_series
from ringwright.terms.facts import used
from tests.steps.test_burnout import fire, tables


def test_finer_time_steps_and_grid_give_the_same_programme(monkeypatch: pytest.MonkeyPatch) -> None:
    usual = fire(64, 64).result
    monkeypatch.setattr("ringwright.steps.burnout.firing.STEP_S", 75.0)
    monkeypatch.setattr("ringwright.steps.burnout.firing.QUIET_S", 150.0)
    monkeypatch.setattr("ringwright.steps.burnout.kiln.FINE", (20, 30))
    finer = fire(64, 64).result
    for a, b in zip(usual.holds, finer.holds, strict=True):
        assert a.core_there_after_h == pytest.approx(b.core_there_after_h, abs=0.03)
    assert usual.dry_after_h == pytest.approx(finer.dry_after_h, abs=0.06)


def test_core_of_each_published_flask_size_is_within_two_percent_of_the_series() -> None:
    gypsum = used(tables().investments, "gypsum")
    for diameter, height, h in ((64, 64, 40), (89, 102, 20), (102, 203, 20)):
        assert core_against_series(gypsum, diameter_mm=diameter, height_mm=height, h_W_m2K=h, hours=3) < 0.01
