"""How far readings repeat each other, where outliers, short records and coincidences set the limits."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.scatter import correlation_time, robust_sd

Floats = NDArray[np.float64]


def repeated(count: int, times: int, seed: int = 3) -> Floats:
    """Each value several times over."""
    return np.repeat(np.random.default_rng(seed).normal(size=count), times)


def test_outliers_beyond_four_deviations_count_as_four() -> None:
    """Ten pairs of huge readings: they raise the likeness of neighbours by what ten pairs of four would."""
    rng = np.random.default_rng(5)
    x = rng.normal(size=400)
    clipped = x.copy()
    for place in range(20, 400, 40):
        x[place : place + 2] = 50.0
        clipped[place : place + 2] = 4.0 * robust_sd(x) + np.median(x)
    assert correlation_time(x) == pytest.approx(correlation_time(clipped), rel=0.02)


@pytest.mark.parametrize("times", [4, 8, 16])
def test_values_that_stand_for_a_while(times: int) -> None:
    """A value that comes m times over: the correlations (m - k)/m for k = 1 to m - 1 sum to (m - 1)/2, so m in all."""
    found = np.mean([correlation_time(repeated(600, times, seed)) for seed in range(5)])
    assert found == pytest.approx(times, rel=0.12)


def test_the_most_and_a_quarter_of_the_record_bound_it() -> None:
    assert correlation_time(repeated(40, 200)) == 25.0
    assert correlation_time(repeated(40, 200), most=10.0) == 10.0
    assert correlation_time(np.arange(32.0)) == 8.0


def test_a_small_likeness_is_a_coincidence() -> None:
    """Of white noise hardly one record in thirty shows two standard deviations of its first correlation."""
    found = [correlation_time(np.random.default_rng(seed).normal(size=100)) for seed in range(120)]
    assert 0 < np.count_nonzero(np.array(found) > 1.0) < 10


def test_most_equal_readings_have_no_scatter() -> None:
    x = np.zeros(50)
    x[::5] = 1.0
    assert correlation_time(x) == 1.0
