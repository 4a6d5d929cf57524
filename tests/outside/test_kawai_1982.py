"""Freezing shrinkage: Kawai, J. Jpn. Soc. Dental Materials 1 (1982) 286-298, densities by sessile drops."""

from __future__ import annotations

import pytest

from ringwright.steps.metal import mixing
from tests.agrees import agrees
from tests.steps.metal_facts import ELEMENTS

SOURCE = "Kawai, J. Jpn. Soc. Dental Materials 1 (1982) 286-298, abstract"


@pytest.mark.parametrize(("symbol", "percent"), [("Au", 5.2), ("Ag", 5.0), ("Cu", 4.9)])
def test_shrinkage_of_pure_metals(symbol: str, percent: float) -> None:
    ours = mixing.shrinkage({symbol: 1.0}, ELEMENTS, 0.0)
    assert ours is not None
    agrees(ours, percent, within=0.4, absolute=True, source=SOURCE, what=f"freezing shrinkage of {symbol}, % of volume")


@pytest.mark.parametrize(("symbol", "percent"), [("Au", 5.2), ("Ag", 5.0), ("Cu", 4.9)])
def test_shrinkage_fits_the_densities_of_solid_and_liquid(symbol: str, percent: float) -> None:
    element = ELEMENTS[symbol]
    assert element.liquid_density_g_cm3 is not None and element.mean_expansion_per_MK is not None
    hot = element.density_g_cm3 / (1 + 3e-6 * element.mean_expansion_per_MK * (element.melting_C - 20))
    ours = 100 * (1 - element.liquid_density_g_cm3 / hot)
    agrees(ours, percent, within=1.2, absolute=True, source=SOURCE, what=f"shrinkage of {symbol} from its densities, %")
