"""Conduction in a cylinder: order in space and time, balance of heat, slow twin, boiling, faults."""

from __future__ import annotations

import math
from bisect import bisect_right

import numpy as np
import pytest

from ringwright.science.conduction import (
    STEFAN_BOLTZMANN_W_M2K4,
    Cylinder,
    Face,
    Reaction,
    State,
    Substance,
    against_series,
    series_shares,
    substance,
)
from ringwright.terms.mistake import ComputingFault

ZERO = 273.15


def wet(boil_J_m3: float = 9e8) -> Substance:
    return substance(
        [293, 473, 673, 1073],
        [0.55, 0.42, 0.40, 0.55],
        [1.0e6, 1.0e6, 1.2e6, 1.4e6],
        [Reaction(from_K=368, to_K=378, J_m3=boil_J_m3), Reaction(from_K=493, to_K=543, J_m3=2e7)],
    )


def flask(inside: Substance, cells: tuple[int, int] = (10, 14), skin: float = 8000.0) -> Cylinder:
    face = Face(h_W_m2K=8, emissivity=0.8)
    return Cylinder(
        radius_m=0.03,
        height_m=0.06,
        inside=inside,
        side=Face(h_W_m2K=8, emissivity=0.8, skin_J_m2K=skin),
        top=face,
        bottom=face,
        cells_r=cells[0],
        cells_z=cells[1],
    )


def ramped(body: Cylinder, dt_s: float, hours: float, rate_K_h: float = 200, top_K: float = 900) -> State:
    state = body.at(293.15)

    def kiln(t: float) -> float:
        return min(top_K, 293.15 + rate_K_h * t / 3600)

    while state.time_s < hours * 3600 - 1e-6:
        t = state.time_s
        state = body.after(state, dt_s, (kiln(t), kiln(t + dt_s)))
    return state


def slope(steps: list[float], errors: list[float]) -> float:
    return float(np.polyfit(np.log(steps), np.log(errors), 1)[0])


def test_core_within_two_percent_of_the_series_for_flat_tall_and_slow_cylinders() -> None:
    for radius, height, h in ((0.032, 0.064, 40), (0.051, 0.203, 20), (0.044, 0.05, 100)):
        worst = against_series(
            radius_m=radius, height_m=height, k_W_mK=0.45, c_J_m3K=1.1e6, h_W_m2K=h, hours=3, dt_s=120
        )
        assert worst < 0.01


def test_second_order_in_space() -> None:
    share = {"radius_m": 0.03, "height_m": 0.05, "diffusivity_m2_s": 0.5 / 1e6, "h_over_k_1_m": 60 / 0.5}
    inside = substance([200, 500], [0.5, 0.5], [1e6, 1e6])
    face = Face(h_W_m2K=60)
    errors = []
    for n in (6, 12, 24):
        body = Cylinder(
            radius_m=0.03, height_m=0.05, inside=inside, side=face, top=face, bottom=face, cells_r=n, cells_z=2 * n
        )
        state = body.at(300)
        while state.time_s < 1200 - 1e-6:
            state = body.after(state, 10, (400, 400))
        errors.append(abs((400 - body.core_K(state)) / 100 - series_shares(np.array([1200.0]), **share)[0]))
    assert slope([1 / 6, 1 / 12, 1 / 24], errors) == pytest.approx(2, abs=0.25)


def test_second_order_in_time_with_radiation_and_changing_properties() -> None:
    inside = substance([293, 473, 673, 1073], [0.55, 0.42, 0.40, 0.55], [1.0e6, 1.05e6, 1.2e6, 1.4e6], grid_K=1)
    body = flask(inside, (6, 8))
    fine = body.core_K(ramped(body, 7.5, 1.5))
    steps = [900.0, 450.0, 225.0]
    errors = [abs(body.core_K(ramped(body, dt, 1.5)) - fine) for dt in steps]
    assert errors[-1] < 0.2
    assert slope(steps, errors) > 1.7


def test_heat_is_conserved_through_boiling_and_radiation() -> None:
    body = flask(wet())
    start = body.at(293.15)
    end = ramped(body, 120, 6)
    assert end.heat_J > 1e5
    assert abs(body.content_J(end) - body.content_J(start) - end.heat_J) < 1e-9 * end.heat_J


