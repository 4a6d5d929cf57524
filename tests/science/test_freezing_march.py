"""The fine reckoning of freezing: its balance of heat, its orders, a slow twin, and what must slow it down."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ringwright.science.conduction import Face, Reaction, substance
from ringwright.science.freezing import Care, Cells, Frozen, Grading, Room, Setting, cells_of, freeze
from ringwright.terms.body import Floats, Mesh
from ringwright.terms.mistake import ComputingFault
from tests.science import freezing_cases as cases
from tests.science import shapes

RADIUS, WIDE = 1.5, 9.6
SOLIDUS, LIQUIDUS = 1153.15, 1173.15
METAL = substance(
    [SOLIDUS, LIQUIDUS], [120.0, 60.0], [15400 * 160.0] * 2,
    [Reaction(from_K=SOLIDUS, to_K=LIQUIDUS, J_m3=15400 * 63e3)], grid_K=2.0,
)  # fmt: skip
SETTING = Setting(metal=METAL, mould=cases.plain_mould(), melt_K=1273.15, mould_K=823.15)
MARKS = (LIQUIDUS, 1160.0, SOLIDUS)


@cache
def ball(h: float = 0.4, wide: float = WIDE) -> Cells:
    moved = shapes.ball(RADIUS).moved(np.eye(3), np.array([0.123, 0.071, 0.039]) * h)
    return cells_of(moved, Room(radius_mm=wide, bottom_mm=-wide, top_mm=wide), Grading(h_mm=h))


@cache
def frozen(h: float = 0.4, growth: float = 0.1) -> Frozen:
    return freeze(ball(h), SETTING, MARKS, care=Care(growth=growth))


def mean_s(cells: Cells, found: Frozen, level: int = 2) -> float:
    volume = cells.volume_mm3[: cells.metal]
    return float((found.passed_s[level] * volume).sum() / volume.sum())


def test_no_heat_is_lost() -> None:
    assert frozen().heat_lost < 2e-5


def test_no_heat_is_lost_through_walls_that_give_off_heat() -> None:
    cells = ball(wide=3.3)
    open_ = Face(h_W_m2K=400.0, emissivity=0.8)
    found = freeze(cells, replace(SETTING, outside=(open_, open_, open_)), MARKS, care=Care(growth=0.1))
    shut = freeze(cells, SETTING, MARKS, care=Care(growth=0.1))
    assert found.heat_lost < 2e-4
    assert found.temperature_K.mean() < shut.temperature_K.mean() - 5
    assert mean_s(cells, found) < mean_s(cells, shut)


def test_all_the_heat_of_the_metal_is_in_the_mould() -> None:
    """What the mould holds at the end is what the metal gave off by its tables."""
    cells, found = ball(), frozen()
    volume, T, m = cells.volume_mm3, found.temperature_K, cells.metal
    held = float((volume[m:] * (T[m:] - SETTING.mould_K)).sum()) * 1.15e-3
    H = np.interp(T[:m], METAL.T_K, METAL.H_J_m3 * 1e-9)
    top = float(np.interp(LIQUIDUS, METAL.T_K, METAL.H_J_m3)) * 1e-9 + 15400 * 160e-9 * (1273.15 - LIQUIDUS)
    below = T[:m] < METAL.T_K[0]
    H[below] = METAL.H_J_m3[0] * 1e-9 + 15400 * 160e-9 * (T[:m][below] - METAL.T_K[0])
    assert held == pytest.approx(float((volume[:m] * (top - H)).sum()), rel=2e-4)


def test_it_does_what_a_plain_radial_twin_does() -> None:
    """Lines along the radius, each temperature by a library's stiff solver with its own tolerances."""
    slow = _radial(40)
    for level in range(3):
        assert mean_s(ball(0.2), frozen(0.2, 0.05), level) == pytest.approx(slow[level], rel=0.02)
        assert mean_s(ball(0.4), frozen(0.4, 0.05), level) == pytest.approx(slow[level], rel=0.045)


