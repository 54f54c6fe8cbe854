"""Small versions of the coverage of issue 3; the whole ones stand in tests/benchmarks/interval_coverage.py."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.interval_coverage import (
    ASKED_FOR,
    PAIRS,
    Pair,
    analysed,
    coverage,
    spoiled,
    with_false_readings,
)
from tests.daq.align.builders import random_run

RUNS = 60


@pytest.mark.parametrize("pair", PAIRS[:2], ids=lambda p: p.name)
def test_interval_holds_the_truth(pair: Pair) -> None:
    """Of 60 runs 57 should hold it; fewer than 52 happens once in ten thousand."""
    held = np.concatenate(list(coverage(pair, RUNS, np.random.default_rng(17), cards=True).values()))
    assert held.sum() >= 52


def test_false_data_never_pass() -> None:
    errors, wrong_pass, right_pass = spoiled(24, np.random.default_rng(18))
    assert np.max(np.abs(errors)) < 0.003
    assert not wrong_pass.any()
    assert right_pass.all()


def test_a_shift_that_gives_up_the_readings_on_steps_is_not_the_best() -> None:
    """The quiet readings between steps fit any shift; given up as outliers, those on the steps would cost nothing."""
    rng = np.random.default_rng(18)
    runs = [with_false_readings(random_run(ASKED_FOR[i % 3], rng), rng) for i in range(11)]
    pairing = analysed(runs[10], (None, None)).pairing
    assert pairing is not None
    assert pairing.lag.determined
    assert pairing.lag.rivals_s == ()
    assert pairing.lag.lag_s == pytest.approx(runs[10].lag_s, abs=0.02)
