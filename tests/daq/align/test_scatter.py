"""Robust width, and how far readings repeat each other."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.scatter import correlation_time, robust_sd


def test_robust_sd_is_that_of_a_normal_scatter() -> None:
    x = np.random.default_rng(1).normal(5.0, 0.3, 20_000)
    assert robust_sd(x) == pytest.approx(0.3, rel=0.03)
    x[:3000] = 1e6
    assert robust_sd(x) < 0.45


def test_robust_sd_of_nothing_and_of_one_value() -> None:
    assert robust_sd(np.empty(0)) == 0.0
    assert robust_sd(np.full(10, 3.0)) == 0.0


def test_independent_readings_stand_for_themselves() -> None:
    rng = np.random.default_rng(2)
    times = [correlation_time(rng.normal(size=200)) for _ in range(100)]
    assert np.mean(np.array(times) == 1.0) > 0.9


@pytest.mark.parametrize("phi", [0.3, 0.6, 0.8])
def test_readings_that_repeat_each_other(phi: float) -> None:
    """For a first-order chain the sum is known: (1 + phi)/(1 - phi)."""
    rng = np.random.default_rng(3)
    times = []
    for _ in range(30):
        noise = rng.normal(size=2000)
        x = np.empty(2000)
        x[0] = noise[0]
        for i in range(1, 2000):
            x[i] = phi * x[i - 1] + noise[i]
        times.append(correlation_time(x))
    assert np.median(times) == pytest.approx((1.0 + phi) / (1.0 - phi), rel=0.15)


def test_readings_that_alternate_claim_no_more_than_their_number() -> None:
    assert correlation_time(np.tile([1.0, -1.0], 100) + 0.01 * np.arange(200) % 0.03) == 1.0


def test_short_records_claim_little() -> None:
    slow = np.sin(np.linspace(0.0, 3.0, 16))
    assert correlation_time(slow) <= 4.0
    assert correlation_time(np.arange(7.0)) == 1.0
    assert correlation_time(np.sin(np.linspace(0.0, 30.0, 5000))) <= 25.0


def test_one_outlier_does_not_hide_the_likeness() -> None:
    rng = np.random.default_rng(4)
    x = np.convolve(rng.normal(size=409), np.ones(10), "valid")
    clean = correlation_time(x)
    x[200] = 1e6
    assert correlation_time(x) == pytest.approx(clean, rel=0.2)
