"""Pole pairs: how many there may be, and how far a ratio may lie from a whole number."""

from __future__ import annotations

import numpy as np
import pytest

from daq.rated.poles import pole_pairs_from_readings


def found(ratio: float, spread: float = 0.0, count: int = 41) -> int | None:
    """Pole pairs from readings whose ratios lie evenly around one."""
    rpm = np.full(count, 3000.0)
    ratios = ratio + np.linspace(-spread, spread, count)
    return pole_pairs_from_readings(ratios * rpm / 60.0, rpm).pole_pairs


@pytest.mark.parametrize(("ratio", "pairs"), [(0.01, None), (0.4, None), (1.0, 1), (60.0, 60), (61.0, None)])
def test_from_one_pair_to_sixty(ratio: float, pairs: int | None) -> None:
    assert found(ratio) == pairs


@pytest.mark.parametrize(
    ("ratio", "pairs"), [(1.019, 1), (1.021, None), (5.91, 6), (5.87, None), (20.26, None)]
)
def test_within_two_percent_of_a_whole_number_and_a_quarter_of_a_pair(
    ratio: float, pairs: int | None
) -> None:
    assert found(ratio) == pairs


@pytest.mark.parametrize(("off", "pairs"), [(0.15, 6), (0.19, None), (0.26, None)])
def test_scattered_ratios_may_lie_three_of_their_mean_deviations_off(off: float, pairs: int | None) -> None:
    """Ratios spread over ±0.5 have a robust deviation of 0.37, so their middle of 41 one of 0.058: 0.17 at most."""
    assert found(6.0 + off, spread=0.5) == pairs


def test_the_spread_told_is_the_robust_deviation() -> None:
    rpm = np.full(41, 3000.0)
    ratios = 6.0 + np.linspace(-0.5, 0.5, 41)
    told = pole_pairs_from_readings(ratios * rpm / 60.0, rpm)
    assert told.u_ratio == pytest.approx(1.4826 * 0.25)
    assert told.ratio == pytest.approx(6.0)


@pytest.mark.parametrize(("count", "pairs"), [(2, None), (3, 6)])
def test_three_readings_are_enough(count: int, pairs: int | None) -> None:
    assert found(6.0, count=count) == pairs
