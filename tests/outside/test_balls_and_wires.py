"""Balls and wires of 18 ct gold in a large mould, by the octree's solver; metal of one temperature, as in the texts."""

from __future__ import annotations

import pytest

from tests.agrees import agrees
from tests.science import freezing_cases as cases

FINE = (
    "exact: metal of one temperature in an endless mould, reckoned on a fine radial grid; "
    "k 0.45 W/mK, rho 1190 kg/m3, c 1050 J/kgK; latent heat 76 kJ/kg, 14600 kg/m3, 890 °C, mould 500 °C"
)
BALL = "exact: Carslaw & Jaeger, Conduction of Heat in Solids, 1959: V/A = dT/(rho H) (2/sqrt(pi) sqrt(k c t) + k t/R)"


@pytest.mark.parametrize(("radius", "published"), [(1.0, 1.653), (1.5, 3.720), (2.0, 6.614)])
def test_a_round_wire(radius: float, published: float) -> None:
    solid, _ = cases.wire_s(radius, 0.2, 0.05)
    agrees(
        float(solid.max()), published, within=0.04, source=FINE, what=f"round wire, {radius} mm radius, last cell, s"
    )
    agrees(
        float(solid.mean()), published, within=0.02, source=FINE, what=f"round wire, {radius} mm radius, mean cell, s"
    )


def test_a_ball() -> None:
    solid, _ = cases.ball_s(2.0, 0.2, 0.05)
    agrees(float(solid.max()), 2.493, within=0.03, source=BALL, what="ball of 2 mm radius, last cell, s")
    agrees(float(solid.mean()), 2.493, within=0.02, source=BALL, what="ball of 2 mm radius, mean cell, s")
