"""Small versions of the figures of issue 3; the whole ones stand in tests/benchmarks/alignment_accuracy.py."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.alignment_accuracy import WANTED, noise_let_through, outcome
from tests.daq.align.builders import Kind, random_run


@pytest.mark.parametrize("kind", ["sweep", "steps", "hunting"])
def test_rows_beat_dividing_by_hand(kind: Kind) -> None:
    rng = np.random.default_rng(31)
    some = [outcome(random_run(kind, rng), 0.9) for _ in range(12)]
    pooled = np.sqrt(np.mean([o.baseline for o in some]) / np.mean([o.ours for o in some]))
    assert pooled > WANTED[kind]
    assert np.mean([o.valued for o in some]) > 0.85
    errors = np.array([o.lag_error_s for o in some])
    assert (np.abs(errors) < 3.0 * np.array([o.lag_u_s for o in some])).mean() >= 0.9
    if kind == "sweep":
        assert np.median(np.abs(errors)) < 0.012


def test_the_kernel_does_not_amplify_the_tachs_noise() -> None:
    assert 0.5 < noise_let_through(np.random.default_rng(3)) < 1.1


def test_rows_on_throttle_steps_come_near_the_floor() -> None:
    """Without the moment of the kinks they were at five times what noise and digits alone leave."""
    rng = np.random.default_rng(31)
    let_through = noise_let_through(rng)
    some = [outcome(random_run("steps", rng), let_through) for _ in range(10)]
    # Of each run the kinks of the last two seconds, which nothing tells, are a part: so the middle one.
    assert float(np.median([np.sqrt(o.ours / o.floor) for o in some])) < 1.6