def test_core_waits_at_the_boiling_point_until_all_is_dry() -> None:
    body = flask(wet())
    lumped = substance([293, 1073], [200, 200], [1e6, 1e6], [Reaction(from_K=372, to_K=374, J_m3=9e8)])
    waiting = body.core_K(ramped(body, 120, 2.0, top_K=423))
    assert 367 < waiting < 378
    # A body that conducts so well that it is one temperature: time to boil dry = latent heat / heat received.
    face = Face(h_W_m2K=50)
    quick = Cylinder(
        radius_m=0.03, height_m=0.06, inside=lumped, side=face, top=face, bottom=face, cells_r=4, cells_z=6
    )
    state, entered, left = quick.at(371.9), 0.0, 0.0
    while not left:
        state = quick.after(state, 20, (423, 423))
        core = quick.core_K(state)
        entered = entered or (state.time_s if core > 372 else 0)
        left = state.time_s if core > 374 else 0
    volume, area = math.pi * 0.03**2 * 0.06, 2 * math.pi * 0.03 * (0.06 + 0.03)
    assert left - entered == pytest.approx(9.02e8 * volume / (50 * area * 50), rel=0.01)


def test_slow_twin_explicit_in_plain_loops_gives_the_same_temperatures() -> None:
    inside = wet(4e7)
    body = flask(inside, (3, 4), skin=0.0)
    hours, dt, dr, dz = 0.5, 1.0, 0.03 / 3, 0.06 / 4
    temperatures, potentials = inside.T_K.tolist(), inside.theta_W_m.tolist()

    def potential(T: float) -> float:
        n = bisect_right(temperatures, T) - 1
        share = (T - temperatures[n]) / (temperatures[n + 1] - temperatures[n])
        return potentials[n] + share * (potentials[n + 1] - potentials[n])

    def into(Tc: float, half: float, around: float) -> float:
        low, high = Tc, around
        for _ in range(30):
            Ts = (low + high) / 2
            inward = (potential(Ts) - potential(Tc)) / half
            outer = 8 * (around - Ts) + 0.8 * STEFAN_BOLTZMANN_W_M2K4 * (around**4 - Ts**4)
            low, high = (Ts, high) if outer > inward else (low, Ts)
        return outer

    T = np.full((4, 3), 293.15)
    H = np.full((4, 3), np.interp(293.15, inside.T_K, inside.H_J_m3))
    rings = [math.pi * (((i + 1) * dr) ** 2 - (i * dr) ** 2) for i in range(3)]
    for n in range(round(hours * 3600 / dt)):
        around = 293.15 + 200 * (n + 0.5) * dt / 3600
        gain = np.zeros_like(H)
        for j in range(4):
            for i in range(3):
                if i < 2:
                    flow = 2 * math.pi * (i + 1) * dr * dz * (potential(T[j, i + 1]) - potential(T[j, i])) / dr
                    gain[j, i] += flow
                    gain[j, i + 1] -= flow
                else:
                    gain[j, i] += 2 * math.pi * 0.03 * dz * into(T[j, i], dr / 2, around)
                if j < 3:
                    flow = rings[i] * (potential(T[j + 1, i]) - potential(T[j, i])) / dz
                    gain[j, i] += flow
                    gain[j + 1, i] -= flow
                if j in (0, 3):
                    gain[j, i] += rings[i] * into(T[j, i], dz / 2, around)
        H = H + dt * gain / (np.array(rings) * dz)[None, :]
        T = np.interp(H, inside.H_J_m3, inside.T_K)
    state = ramped(body, 15, hours)
    assert np.max(np.abs(body.temperatures_K(state) - T)) < 0.05
    assert T.max() - T.min() > 5


def test_insulated_and_still_body_keeps_its_temperature() -> None:
    shut = Face()
    body = Cylinder(radius_m=0.03, height_m=0.06, inside=wet(), side=shut, top=shut, bottom=shut)
    state = body.after(body.at(400), 600, (900, 900))
    assert body.spread_K(state) == pytest.approx((400, 400), abs=1e-6)
    assert state.heat_J == 0


def test_odd_and_even_grids_agree_on_the_core() -> None:
    a, b, c = (flask(wet(), (10, n)) for n in (14, 15, 3))
    cores = [body.core_K(ramped(body, 120, 1.0)) for body in (a, b)]
    assert cores[0] == pytest.approx(cores[1], abs=0.3)
    assert c.core_K(c.at(350)) == pytest.approx(350)


@pytest.mark.parametrize(
    "wrong",
    [
        ([300, 300], [1, 1], [1, 1], ()),
        ([300], [0], [1], ()),
        ([300], [1], [-1], ()),
        ([300, 400], [1], [1, 1], ()),
        ([300], [1], [1], (Reaction(from_K=400, to_K=390, J_m3=1),)),
    ],
)
def test_tables_that_are_no_substance_are_refused(wrong: tuple[list[float], list[float], list[float], tuple]) -> None:
    with pytest.raises(ValueError, match=r"needs as many|is positive|are positive"):
        substance(*wrong)


def test_a_step_that_cannot_be_solved_is_a_fault_and_says_so() -> None:
    body = flask(wet())
    with pytest.raises(ComputingFault, match="conduction"):
        body.after(body.at(293.15), 60, (math.nan, math.nan))
