"""Two levels that a moving speed hides, and what looks like them and is none."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.rated.two_levels import second_level

Floats = NDArray[np.float64]

T = np.arange(0.0, 60.0, 0.4)
TURN = 2.0 * np.pi * 0.43 * T + 0.8 * np.sin(0.7 * T)
SPEED = 3600.0 * (1.0 + 0.022 * np.sin(TURN))
SLOPE = 0.022 * 2.0 * np.pi * 0.43 * np.cos(TURN)
NOISE = np.random.default_rng(3).normal(0.0, 0.002, len(T))
OPEN = T % 7.0 < 2.5


def level(off: Floats, slope: Floats = SLOPE, *, digit: float = 0.001) -> int:
    return int(second_level(off, slope, SPEED, digit).sum())


@pytest.mark.parametrize(("drop", "told"), [(0.012, False), (0.03, True), (0.08, True)])
def test_levels_apart_by_two_percent_are_two(drop: float, told: bool) -> None:
    assert (level(NOISE - drop * OPEN) > 0) == told


def test_the_fewer_rows_are_the_second_level_on_either_side() -> None:
    for off in (NOISE - 0.03 * OPEN, NOISE + 0.03 * OPEN):
        found = second_level(off, SLOPE, SPEED, 0.001)
        assert bool(np.all(found == OPEN))


def test_a_lag_and_a_slope_over_speed_are_taken_out() -> None:
    late = 0.3 * SLOPE + 0.5 * (SPEED / 3600.0 - 1.0)
    assert level(NOISE + late) == 0
    assert bool(np.all(second_level(NOISE + late - 0.03 * OPEN, SLOPE, SPEED, 0.001) == OPEN))


@pytest.mark.parametrize("shape", ["normal", "even", "sine"])
def test_a_scatter_is_one_level(shape: str) -> None:
    rng = np.random.default_rng(4)
    off = {
        "normal": rng.normal(0.0, 0.03, len(T)),
        "even": rng.uniform(-0.05, 0.05, len(T)),
        "sine": 0.04 * np.sin(1.37 * T),
    }[shape]
    assert level(off + NOISE) == 0


def test_rows_beside_the_quickest_changes_and_one_way_only_are_no_level() -> None:
    quick = np.abs(SLOPE) > np.quantile(np.abs(SLOPE), 0.8)
    slow = np.where(quick, SLOPE, 0.02 * SLOPE)
    assert level(NOISE - 0.04 * quick * np.sign(np.sin(3.1 * T)), slow) == 0
    assert level(NOISE - 0.04 * (SLOPE > 0.05), SLOPE) == 0


def test_coarse_digits_and_few_rows_say_nothing() -> None:
    assert level(NOISE - 0.03 * OPEN, digit=0.012) == 0
    few = slice(0, 15)
    assert int(second_level((NOISE - 0.03 * OPEN)[few], SLOPE[few], SPEED[few], 0.001).sum()) == 0
    assert level(NOISE - 0.03 * (np.arange(len(T)) % 50 == 7)) == 0


def test_levels_must_lie_apart_more_than_any_scatter_and_need_not_more() -> None:
    """Seven times what scatters within are two levels, and 2.6 times, which a cut makes of one, are not."""
    wide = np.random.default_rng(5).normal(0.0, 0.0045, len(T))
    found = second_level(wide - 0.032 * OPEN, SLOPE, SPEED, 0.001)
    assert np.mean(found == OPEN) > 0.99
    still = np.zeros(len(T))
    for seed in range(5):
        assert level(np.random.default_rng(seed).normal(0.0, 0.03, len(T)), still) == 0


def some_rows(count: int, of: NDArray[np.bool_], seed: int) -> NDArray[np.bool_]:
    chosen = np.zeros(len(T), dtype=np.bool_)
    chosen[np.random.default_rng(seed).choice(np.flatnonzero(of), count, replace=False)] = True
    return chosen


@pytest.mark.parametrize(("rising", "told"), [(9, True), (4, False)])
def test_a_level_is_met_both_ways(rising: int, told: bool) -> None:
    """Of 30 rows 9 while the speed rises are some, 4 are what a wrong lag leaves."""
    fast = np.abs(SLOPE) > 0.03
    low = some_rows(rising, fast & (SLOPE > 0.0), 1) | some_rows(30 - rising, fast & (SLOPE < 0.0), 2)
    assert (level(NOISE - 0.1 * low) > 0) == told


@pytest.mark.parametrize(("quicker", "told"), [(1.5, True), (3.0, False)])
def test_a_level_is_met_at_any_rate_of_change(quicker: float, told: bool) -> None:
    slope = 0.04 * np.where(np.arange(len(T)) % 2 == 0, 1.0, -1.0)
    low = some_rows(30, np.ones(len(T), dtype=np.bool_), 3)
    assert (level(NOISE - 0.1 * low, np.where(low, quicker * slope, slope)) > 0) == told
