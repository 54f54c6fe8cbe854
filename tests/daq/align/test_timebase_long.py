"""A run of very many readings on a smooth clock: parts and samples must not show in it."""

from __future__ import annotations

import numpy as np

from daq.align.parts import LONG, PART
from daq.align.timebase import BLOCK, fit_time_base

PERIOD_S = 0.1
COUNT = LONG + PART // 2 + 5
JITTER_S = 0.002


def test_a_restart_a_stall_and_a_drift_are_found_among_hours() -> None:
    rng = np.random.default_rng(2)
    beat = np.arange(COUNT)
    # Half a crystal's 20 parts in a million, forward and back, over the run; a restart at a place of no block.
    true_s = PERIOD_S * beat + 0.02 * np.sin(2.0 * np.pi * beat / COUNT)
    restart = 2 * PART + 333
    true_s[restart:] += 0.4 * PERIOD_S
    stamp_s = true_s + np.abs(rng.normal(0.0, JITTER_S, COUNT))
    stall = slice(PART - 7, PART + 8)
    stamp_s[stall] = stamp_s[PART + 8]
    base = fit_time_base(stamp_s)
    assert base.pieces == 2
    assert base.period_s is not None
    assert abs(base.period_s - PERIOD_S) < 1e-5
    late_s = base.time_s - true_s
    # Mean lateness is part of the lag; what is left is a few times the jitter over the root of a block.
    away = np.abs(late_s - np.median(late_s))
    assert away.max() < 12.0 * JITTER_S / BLOCK**0.5
    assert np.all(np.diff(base.time_s) > 0.0)
    assert 0.5 * JITTER_S < base.jitter_s < JITTER_S


def test_a_gap_between_two_parts_is_seen() -> None:
    stamp_s = PERIOD_S * np.arange(2.0 * PART)
    stamp_s[PART:] += 1000 * PERIOD_S
    base = fit_time_base(stamp_s)
    assert base.pieces == 2
    assert np.allclose(base.time_s, stamp_s, rtol=0.0, atol=1e-6)
