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
