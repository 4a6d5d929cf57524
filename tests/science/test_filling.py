"""Filling against closed forms: speed, fluidity, gas through a wall, and how the paths run."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from ringwright.science.filling import (
    ATMOSPHERE_PA,
    Filled,
    Liquid,
    Supply,
    Wall,
    air_viscosity,
    filled,
    fluidity_m,
    limit_speed_m_s,
    paths,
    shape_factor_m,
)
from ringwright.science.network import Network
from tests.science.networks import block, wire

GOLD = Liquid(
    density=14000,
    viscosity=5e-3,
    tension=1.1,
    angle_deg=130,
    heat_capacity=220,
    latent=76e3,
    liquidus_C=890,
    solidus_C=889.9,
    stops_at=0.35,
)
OPEN = Wall(
    effusivity=750,
    contact=5000,
    temperature_C=500,
    permeability=1.0,
    shape_m=1.0,
    behind_Pa=ATMOSPHERE_PA - 80e3,
    tip=10,
)
PLENTY = Supply(rate_m3_s=1.0, sprue_m2=1.0, losses=0.5, liquid_C=980)


def run(
    network: Network,
    radius_mm: float,
    *,
    liquid: Liquid = GOLD,
    wall: Wall = OPEN,
    supply: Supply = PLENTY,
    drive_Pa: float = 80e3,
    losses: float = 0.0,
) -> Filled:
    source = np.zeros(network.count, bool)
    source[0] = True
    radius = np.full(network.count, radius_mm)
    way = paths(network, radius, np.zeros(network.count), source, liquid, drive_Pa=drive_Pa, losses=losses)
    return filled(way, liquid, wall, supply)


def test_the_front_runs_as_fast_as_pressure_gives_without_loss() -> None:
    thin = replace(GOLD, viscosity=1e-9, tension=1e-9)
    found = run(wire(100, 2.0), 2.0, liquid=thin)
    assert found.fill_s == pytest.approx(0.1 / limit_speed_m_s(80e3, 14000), rel=0.01)


def test_friction_alone_gives_the_law_of_washburn() -> None:
    # Without inertia t = 4 mu L^2 / (r^2 p): E. W. Washburn, Phys. Rev. 17 (1921) 273.
    thick = replace(GOLD, viscosity=50.0, tension=1e-9)
    found = run(wire(50, 0.5), 0.5, liquid=thick)
    want = 4 * 50.0 * 0.05**2 / (0.5e-3**2 * 80e3)
    assert found.fill_s == pytest.approx(want, rel=0.02)


def test_a_channel_that_surface_tension_holds_is_not_entered() -> None:
    narrow = 0.9 * GOLD.edge_mm(80e3)
    assert GOLD.capillary_Pa(GOLD.edge_mm(80e3)) == pytest.approx(80e3)
    found = run(wire(5, narrow), narrow)
    assert np.isinf(found.time_s[1:]).all()
    assert np.isneginf(found.heat_left[1:]).all()
    wide = run(wire(5, 1.3 * narrow), 1.3 * narrow)
    assert np.isfinite(wide.time_s).all()


def test_the_front_stops_at_the_length_that_its_heat_gives() -> None:
    """With the contact alone: superheat falls off exponentially, the latent heat goes at the liquidus."""
    radius, h, speed = 0.5, 1000.0, 0.5
    line = wire(300, radius)
    held = replace(PLENTY, rate_m3_s=math.pi * (radius * 1e-3) ** 2 * speed)
    found = run(line, radius, wall=replace(OPEN, effusivity=1e12, contact=h), supply=held)
    per_m = 2 * h / (14000 * radius * 1e-3 * speed)
    superheat = 220 / per_m * math.log((980 - 500) / (890 - 500))
    latent = 0.35 * 76e3 / (per_m * (890 - 500))
    stops = float(np.interp(0.0, -found.heat_left, line.centre_mm[:, 0])) * 1e-3
    assert stops == pytest.approx(superheat + latent, rel=0.01)


def test_fluidity_grows_with_the_radius_and_with_the_speed() -> None:
    given = {
        "density": 14000.0,
        "speed_m_s": 0.5,
        "stops_at": 0.35,
        "latent": 76e3,
        "heat_capacity": 220.0,
        "superheat_K": 90.0,
        "h_W_m2K": 1000.0,
        "over_mould_K": 390.0,
    }
    one = fluidity_m(radius_m=0.5e-3, **given)
    assert fluidity_m(radius_m=1e-3, **given) == pytest.approx(2 * one)
    assert fluidity_m(radius_m=0.5e-3, **(given | {"speed_m_s": 1.0})) == pytest.approx(2 * one)


def test_gas_leaves_as_darcy_says_where_it_alone_holds_back() -> None:
    """No head and plenty of metal: the metal comes as the gas leaves, at a pressure that settles."""
    line = wire(400, 5.0)
    cold = replace(GOLD, tension=1e-9, viscosity=1e-9)
    wall = replace(OPEN, permeability=1e-14, shape_m=0.05)
    found = run(line, 5.0, liquid=cold, wall=wall)
    gas = float(np.median(found.gas_Pa)) + wall.behind_Pa
    # Steady: what leaves, at the state in the cavity, is the flow of the metal.
    leak = wall.permeability * wall.shape_m * (gas**2 - wall.behind_Pa**2) / (2 * gas * air_viscosity(500))
    assert float(np.median(found.flow_m3_s)) == pytest.approx(leak, rel=0.02)
    quick = run(line, 5.0, liquid=cold, wall=replace(wall, permeability=2e-14))
    assert 0.4 < quick.fill_s / found.fill_s < 0.7


def test_the_supply_limits_the_flow() -> None:
    line = wire(100, 2.0)
    found = run(line, 2.0, supply=replace(PLENTY, rate_m3_s=1e-6))
    assert found.fill_s == pytest.approx(line.volume_mm3.sum() * 1e-9 / 1e-6, rel=0.01)


def test_the_sprue_limits_the_flow() -> None:
    line = wire(100, 2.0)
    found = run(line, 2.0, supply=replace(PLENTY, sprue_m2=1e-7), liquid=replace(GOLD, tension=1e-9))
    rate = 1e-7 * math.sqrt(2 * 80e3 / (14000 * 1.5))
    assert found.fill_s == pytest.approx(line.volume_mm3.sum() * 1e-9 / rate, rel=0.02)


def test_a_hotter_mould_leaves_more_heat_and_so_does_a_hotter_melt() -> None:
    line = wire(60, 0.4)
    left = [run(line, 0.4, wall=replace(OPEN, temperature_C=t)).heat_left[-1] for t in (300.0, 500.0, 700.0)]
    assert left[0] < left[1] < left[2] < 1
    hot = run(line, 0.4, supply=replace(PLENTY, liquid_C=1030)).heat_left[-1]
    assert hot > left[1]


def test_paths_through_a_block_are_as_long_as_the_crow_flies() -> None:
    """Straight on through the middle of thick metal: not along the axes of the grid."""
    cube = block(24, 0.5)
    source = np.zeros(cube.count, bool)
    corner = int(np.argmin(np.linalg.norm(cube.centre_mm, axis=1)))
    source[corner] = True
    thin = replace(GOLD, viscosity=1e-12, tension=1e-12)
    way = paths(cube, np.full(cube.count, 6.0), np.zeros(cube.count), source, thin, drive_Pa=80e3, losses=0.0)
    crow = np.linalg.norm(cube.centre_mm - cube.centre_mm[corner], axis=1) * 1e-3 / limit_speed_m_s(80e3, 14000)
    far = crow > 0.3 * crow.max()
    longer = way.arrival_s[far] / crow[far]
    assert longer.min() >= 1 - 1e-9
    assert np.mean(longer) < 1.05
    assert longer.max() < 1.15


def test_order_of_the_steps_along_a_wire() -> None:
    """Half the cells, half the error of the place where the front stops: first order."""
    radius = 0.5
    held = replace(PLENTY, rate_m3_s=math.pi * (radius * 1e-3) ** 2 * 0.5)
    wall = replace(OPEN, effusivity=1e12, contact=1000.0)
    stops = []
    for h in (4.0, 2.0, 1.0, 0.05):
        line = wire(300, radius, h)
        found = run(line, radius, wall=wall, supply=held)
        stops.append(float(np.interp(0.0, -found.heat_left, line.centre_mm[:, 0])))
    errors = np.abs(np.array(stops[:3]) - stops[3])
    order = np.log2(errors[:2] / errors[1:])
    assert (order > 0.7).all()


def test_shape_factor_of_a_ball_is_exact() -> None:
    assert shape_factor_m(4 * math.pi * 0.01**2) == pytest.approx(4 * math.pi * 0.01)
