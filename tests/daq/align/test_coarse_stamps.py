"""Stamps in whole seconds beside faster readings: placed by the pace, or not at all."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.coarse_stamps import find_coarse_stamps
from daq.align.timebase import fit_time_base

Floats = NDArray[np.float64]


def true_times(step_s: float, seed: int = 1, seconds: float = 60.0) -> Floats:
    first = np.random.default_rng(seed).uniform(0.0, step_s)
    return np.asarray(np.arange(first, seconds, step_s))


def off_the_pace(placed: Floats, true_s: Floats) -> float:
    """Largest distance once the constant part, which is in the lag, is taken off."""
    away = placed - true_s
    return float(np.max(np.abs(away - np.mean(away))))


@pytest.mark.parametrize("step_s", [0.25, 0.4, 0.43, 0.5, 0.7])
def test_whole_seconds_are_placed_by_the_pace(step_s: float) -> None:
    for seed in range(5):
        true_s = true_times(step_s, seed)
        base = fit_time_base(np.floor(true_s))
        assert base.coarse_step_s == 1.0
        assert base.period_s == pytest.approx(step_s, rel=3e-3)
        assert off_the_pace(base.time_s, true_s) < 0.11
        assert np.all(np.diff(base.time_s) > 0.0)
        assert base.jitter_s == pytest.approx(1.0 / np.sqrt(12.0))


def test_ticks_of_another_size_are_seen_too() -> None:
    true_s = true_times(0.04)
    found = find_coarse_stamps(np.floor(true_s * 10.0) / 10.0)
    assert found is not None
    assert found.step_s == pytest.approx(0.1)
    assert found.period_s == pytest.approx(0.04, rel=3e-3)


@pytest.mark.parametrize("step_s", [1.0, 1.7])
def test_one_reading_for_each_stamp_is_fine_enough(step_s: float) -> None:
    base = fit_time_base(np.floor(true_times(step_s)))
    assert base.coarse_step_s == 0.0


def test_fine_stamps_and_a_burst_after_a_stall_are_not_coarse() -> None:
    stamps = np.arange(3.0, 63.0, 0.5)
    assert find_coarse_stamps(stamps) is None
    stamps[40:60] = stamps[60]
    assert find_coarse_stamps(stamps) is None


def test_readings_that_are_missing_can_not_be_placed() -> None:
    true_s = true_times(0.4)
    kept = np.random.default_rng(3).random(len(true_s)) > 0.3
    base = fit_time_base(np.floor(true_s[kept]))
    assert base.coarse_step_s == 1.0
    assert base.period_s is None
