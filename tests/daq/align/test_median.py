"""The quick median against numpy's."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from daq.align.median import median

_NUMBERS = st.floats(-1e12, 1e12) | st.just(float("inf"))


@given(st.lists(_NUMBERS, min_size=1, max_size=60))
def test_it_is_numpys_to_the_last_bit(values: list[float]) -> None:
    x = np.array(values)
    before = x.copy()
    assert median(x) == np.median(x)
    assert np.array_equal(x, before), "changed in place"


def test_long_arrays_and_those_with_a_hole() -> None:
    x = np.random.default_rng(1).normal(size=10_001)
    assert median(x) == np.median(x)
    assert np.isnan(median(np.array([1.0, np.nan, 3.0])))
