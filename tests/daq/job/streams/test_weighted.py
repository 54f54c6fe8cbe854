"""Means over uneven stamps: time counts, not the number of readings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.job.streams.weighted import longest_hold_s, time_mean


def test_a_burst_of_readings_does_not_pull_the_mean() -> None:
    # 10 s at 0 A with a reading each second, then 10 s at 10 A with a hundred readings each.
    slow, fast = np.arange(0.0, 10.0, 1.0), np.arange(10.0, 20.0, 0.01)
    time_s = np.concatenate([slow, fast])
    value = np.concatenate([np.zeros(len(slow)), np.full(len(fast), 10.0)])
    found = time_mean(time_s, value)
    assert float(np.mean(value)) > 9.8
    assert found.mean == pytest.approx(5.25, abs=0.05)
    assert found.covered_s == pytest.approx(19.99)
    assert found.gaps == 0


def test_a_gap_counts_for_nothing_and_is_told() -> None:
    time_s = np.array([0.0, 1.0, 2.0, 60.0, 61.0, 62.0])
    found = time_mean(time_s, np.array([1.0, 1.0, 1.0, 3.0, 3.0, 3.0]))
    assert (found.gaps, found.gap_s, found.covered_s) == (1, 58.0, 4.0)
    assert found.mean == pytest.approx(2.0)
    assert found.integral == pytest.approx(8.0)


def test_the_integral_is_that_of_the_trapezoid_rule() -> None:
    rng = np.random.default_rng(3)
    time_s = np.cumsum(rng.uniform(0.003, 1.9, 400))
    value = 200.0 * np.exp(-time_s / 100.0)
    found = time_mean(time_s, value)
    exact = 200.0 * 100.0 * (np.exp(-time_s[0] / 100.0) - np.exp(-time_s[-1] / 100.0))
    assert found.integral == pytest.approx(exact, rel=1e-3)
    assert found.integral == pytest.approx(float(np.trapezoid(value, time_s)), rel=1e-12)


@given(st.lists(st.floats(0.01, 2.0), min_size=2, max_size=40), st.floats(-50.0, 50.0))
def test_constant_readings_have_that_mean_however_they_come(steps: list[float], value: float) -> None:
    time_s = np.cumsum(np.array(steps))
    found = time_mean(time_s, np.full(len(steps), value))
    assert found.mean == pytest.approx(value, abs=1e-9)
    assert found.scatter_u == pytest.approx(0.0, abs=1e-9)


def test_the_stated_scatter_covers_the_truth() -> None:
    rng = np.random.default_rng(5)
    inside = 0
    for _ in range(400):
        time_s = np.cumsum(rng.uniform(0.1, 0.9, 60))
        found = time_mean(time_s, 4.0 + rng.normal(0.0, 0.5, 60))
        inside += abs(found.mean - 4.0) <= 2.0 * found.scatter_u
    assert 0.91 <= inside / 400 <= 0.985


def test_one_reading_is_its_own_mean_and_none_is_refused() -> None:
    assert time_mean(np.array([3.0]), np.array([7.0])).mean == 7.0
    with pytest.raises(ValueError, match="at least one reading"):
        time_mean(np.empty(0), np.empty(0))


@pytest.mark.parametrize(("step_s", "limit_s"), [(0.1, 3.0), (0.3, 3.0), (1.0, 8.0), (5.0, 40.0)])
def test_what_counts_as_a_gap_goes_with_the_usual_step(step_s: float, limit_s: float) -> None:
    assert longest_hold_s(np.asarray(np.arange(20) * step_s, dtype=np.float64)) == pytest.approx(limit_s)
    assert longest_hold_s(np.array([1.0])) == 3.0
