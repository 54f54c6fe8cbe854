"""Least and greatest value between two moments, beside a search reading by reading."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.ranges import range_between


@pytest.mark.parametrize("seed", range(20))
def test_as_a_search_by_hand_finds_them(seed: int) -> None:
    rng = np.random.default_rng(seed)
    time_s = np.sort(rng.integers(0, 60, int(rng.integers(0, 40)))).astype(np.float64)
    value = rng.normal(0.0, 1.0, len(time_s))
    begin = rng.integers(-5, 65, 50).astype(np.float64)
    end = begin + rng.integers(-3, 70, 50)
    low, high = range_between(time_s, value, begin, end)
    for i in range(50):
        inside = value[(time_s >= begin[i]) & (time_s <= end[i])]
        if len(inside) == 0 or begin[i] > end[i]:
            assert np.isnan(low[i])
            assert np.isnan(high[i])
        else:
            assert (low[i], high[i]) == (inside.min(), inside.max())
