"""Feeding against what a hand can count, and against a slow twin."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.feeding import Freezing, cut_off, niyama
from ringwright.science.network import Network
from tests.science.networks import block, wire


def freezing(stops: np.ndarray, left: float = 0.3) -> Freezing:
    return Freezing(begins_s=0.2 * stops, stops_s=stops, solid_s=1.3 * stops, liquid_at_stop=left)


def at_start(network: Network) -> np.ndarray:
    source = np.zeros(network.count, bool)
    source[0] = True
    return source


def slow_lack(network: Network, given: Freezing, source: np.ndarray) -> float:
    """All shrinkage that is not fed, by looking at every moment who still hangs together with the source."""
    lost = np.full(network.count, np.inf)
    for s in np.unique(given.stops_s):
        # Just after s all cells that stop at s have stopped.
        open_ = (given.stops_s > s) | source
        reached = source.copy()
        while True:
            from_reached = np.zeros(network.count, bool)
            from_reached[network.other[reached[network.rows]]] = True
            grown = (from_reached & open_) | reached
            if (grown == reached).all():
                break
            reached = grown
        gone = open_ & ~reached & np.isinf(lost)
        lost[gone] = s
    late = np.isfinite(lost)
    return sum(float(network.volume_mm3[i] * given.liquid_at(lost[i])[i]) for i in np.flatnonzero(late))


def test_a_chain_that_freezes_from_its_end_to_the_source_is_fed() -> None:
    line = wire(10, 0.5, 0.5)
    found = cut_off(line, freezing(np.linspace(10.0, 2.0, line.count)), at_start(line))
    assert len(found.hot) == 0
    assert np.isinf(found.cut_off_s).all()


def test_a_neck_cuts_off_what_lies_behind_it() -> None:
    line = wire(10, 0.5, 0.5)
    stops = np.full(line.count, 8.0)
    stops[5] = 2.0
    stops[14] = 9.0
    found = cut_off(line, freezing(stops), at_start(line))
    assert found.hot.tolist() == [14]
    assert found.cut_s[0] == 2.0
    assert found.solid_s[0] == pytest.approx(1.3 * 9.0)
    behind = np.arange(line.count) > 5
    want = (line.volume_mm3 * freezing(stops).liquid_at(2.0))[behind].sum()
    assert found.lacking_mm3[0] == pytest.approx(want, rel=1e-12)
    assert found.pool_mm3[0] == pytest.approx(line.volume_mm3[behind].sum(), rel=1e-12)
    assert (found.cut_off_s[behind] == 2.0).all()
    assert np.isinf(found.cut_off_s[~behind]).all()


def test_a_pool_that_parts_shares_what_it_lacks_and_counts_nothing_twice() -> None:
    line = wire(20, 0.5, 0.5)
    stops = np.full(line.count, 10.0)
    stops[10], stops[25] = 2.0, 5.0
    stops[18], stops[32] = 12.0, 11.0
    found = cut_off(line, freezing(stops), at_start(line))
    by_hot = dict(zip(found.hot.tolist(), found.lacking_mm3.tolist(), strict=True))
    assert set(by_hot) == {18, 32}
    last = np.arange(line.count) > 25
    assert by_hot[32] == pytest.approx((line.volume_mm3 * freezing(stops).liquid_at(5.0))[last].sum())
    behind = np.arange(line.count) > 10
    total = (line.volume_mm3 * freezing(stops).liquid_at(2.0))[behind].sum()
    assert sum(by_hot.values()) == pytest.approx(total)


def test_it_lacks_what_the_slow_twin_finds() -> None:
    cube = block(9)
    rng = np.random.default_rng(4)
    middle = cube.centre_mm.mean(axis=0)
    away = np.linalg.norm(cube.centre_mm - middle, axis=1)
    stops = 5.0 - away + 0.6 * rng.random(cube.count)
    source = cube.centre_mm[:, 2] > cube.centre_mm[:, 2].max() - 0.1
    given = freezing(stops)
    fast = cut_off(cube, given, source, noise=0.0)
    total = slow_lack(cube, given, source)
    assert total > 1
    assert fast.lacking_mm3.sum() == pytest.approx(total, rel=1e-9)
    assert fast.loose_mm3 == 0


def test_hot_spots_within_the_error_of_the_times_are_none() -> None:
    cube = block(10)
    rng = np.random.default_rng(1)
    stops = 2.0 + 0.001 * cube.centre_mm[:, 2] + 0.01 * rng.random(cube.count)
    source = cube.centre_mm[:, 2] > cube.centre_mm[:, 2].max() - 0.1
    assert len(cut_off(cube, freezing(stops), source, noise=0.0).hot) > 10
    assert len(cut_off(cube, freezing(stops), source, noise=0.02).hot) == 0


def test_metal_that_never_met_the_source_is_told() -> None:
    line = wire(5, 0.5, 0.5)
    broken, _ = line.only(np.arange(line.count) != 4)
    found = cut_off(broken, freezing(np.full(broken.count, 3.0)), at_start(broken))
    assert found.loose_mm3 == pytest.approx(line.volume_mm3[5:].sum())


def test_liquid_falls_from_all_to_none_in_two_straight_lines() -> None:
    given = Freezing(begins_s=np.array([1.0]), stops_s=np.array([3.0]), solid_s=np.array([4.0]), liquid_at_stop=0.4)
    assert [round(float(given.liquid_at(t)[0]), 6) for t in (0.5, 1, 2, 3, 3.5, 4, 9)] == [1, 1, 0.7, 0.4, 0.2, 0, 0]


def test_niyama_of_a_known_gradient_and_rate() -> None:
    assert niyama(np.array([2.0]), np.array([1.0]))[0] == pytest.approx(2.0)


def test_time_grows_no_faster_than_the_sort() -> None:
    import time

    took = []
    for n in (20, 40):
        cube = block(n)
        stops = 50.0 - np.linalg.norm(cube.centre_mm - 5.0, axis=1)
        source = cube.centre_mm[:, 2] > cube.centre_mm[:, 2].max() - 0.1
        cut_off(cube, freezing(stops), source)
        runs = []
        for _ in range(3):
            start = time.process_time()
            cut_off(cube, freezing(stops), source)
            runs.append(time.process_time() - start)
        took.append(min(runs))
    # Eight times the cells; n log n would give 9.9, a square 64.
    assert took[1] < 25 * took[0]
