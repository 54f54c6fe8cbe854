"""An instrument that is read faster than it measures: each value counts once, at the instrument's own pace."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.repeats import Repeats, find_repeats

Floats = NDArray[np.float64]


def read(
    pace_s: float, asked_s: float, seed: int = 1, *, digit: float = 0.01
) -> tuple[Floats, Floats, Floats]:
    """Times of the questions, what was answered, and when each new value was measured."""
    rng = np.random.default_rng(seed)
    measured_s = np.arange(rng.uniform(0.0, pace_s), 60.0, pace_s)
    value = np.round((20.0 + 3.0 * np.sin(measured_s / 4.0)) / digit) * digit
    asked = np.arange(measured_s[0] + asked_s, 60.0, asked_s)
    asked = asked + np.abs(rng.normal(0.0, 0.05 * asked_s, len(asked)))
    return asked, value[np.searchsorted(measured_s, asked) - 1], measured_s


def new_times(found: Repeats) -> Floats:
    return np.asarray(found.base.time_s[~found.repeated])


@pytest.mark.parametrize(
    ("pace_s", "asked_s"), [(1.0, 0.2), (1.0, 0.27), (0.5, 0.1), (0.7, 0.31), (2.0, 0.25)]
)
def test_each_value_counts_once_at_the_pace_of_the_instrument(pace_s: float, asked_s: float) -> None:
    for seed in range(5):
        asked, value, measured_s = read(pace_s, asked_s, seed)
        found = find_repeats(asked, value)
        assert found is not None
        assert found.base.period_s == pytest.approx(pace_s, rel=2e-3)
        assert np.all(np.diff(found.base.time_s) > 0.0)
        placed = new_times(found)
        assert abs(len(placed) - len(measured_s)) <= 2  # at the ends
        beats = (placed - placed[0]) / pace_s
        assert np.max(np.abs(beats - np.rint(beats))) * pace_s < 0.5 * asked_s


def test_a_value_that_comes_out_the_same_twice_is_two_readings() -> None:
    asked, value, measured_s = read(1.0, 0.2, digit=0.25)
    assert np.count_nonzero(np.diff(value)) < 0.9 * len(measured_s)  # some come out the same
    found = find_repeats(asked, value)
    assert found is not None
    assert abs(len(new_times(found)) - len(measured_s)) <= 1
    assert np.diff(new_times(found)) == pytest.approx(1.0, abs=0.1)


def test_what_repeats_without_a_pace_is_the_engine_that_holds() -> None:
    t = np.arange(0.0, 60.0, 0.5)
    for seed in range(60):
        rng = np.random.default_rng(seed)
        slow = (
            3600.0 + 12.0 * np.sin(t * rng.uniform(0.2, 0.5)) + 5.0 * np.sin(t * rng.uniform(0.5, 0.9) + 1.0)
        )
        shown = np.round(slow / 10.0) * 10.0
        assert np.mean(np.diff(shown) == 0.0) > 0.4
        assert find_repeats(t, shown) is None


def test_a_reading_that_repeats_now_and_then_is_its_own() -> None:
    t = np.arange(0.0, 60.0, 0.4)
    value = np.round(20.0 + np.random.default_rng(1).normal(0.0, 0.01, len(t)), 2)
    assert find_repeats(t, value) is None


def test_values_that_are_missing_repeat_each_other_too() -> None:
    asked, value, _ = read(1.0, 0.2)
    value[np.abs(asked - 30.0) < 3.0] = np.nan
    found = find_repeats(asked, value)
    assert found is not None
    assert found.base.period_s == pytest.approx(1.0, rel=5e-3)


def test_few_readings_show_no_pace() -> None:
    asked, value, _ = read(1.0, 0.2)
    assert find_repeats(asked[:60], value[:60]) is None
    assert find_repeats(asked[:0], value[:0]) is None
