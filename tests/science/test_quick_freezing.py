"""The quick reckoning of freezing: against closed forms, its balance of heat, its order, and a slow twin."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from ringwright.science.conduction import Reaction, Substance, substance
from ringwright.science.quick_freezing import Mould, Times, freeze_quick, lattice
from ringwright.science.voxels import fractions_in
from ringwright.terms.body import Mesh
from ringwright.terms.mistake import ComputingFault
from tests.steps.solids import box

LIQUIDUS, RANGE = 1163.25, 0.2
SOIL = Mould(k_W_mK=0.45, c_J_m3K=1190 * 1050, contact_W_m2K=1e6, first_K=773.15)


def gold(density: float = 14600, cp: float = 210, latent: float = 76e3) -> Substance:
    T = [300.0, LIQUIDUS - RANGE, LIQUIDUS, 2000.0]
    heat = Reaction(from_K=LIQUIDUS - RANGE, to_K=LIQUIDUS, J_m3=density * latent)
    return substance(T, [100.0] * 4, [density * cp] * 4, [heat])


@cache
def ball(radius: float) -> Mesh:
    import trimesh

    sphere = trimesh.creation.icosphere(4, radius)
    return Mesh(np.asarray(sphere.vertices), np.asarray(sphere.faces).astype(np.int64))


def freeze(
    mesh: Mesh, h: float, *, margin: float = 9.0, mould: Mould = SOIL, melt_K: float = LIQUIDUS, **more: object
) -> tuple[Times, np.ndarray]:
    size = mesh.vertices_mm.max(axis=0) - mesh.vertices_mm.min(axis=0) + 2 * margin
    shape = tuple(int(n) for n in np.ceil(size / h))
    # Off the grid's own planes, so that no surface falls on faces by chance.
    corner = mesh.vertices_mm.min(axis=0) - margin + np.array([0.123, 0.271, 0.4]) * h
    share = fractions_in(mesh, h, (corner[0], corner[1], corner[2]), (shape[0], shape[1], shape[2]), 8)
    found = freeze_quick(
        lattice(share, np.ones(share.shape, bool), h),
        metal=gold(),
        k_metal_W_mK=100,
        mould=mould,
        melt_K=melt_K,
        levels_K=(LIQUIDUS - 0.02, LIQUIDUS - 0.1, LIQUIDUS - RANGE),
        until=share > 0.3,
        **more,  # type: ignore[arg-type]
    )
    return found, share


def test_a_ball_in_a_large_mould_freezes_in_the_time_of_the_exact_law() -> None:
    """V/A = dT/(rho H) (2/sqrt(pi) sqrt(k rho c t) + k t/R), solved for t: 2.49 s; late by less than a tenth."""
    found, _ = freeze(ball(2.0), 0.4)
    assert float(np.nanmax(found.passed_s[2])) == pytest.approx(2.494, rel=0.09)
    assert float(np.nanmax(found.passed_s[2])) > 2.494


def test_no_heat_is_lost() -> None:
    found, _ = freeze(ball(2.0), 0.4)
    assert found.heat_lost < 1e-4


def test_the_error_falls_with_the_cells() -> None:
    late = [float(np.nanmax(freeze(ball(2.5), h, margin=7.0)[0].passed_s[2])) for h in (1.0, 0.5, 0.25)]
    first, second = late[0] - late[1], late[1] - late[2]
    assert abs(second) < 0.8 * abs(first)


def test_a_hotter_mould_and_a_hotter_melt_take_longer() -> None:
    base = float(np.nanmax(freeze(ball(1.5), 0.5)[0].passed_s[2]))
    warm = Mould(k_W_mK=0.45, c_J_m3K=1190 * 1050, contact_W_m2K=1e6, first_K=873.15)
    hotter = float(np.nanmax(freeze(ball(1.5), 0.5, mould=warm)[0].passed_s[2]))
    # (Tm - T0) falls from 390 to 290 K: by its square in a flat mould, by less about a ball.
    assert 1.3 < hotter / base < (390 / 290) ** 2 * 1.1
    assert float(np.nanmax(freeze(ball(1.5), 0.5, melt_K=LIQUIDUS + 80)[0].passed_s[2])) > 1.1 * base


def test_a_contact_that_resists_delays() -> None:
    poor = Mould(k_W_mK=0.45, c_J_m3K=1190 * 1050, contact_W_m2K=400, first_K=773.15)
    base = float(np.nanmax(freeze(ball(1.5), 0.5)[0].passed_s[2]))
    assert float(np.nanmax(freeze(ball(1.5), 0.5, mould=poor)[0].passed_s[2])) > 1.1 * base


def test_levels_are_passed_in_their_order_and_outside_there_is_nothing() -> None:
    found, share = freeze(ball(1.5), 0.4)
    a, b, c = (t[share > 0.01] for t in found.passed_s)
    assert np.isfinite(c).all()
    assert (a <= b + 1e-9).all()
    assert (b <= c + 1e-9).all()
    assert np.isnan(found.passed_s[2][share == 0]).all()
    assert (found.rate_K_s[share > 0.01] > 0).all()


def test_it_does_what_a_plain_explicit_twin_does() -> None:
    """The same cube, aligned with the cells, in small explicit steps of everything.

    Only four cells across, and a cube's edges are rounded by the slope of the shares: a tenth is what that costs.
    """
    h, n, wide = 1.0, 4, 12
    mesh = box((0.0, 0.0, 0.0), (n * h, n * h, n * h))
    shape = (n + 2 * wide,) * 3
    share = fractions_in(mesh, h, (-wide * h,) * 3, shape)
    levels = (LIQUIDUS - 0.02, LIQUIDUS - 0.1, LIQUIDUS - RANGE)
    fast = freeze_quick(
        lattice(share, np.ones(shape, bool), h), metal=gold(), k_metal_W_mK=100, mould=SOIL, melt_K=LIQUIDUS,
        levels_K=levels, until=share > 0.3,
    )  # fmt: skip
    slow = _explicit(share > 0.5, h, gold(), levels[2])
    assert float(np.nanmax(fast.passed_s[2])) == pytest.approx(slow, rel=0.11)


def _explicit(metal: np.ndarray, h: float, substance_: Substance, solid_K: float) -> float:
    """Last time to pass ``solid_K``, by explicit steps of both, with half cells in series at the faces."""
    k_metal, k_soil, c_soil = 0.1, SOIL.k_W_mK * 1e-3, SOIL.c_J_m3K * 1e-9
    H = np.where(metal, np.interp(LIQUIDUS, substance_.T_K, substance_.H_J_m3) * 1e-9, 0.0)
    T = np.where(metal, LIQUIDUS, SOIL.first_K)
    dt = 0.15 * h * h * 14600 * 210e-9 / k_metal
    time, late = 0.0, np.where(metal, np.inf, 0.0)
    while np.isinf(late).any():
        flow = np.zeros(metal.shape)
        for axis in range(3):
            a, b = (np.moveaxis(x, axis, 0) for x in (metal, T))
            ka, kb = np.where(a[:-1], k_metal, k_soil), np.where(a[1:], k_metal, k_soil)
            q = h * 2 / (1 / ka + 1 / kb) * (b[1:] - b[:-1])
            f = np.moveaxis(flow, axis, 0)
            f[:-1] += q
            f[1:] -= q
        H = H + np.where(metal, dt * flow / h**3, 0.0)
        T = np.where(metal, np.interp(H, substance_.H_J_m3 * 1e-9, substance_.T_K), T + dt * flow / h**3 / c_soil)
        time += dt
        late = np.where(np.isinf(late) & (solid_K >= T), time, late)
    return float(late.max())


def test_metal_that_cannot_freeze_is_a_fault() -> None:
    hot = Mould(k_W_mK=0.45, c_J_m3K=1190 * 1050, contact_W_m2K=1e6, first_K=LIQUIDUS + 5)
    with pytest.raises(ComputingFault, match="not solid after 5 s"):
        freeze(ball(1.0), 0.5, margin=3.0, mould=hot, melt_K=LIQUIDUS + 50, most_s=5.0)
