"""Small versions of the coverage of issue 3; the whole ones stand in tests/benchmarks/interval_coverage.py."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.interval_coverage import PAIRS, Pair, coverage, spoiled

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
