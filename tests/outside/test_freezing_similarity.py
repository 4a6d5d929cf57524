"""Carslaw & Jaeger, Conduction of Heat in Solids, 1959, section 11.2: fronts of freezing, by the solver in 3-D.

A column of the solver's own cells with all of its machinery (cells, rows, multigrid, Newton), not a solver on a line.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.agrees import agrees
from tests.science import freezing_cases as cases

EXACT = "exact: Carslaw & Jaeger, Conduction of Heat in Solids, 1959, section 11.2"


def test_neumanns_two_phases() -> None:
    errors, found = cases.errors_of_neumann(0.2, 0.01)
    agrees(1 + float(np.median(abs(errors))), 1.0, within=0.015, source=EXACT,
           what="Neumann, two phases: time to freeze, cells of 0.2 mm (as 1 + median miss)")  # fmt: skip
    assert found.heat_lost < 2e-4


def test_metal_on_an_endless_mould() -> None:
    errors, _ = cases.errors_of_contact(0.2, 0.01)
    agrees(1 + float(np.median(abs(errors))), 1.0, within=0.005, source=EXACT,
           what="metal on an endless mould, no superheat, 100 s, cells of 0.2 mm (as 1 + median miss)")  # fmt: skip


@pytest.mark.parametrize(("mould_C", "published"), [(400, 7.201), (500, 11.351), (600, 20.503)])
def test_gold_on_gypsum_takes_a_time_per_squared_depth(mould_C: float, published: float) -> None:
    """Worked values: time over (V/A)^2, that is over the squared depth of a flat front."""
    setting = cases.gold_in_gypsum(mould_C + cases.ZERO, k=100.0, range_K=1e-3)
    z, passed, _ = cases.front(setting, 1e-3, 0.2, 0.02)
    agrees(float(np.median(passed / z**2)), published, within=0.006, source=EXACT,
           what=f"18 ct gold on gypsum at {mould_C} °C: time over squared depth, s/mm2")  # fmt: skip
