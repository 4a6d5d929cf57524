"""Carslaw & Jaeger, Conduction of Heat in Solids, 1959; Incropera, Fundamentals of Heat and Mass Transfer, ch. 5."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import erf, j0, j1

from ringwright.science.conduction import (
    Cylinder,
    Face,
    Reaction,
    against_series,
    eigenvalues,
    series_shares,
    substance,
)
from tests.agrees import agrees

TABLE = "Incropera, Fundamentals of Heat and Mass Transfer, table 5.1 (one-term coefficients)"
EXACT = "exact: Carslaw & Jaeger, Conduction of Heat in Solids, 1959"


@pytest.mark.parametrize(
    ("biot", "zeta_cylinder", "c_cylinder", "zeta_wall", "c_wall"),
    [(0.1, 0.4417, 1.0246, 0.3111, 1.0161), (1, 1.2558, 1.2071, 0.8603, 1.1191), (10, 2.1795, 1.5677, 1.4289, 1.2620)],
)
def test_first_roots_and_coefficients(
    biot: float, zeta_cylinder: float, c_cylinder: float, zeta_wall: float, c_wall: float
) -> None:
    x = float(eigenvalues(biot, 3, cylinder=True)[0])
    y = float(eigenvalues(biot, 3, cylinder=False)[0])
    agrees(x, zeta_cylinder, within=2e-4, source=TABLE, what=f"first root, long cylinder, Bi {biot}")
    agrees(y, zeta_wall, within=2e-4, source=TABLE, what=f"first root, wall, Bi {biot}")
    c = 2 * j1(x) / (x * (j0(x) ** 2 + j1(x) ** 2))
    agrees(float(c), c_cylinder, within=2e-4, source=TABLE, what=f"coefficient, long cylinder, Bi {biot}")
    w = 4 * math.sin(y) / (2 * y + math.sin(2 * y))
    agrees(w, c_wall, within=2e-4, source=TABLE, what=f"coefficient, wall, Bi {biot}")


@pytest.mark.parametrize(
    ("fourier", "left"), [(0.05, 0.99890), (0.1, 0.97682), (0.2, 0.87017), (0.5, 0.54859), (1, 0.24938)]
)
def test_centre_of_a_long_cylinder_series_and_solver(fourier: float, left: float) -> None:
    series = float(
        series_shares(np.array([fourier]), radius_m=1, height_m=math.inf, diffusivity_m2_s=1, h_over_k_1_m=1)[0]
    )
    agrees(series, left, within=1e-4, source=EXACT, what=f"centre of a long cylinder, Bi 1, Fo {fourier}, series")
    inside = substance([200, 500], [1, 1], [1, 1])
    shut = Face()
    body = Cylinder(
        radius_m=1, height_m=1, inside=inside, side=Face(h_W_m2K=1), top=shut, bottom=shut, cells_r=24, cells_z=2
    )
    state = body.at(300)
    for _ in range(50):
        state = body.after(state, fourier / 50, (400, 400))
    solver = (400 - body.core_K(state)) / 100
    agrees(solver, left, within=0.005, source=EXACT, what=f"centre of a long cylinder, Bi 1, Fo {fourier}, solver")


def test_lag_of_a_small_flask_with_constant_properties() -> None:
    """Radius 31.75 mm, k 0.45, rho c 1.1e6, h 40: 95 % of the step at Fo 1.0756, that is 2650 s."""
    series = float(
        series_shares(
            np.array([2650.0]),
            radius_m=0.03175,
            height_m=math.inf,
            diffusivity_m2_s=0.45 / 1.1e6,
            h_over_k_1_m=40 / 0.45,
        )[0]
    )
    agrees(series, 0.05, within=0.01, source=EXACT, what="left of the step in a long 63 mm flask after 2650 s")


def test_core_of_a_finite_cylinder_against_the_product_of_series() -> None:
    worst = against_series(radius_m=0.032, height_m=0.064, k_W_mK=0.45, c_J_m3K=1.1e6, h_W_m2K=40, hours=3, dt_s=120)
    agrees(
        1 + worst,
        1.0,
        within=0.02,
        source=EXACT,
        what="core of a finite cylinder, greatest miss over 3 h (as 1 + miss)",
    )


def test_front_of_a_phase_change_in_a_half_space() -> None:
    """Neumann, one phase: the front is at 2 lambda sqrt(a t), lambda exp(lambda^2) erf(lambda) = Ste/sqrt(pi)."""
    k, c, latent, wall_K, boil_K = 0.45, 1.1e6, 5e8, 473.0, 373.0
    ste = c * (wall_K - boil_K) / latent
    lam = next(x for x in np.arange(0.01, 2, 1e-5) if x * math.exp(x * x) * erf(x) >= ste / math.sqrt(math.pi))
    inside = substance([300, 500], [k, k], [c, c], [Reaction(from_K=boil_K, to_K=boil_K + 0.2, J_m3=latent)])
    shut = Face()
    deep, cells = 0.05, 100
    body = Cylinder(
        radius_m=0.01,
        height_m=deep,
        inside=inside,
        side=shut,
        top=shut,
        bottom=Face(h_W_m2K=1e6),
        cells_r=2,
        cells_z=cells,
    )
    state = body.at(boil_K)
    while state.time_s < 3600 - 1e-6:
        state = body.after(state, 30, (wall_K, wall_K))
    done = (
        body.inside.enthalpy_J_m3(state.theta).reshape(body.shape)[1:-1, 0]
        - inside.enthalpy_J_m3(body.at(boil_K).theta)[0]
    ) / latent
    front = float(np.minimum(done, 1).sum()) * deep / cells
    agrees(
        front, 2 * lam * math.sqrt(k / c * 3600), within=0.01, source=EXACT, what="front of a phase change after 1 h, m"
    )
