"""Plates of 18 ct gold in a large mould: the exact law of a half-space, Chvorinov's exponent, two moulds' ratio.

The solver of the searches is of first order in the cells: times of cells of 0.2 and 0.1 mm are taken on to cells of
none, and how the error falls is asserted (plates of 2 mm are late by 9 and 5 %).
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from ringwright.science.conduction import Reaction, substance
from ringwright.science.quick_freezing import Mould, freeze_quick, lattice
from tests.agrees import agrees

SOURCE = (
    "exact: metal of one temperature against a half-space, t = (pi/4) (rho L M / (b (Tm - T0)))^2 with M = V/A; "
    "k 0.45 W/mK, rho 1190 kg/m3, c 1050 J/kgK; latent heat 76 kJ/kg, 14600 kg/m3, 890 °C"
)
_MELTS_C = 890.0


@cache
def in_cells_s(modulus_mm: float, mould_C: float, h_mm: float) -> float:
    """The last cell of a plate of twice the modulus, cut out of a wide one: its edges give no heat."""
    half = round(modulus_mm / h_mm)
    soak = math.ceil(8.0 * modulus_mm / h_mm)
    share = np.zeros((4, 4, 2 * (half + soak)), np.float32)
    share[1:-1, 1:-1, soak : soak + 2 * half] = 1.0
    room = np.zeros(share.shape, bool)
    room[1:-1, 1:-1] = True
    T = [300.0, _MELTS_C + 273.05, _MELTS_C + 273.25, 2000.0]
    metal = substance(T, [100.0] * 4, [14600 * 210.0] * 4, [Reaction(from_K=T[1], to_K=T[2], J_m3=14600 * 76e3)])
    found = freeze_quick(
        lattice(share, room, h_mm),
        metal=metal,
        k_metal_W_mK=100.0,
        mould=Mould(k_W_mK=0.45, c_J_m3K=1190 * 1050.0, contact_W_m2K=1e7, first_K=mould_C + 273.15),
        melt_K=T[2],
        levels_K=(T[2] - 0.02, T[2] - 0.1, T[1]),
        until=share > 0.5,
    )
    return float(np.nanmax(found.passed_s[2]))


def freezes_s(modulus_mm: float, mould_C: float) -> float:
    """The time in cells of none, from two runs."""
    return 2 * in_cells_s(modulus_mm, mould_C, 0.1) - in_cells_s(modulus_mm, mould_C, 0.2)


def exact_s(modulus_mm: float, mould_C: float) -> float:
    """The law itself."""
    b = math.sqrt(0.45 * 1190 * 1050)
    return math.pi / 4 * (14600 * 76e3 * modulus_mm * 1e-3 / (b * (_MELTS_C - mould_C))) ** 2


@pytest.mark.parametrize("modulus", [1.0, 2.0])
def test_a_plate(modulus: float) -> None:
    agrees(
        freezes_s(modulus, 500.0),
        exact_s(modulus, 500.0),
        within=0.015,
        source=SOURCE,
        what=f"plate of {2 * modulus} mm in a mould of 500 °C, s",
    )


def test_the_error_falls_with_the_cells() -> None:
    late = [in_cells_s(1.0, 500.0, h) / exact_s(1.0, 500.0) - 1 for h in (0.2, 0.1)]
    assert 0 < late[1] < late[0] < 0.12
    assert 0.8 < math.log2(late[0] / late[1]) < 1.3


def test_chvorinovs_exponent() -> None:
    exponent = math.log(freezes_s(2.0, 500.0) / freezes_s(1.0, 500.0)) / math.log(2.0)
    agrees(
        exponent,
        2.0,
        within=0.005,
        source="Chvorinov's rule, t = B (V/A)^2, exact for plates in a large mould",
        what="exponent of the modulus, from plates of 2 and 4 mm by the solver of the pour",
    )


def test_two_moulds() -> None:
    ratio = freezes_s(1.0, 600.0) / freezes_s(1.0, 400.0)
    agrees(
        ratio,
        2.855,
        within=0.01,
        source="the law of the half-space: ((890 - 400) / (890 - 600))^2 for metal that melts at 890 °C",
        what="times of the same plate in moulds of 600 and 400 °C",
    )
