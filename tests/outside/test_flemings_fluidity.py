"""Flow and its limits against textbook equations with worked numbers."""

from __future__ import annotations

import math

from ringwright.science.feeding import NIYAMA_IN_OLD_UNITS, chvorinov_s, niyama
from ringwright.science.filling import (
    GRAVITY_M_S2,
    Liquid,
    darcy_m3_s,
    fluidity_m,
    limit_speed_m_s,
    spin_Pa,
)
from tests.agrees import agrees

FLEMINGS = (
    "M. C. Flemings, Solidification Processing, 1974: equation of fluidity, worked with the figures of an 18 ct gold"
)
TEXTBOOK = "exact: textbook hydraulics, worked by hand"
FOUNDRY = "worked examples of Chvorinov's rule in foundry texts"


def test_fluidity_of_an_18_ct_gold_in_a_1_mm_channel() -> None:
    ours = fluidity_m(
        density=14000,
        radius_m=0.5e-3,
        speed_m_s=0.5,
        stops_at=0.35,
        latent=76e3,
        heat_capacity=220,
        superheat_K=90,
        h_W_m2K=1000,
        over_mould_K=390,
    )
    agrees(ours, 0.208, within=0.005, source=FLEMINGS, what="fluidity length, m")


def test_capillary_pressure_stops_a_thin_wire_under_its_own_head() -> None:
    melt = Liquid(
        density=14500,
        viscosity=5e-3,
        tension=1.14,
        angle_deg=180,
        heat_capacity=220,
        latent=76e3,
        liquidus_C=895,
        solidus_C=885,
        stops_at=0.35,
    )
    needs = melt.capillary_Pa(0.25) / 1000
    head = 14500 * GRAVITY_M_S2 * 0.05 / 1000
    agrees(needs, 9.12, within=0.002, source=TEXTBOOK, what="2 gamma / r at 1.14 N/m and 0.25 mm, kPa")
    agrees(head, 7.11, within=0.002, source=TEXTBOOK, what="50 mm of 18 ct gold, kPa")
    assert needs > head
    agrees(melt.edge_mm(80e3) * 1.1 / 1.14, 0.0275, within=0.02, source=TEXTBOOK, what="radius that 80 kPa fill, mm")


def test_speed_without_loss() -> None:
    agrees(limit_speed_m_s(80e3, 14500), 3.32, within=0.002, source=TEXTBOOK, what="sqrt(2 dp / rho) at 80 kPa, m/s")
    head = 14500 * GRAVITY_M_S2 * 0.05
    agrees(limit_speed_m_s(head, 14500), 0.990, within=0.002, source=TEXTBOOK, what="the same at 50 mm head, m/s")


def test_spin() -> None:
    ours = spin_Pa(14500, 400, 0.20, 0.25) / 1000
    agrees(ours, 286, within=0.005, source=TEXTBOOK, what="pressure of a centrifuge, 400 rpm, 0.20 to 0.25 m, kPa")


def test_darcy() -> None:
    ours = darcy_m3_s(permeability=5e-14, area_m2=1e-4, drop_Pa=80e3, viscosity=3.6e-5, length_m=0.02) * 1e6
    agrees(ours, 0.556, within=0.002, source="exact: Darcy's law, worked by hand", what="gas through investment, cm3/s")


def test_chvorinov() -> None:
    disk = math.pi / 4 * 650**2 * 16 / (2 * math.pi / 4 * 650**2 + math.pi * 650 * 16)
    agrees(disk, 7.6246, within=1e-4, source=FOUNDRY, what="V/A of a disk 650 x 16 mm, mm")
    agrees(chvorinov_s(disk, 3.2), 186.0, within=0.002, source=FOUNDRY, what="disk 650 x 16 mm, B 3.2 s/mm2, s")
    plate = 30 * 15 * 2 / (2 * (30 * 15 + 30 * 2 + 15 * 2))
    agrees(
        chvorinov_s(plate * 10, 4 * 60 / 100) / 60,
        2.78,
        within=0.003,
        source=FOUNDRY,
        what="plate 30 x 15 x 2 cm, B 4 min/cm2, min",
    )
    volume = 12560 / 7.85
    height = volume / (math.pi * 25)
    modulus = volume / (2 * math.pi * 25 + math.pi * 10 * height)
    agrees(
        12 / modulus**2,
        2.98,
        within=0.004,
        source=FOUNDRY + "; the printed solution slips a decimal in the height and states 2.94",
        what="B of a cylinder of 10 cm and 12.56 kg that freezes in 12 min, min/cm2",
    )


def test_niyama_in_old_units() -> None:
    agrees(
        float(NIYAMA_IN_OLD_UNITS),
        0.7746,
        within=1e-4,
        source="Niyama and others, AFS Int. Cast Metals J. 7 (1982) 52, from memory; the change of units is exact",
        what="1 K^0.5 min^0.5/cm in K^0.5 s^0.5/mm",
    )
    import numpy as np

    agrees(
        float(niyama(np.array([2.0]), np.array([1.0]))[0]),
        2.0,
        within=1e-9,
        source="exact: G / sqrt(dT/dt) by hand",
        what="Niyama's figure at 2 K/mm and 1 K/s",
    )
