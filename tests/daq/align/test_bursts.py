"""Readings that arrive several at once: spread back at the pace at which they were taken, or not at all."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.bursts import find_bursts
from daq.align.streams import Stream, place_streams

Floats = NDArray[np.float64]


def handed_over(pace_s: float, every_s: float, seed: int, *, lost: float = 0.0) -> tuple[Floats, Floats]:
    """When readings were taken, and their stamps."""
    rng = np.random.default_rng(seed)
    taken = np.arange(rng.uniform(0.0, pace_s), 60.0, pace_s)
    taken = taken[rng.random(len(taken)) >= lost]
    ready = taken + np.abs(rng.normal(0.0, 0.02, len(taken)))
    stamp = np.ceil(ready / every_s) * every_s
    return taken, np.maximum.accumulate(stamp) + 0.002 * (
        np.arange(len(stamp)) - np.searchsorted(stamp, stamp)
    )


@pytest.mark.parametrize(
    ("pace_s", "every_s"), [(0.4, 1.0), (0.5, 1.0), (0.25, 1.0), (0.43, 2.0), (0.1, 0.5)]
)
def test_the_readings_of_a_burst_are_spread_back_at_their_own_pace(pace_s: float, every_s: float) -> None:
    for seed in range(5):
        taken, stamp = handed_over(pace_s, every_s, seed)
        found = find_bursts(stamp)
        assert found is not None
        assert found.apart_s == pytest.approx(every_s, rel=0.05)
        assert found.period_s == pytest.approx(pace_s, rel=0.005)
        away = found.time_s - taken
        assert np.max(np.abs(away - np.mean(away))) < 0.3 * pace_s
        assert found.scatter_s < 0.5 * pace_s


def test_one_late_burst_moves_nothing() -> None:
    taken, stamp = handed_over(0.5, 1.0, 3)
    late = stamp.copy()
    late[(stamp > 20.5) & (stamp < 23.5)] = 23.0 + 0.002 * np.arange(np.sum((stamp > 20.5) & (stamp < 23.5)))
    found, usual = find_bursts(late), find_bursts(stamp)
    assert found is not None
    assert usual is not None
    assert np.max(np.abs(found.time_s - usual.time_s)) < 0.1
    assert len(found.time_s) == len(taken)


def test_where_readings_are_missing_nothing_can_be_placed() -> None:
    _, stamp = handed_over(0.25, 1.0, 1, lost=0.3)
    found = find_bursts(stamp)
    assert found is not None
    assert found.period_s is None
    assert np.array_equal(found.time_s, stamp)


@pytest.mark.parametrize("jitter_s", [0.0, 0.03, 0.1, 0.3])
def test_readings_that_come_one_by_one_are_no_bursts(jitter_s: float) -> None:
    rng = np.random.default_rng(2)
    taken = np.arange(0.0, 60.0, 0.4)
    assert find_bursts(np.sort(taken + rng.uniform(0.0, jitter_s, len(taken)))) is None


def test_a_stall_with_a_burst_after_it_is_no_pace_of_bursts() -> None:
    stamp = np.arange(0.0, 60.0, 0.4)
    stalled = np.where((stamp > 20.0) & (stamp < 35.0), 35.0 + 0.001 * np.arange(len(stamp)), stamp)
    assert find_bursts(np.sort(stalled)) is None


def test_few_readings_show_no_bursts() -> None:
    _, stamp = handed_over(0.25, 1.0, 1)
    assert find_bursts(stamp[:15]) is None
    assert find_bursts(stamp[:20]) is None  # five bursts


def test_bursts_of_one_stamp_that_keep_no_pace_stand_one_behind_the_other() -> None:
    rng = np.random.default_rng(5)
    size = rng.integers(2, 9, 40)
    stamp = np.repeat(np.cumsum(rng.uniform(0.1, 2.0, 40)), size)
    found = find_bursts(stamp)
    assert found is not None
    assert found.period_s is None
    speed = Stream(stamp, np.full(len(stamp), 3600.0), np.zeros(len(stamp), dtype=np.bool_), None)
    placed = place_streams(speed, speed, digit_v=0.01, digit_rpm=1.0)
    for base in (placed.speed_base, placed.volts_base):
        assert np.all(np.diff(base.time_s) > 0.0)
        assert np.max(np.abs(base.time_s - stamp)) < 1e-5