def _radial(n: int) -> Floats:
    """Mean times of the three levels in a ball, on shells."""
    edges = np.concatenate([np.linspace(0, RADIUS, n // 2 + 1), RADIUS + 8 * np.linspace(0, 1, 3 * n + 1)[1:] ** 1.6])
    middle, area, volume = (edges[1:] + edges[:-1]) / 2, edges**2, np.diff(edges**3) / 3
    m = n // 2

    def flow(T: Floats) -> Floats:
        k = np.where(np.arange(len(T)) < m, np.where(T > 1163, 0.06, 0.12), 0.4e-3)
        q = area[1:-1] * (T[1:] - T[:-1]) / ((edges[1:-1] - middle[:-1]) / k[:-1] + (middle[1:] - edges[1:-1]) / k[1:])
        return np.diff(np.concatenate([[0], q, [0]]))

    def rate(_: float, T: Floats) -> Floats:
        mush = (T > SOLIDUS) & (T < LIQUIDUS)
        c = np.where(np.arange(len(T)) < m, 15400e-9 * (160 + mush * 63e3 / (LIQUIDUS - SOLIDUS)), 1.15e-3)
        return flow(T) / (volume * c)

    first = np.where(np.arange(len(middle)) < m, 1273.15, 823.15)
    found = solve_ivp(
        rate, (0, 12), first, method="LSODA", lband=1, uband=1, rtol=1e-5, atol=1e-2, max_step=0.05, dense_output=True
    )
    times = np.linspace(0, 12, 24001)[1:]
    assert found.sol is not None
    T = found.sol(times)[:m]
    passed = np.array([times[(mark < T).sum(axis=1).clip(max=len(times) - 1)] for mark in MARKS])
    return np.asarray(passed @ volume[:m] / volume[:m].sum())


def test_first_order_in_time() -> None:
    """A column of metal between a cold wall and nothing: its mean temperature after a tenth of a second."""
    cells = cells_of(
        shapes.block(100, 100, 100), Room(radius_mm=0.4, bottom_mm=0, top_mm=8), Grading(h_mm=0.4, largest_mm=0.4)
    )
    cold = replace(SETTING, melt_K=1500.0, outside=(Face(), Face(), Face(h_W_m2K=1e5)), around_K=1200.0)

    def mean_K(growth: float) -> float:
        care = Care(growth=growth, first_s=growth * 5e-3, enough_K=1e-4)
        return float(freeze(cells, cold, MARKS, care=care, until_s=0.1).temperature_K.mean())

    first, second, third = np.diff([mean_K(growth) for growth in (0.1, 0.05, 0.025, 0.0125)])
    assert 0.85 < np.log2(first / second) < 1.15
    assert 0.85 < np.log2(second / third) < 1.15


def test_longer_steps_change_little() -> None:
    """Beside the surface what flows within a step is foretold, so steps of a tenth of the time are good enough."""
    fine = mean_s(ball(), frozen(0.4, 0.0125))
    assert mean_s(ball(), frozen(0.4, 0.1)) == pytest.approx(fine, rel=0.01)
    assert mean_s(ball(), frozen(0.4, 0.025)) == pytest.approx(fine, rel=0.004)


def test_a_front_that_passes_many_cells_in_a_step_is_told_cell_by_cell() -> None:
    """A column cooled from below: the solidus runs along it, by several cells in each long step."""
    cells = cells_of(
        shapes.block(100, 100, 100), Room(radius_mm=0.4, bottom_mm=0, top_mm=12), Grading(h_mm=0.4, largest_mm=0.4)
    )
    cooled = replace(SETTING, outside=(Face(), Face(), Face(h_W_m2K=3e4)), around_K=823.15)

    def solid_s(growth: float) -> Floats:
        care = Care(growth=growth, first_s=0.02 * growth, enough_K=1e-3)
        return np.asarray(freeze(cells, cooled, MARKS, care=care).passed_s[2])

    fine, coarse = solid_s(0.01), solid_s(0.1)
    assert np.median(np.abs(coarse / fine - 1)) < 0.025
    # Each layer comes after the one below it, also within a step.
    order = np.argsort(cells.centre_mm[:, 2], kind="stable")
    layers = coarse[order].reshape(-1, 4).mean(axis=1)
    assert (np.diff(layers) > 0).all()


def test_more_than_first_order_in_space() -> None:
    """Means over bodies that lie alike in their lattices."""
    late = [mean_s(ball(h), frozen(h, 0.05)) for h in (0.8, 0.4, 0.2)]
    assert np.log2((late[0] - late[1]) / (late[1] - late[2])) > 1.2


def test_levels_in_their_order_and_rates_and_gradients() -> None:
    found = frozen()
    assert (np.diff(found.passed_s, axis=0) > 0).all()
    rate = (1160.0 - SOLIDUS) / (found.passed_s[2] - found.passed_s[1])
    assert np.allclose(found.rate_K_s, rate)
    assert (found.gradient_K_mm >= 0).all()
    # The flux at the surface over k is some K/mm; in the middle there is none.
    middle = np.linalg.norm(ball().centre_mm[: ball().metal], axis=1)
    outer, inner = found.gradient_K_mm[middle > 1.0], found.gradient_K_mm[middle < 0.4]
    assert 0.3 < np.median(outer) < 5
    assert np.median(inner) < 0.6 * np.median(outer)


def test_what_resists_or_is_hot_delays() -> None:
    base = mean_s(ball(), frozen())
    cells, care = ball(), Care(growth=0.1)

    def late(setting: Setting) -> float:
        return mean_s(cells, freeze(cells, setting, MARKS, care=care)) / base

    assert late(replace(SETTING, contact_W_m2K=800.0)) > 1.1
    assert late(replace(SETTING, contact_W_m2K=1e7)) == pytest.approx(1, abs=1e-3)
    assert 1.2 < late(replace(SETTING, mould_K=903.15)) < ((1163 - 823) / (1163 - 903)) ** 2 * 1.15
    assert late(replace(SETTING, melt_K=1323.15)) > 1.05


def test_a_mould_that_is_colder_farther_out_takes_more_heat() -> None:
    cells, care = ball(), Care()
    away = np.linalg.norm(cells.centre_mm[cells.metal :], axis=1)

    def late(mould_cells_K: Floats) -> float:
        return mean_s(cells, freeze(cells, replace(SETTING, mould_cells_K=mould_cells_K), MARKS, care=care))

    even = late(np.full(len(away), 823.15))
    assert even == pytest.approx(mean_s(cells, freeze(cells, SETTING, MARKS, care=care)), rel=1e-6)
    assert late(823.15 - 40 * (away - RADIUS)) < 0.97 * even
    hot = late(np.where(cells.centre_mm[cells.metal :, 2] > 0, 903.15, 823.15))
    assert even * 1.05 < hot < late(np.full(len(away), 903.15))


def test_a_mould_whose_conductivity_rises_lies_between_its_bounds() -> None:
    cells, care = ball(), Care(growth=0.1)
    rising = substance([823.15, 1273.15], [0.3, 0.6], [1.15e6] * 2, grid_K=5.0)
    low, mid, high = (
        mean_s(cells, freeze(cells, replace(SETTING, mould=mould), MARKS, care=care))
        for mould in (cases.plain_mould(0.6), rising, cases.plain_mould(0.3))
    )
    assert low * 1.1 < mid < high * 0.9


def test_two_hands_do_what_one_does(monkeypatch: pytest.MonkeyPatch) -> None:
    from ringwright.science.freezing import crew

    monkeypatch.setattr(crew.Crew.__init__, "__defaults__", (1,))
    alone = freeze(ball(0.3), SETTING, MARKS)
    monkeypatch.setattr(crew.Crew.__init__, "__defaults__", (2,))
    two = freeze(ball(0.3), SETTING, MARKS)
    assert np.allclose(alone.passed_s, two.passed_s, rtol=2e-3)


def test_a_pure_metal_freezes_too() -> None:
    """A range of a thousandth of a degree: here Newton's steps must be halted at the kinks."""
    heat = Reaction(from_K=SOLIDUS - 1e-3, to_K=SOLIDUS, J_m3=15400 * 63e3)
    sharp = substance([SOLIDUS - 1e-3, SOLIDUS], [120.0, 60.0], [15400 * 160.0] * 2, [heat])
    marks = (SOLIDUS, SOLIDUS - 5e-4, SOLIDUS - 1e-3)
    cells = ball()
    found = freeze(cells, replace(SETTING, metal=sharp), marks, care=Care(growth=0.05))
    # The same heat in all, but given off at the solidus, not within the range above it: that takes a little longer.
    assert 1.0 < float(found.passed_s[2].max()) / float(frozen(0.4, 0.05).passed_s[2].max()) < 1.1
    assert found.heat_lost < 1e-3


def test_until_stops_early() -> None:
    large, small = shapes.ball(1.5), shapes.ball(0.7).moved(np.eye(3), np.array([5.0, 0, 0]))
    both = Mesh(
        np.vstack([large.vertices_mm, small.vertices_mm]),
        np.vstack([large.faces, small.faces + len(large.vertices_mm)]),
    )
    cells = cells_of(both, Room(radius_mm=WIDE, bottom_mm=-WIDE, top_mm=WIDE), Grading(h_mm=0.4))
    in_small = cells.centre_mm[: cells.metal, 0] > 3
    some = freeze(cells, SETTING, MARKS, until=in_small)
    assert np.isfinite(some.passed_s[2][in_small]).all()
    assert np.isinf(some.passed_s[2][~in_small]).all()
    assert np.isnan(some.rate_K_s[~in_small]).all()
    assert freeze(cells, SETTING, MARKS, until_s=0.5).end_s == pytest.approx(0.5)


def test_metal_that_cannot_freeze_is_a_fault() -> None:
    with pytest.raises(ComputingFault, match="not solid after 5 s"):
        freeze(ball(), replace(SETTING, mould_K=LIQUIDUS + 5), MARKS, care=Care(most_s=5.0))


def test_a_foil_thinner_than_a_cell_freezes_at_once() -> None:
    """It once did not end: metal cells that no corner told to lie at the surface were linked to nothing."""
    foil = shapes.tube(4.0, 4.08, 2.0, 180).moved(np.eye(3), np.array([0.15, 0.1, 0.06]))
    cells = cells_of(foil, Room(radius_mm=WIDE, bottom_mm=-WIDE, top_mm=WIDE), Grading(h_mm=0.4))
    found = freeze(cells, SETTING, MARKS)
    assert mean_s(cells, found) < 0.7 * mean_s(ball(), frozen())
    assert found.heat_lost < 2e-4


def test_metal_that_touches_nothing_is_a_fault_at_once() -> None:
    cells = ball()
    links = cells.links
    row = links.rows.row_of == 7
    cut = replace(
        links,
        reach_mm=np.where(row, np.float32(0), links.reach_mm),
        across_mm2=np.where(links.across_row == 7, np.float32(0), links.across_mm2),
    )
    with pytest.raises(ComputingFault, match="1 cells of metal touch nothing"):
        freeze(replace(cells, links=cut), SETTING, MARKS)


def test_what_is_no_number_is_a_fault_at_once() -> None:
    with pytest.raises(ComputingFault, match="was not solved"):
        freeze(ball(), replace(SETTING, melt_K=float("nan")), MARKS)
