"""Smooth clocks: true reading times are known here, arrivals are made late on purpose."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from daq.align.timebase import BLOCK, TimeBase, fit_time_base

Floats = NDArray[np.float64]


def beats(count: int, pace_s: float = 0.4, start_s: float = 3.0) -> Floats:
    return np.asarray(start_s + pace_s * np.arange(count), dtype=np.float64)


def late(true_s: Floats, jitter_s: float, seed: int = 1) -> Floats:
    """Arrivals: half-normal lateness, in order."""
    rng = np.random.default_rng(seed)
    return np.maximum.accumulate(true_s + np.abs(rng.normal(0.0, jitter_s, len(true_s))))


def placed_error(base: TimeBase, true_s: Floats) -> Floats:
    """Error of the placed times with their mean taken off: a constant lateness is part of the lag."""
    error = base.time_s - true_s
    return np.asarray(error - np.median(error))


def test_jitter_is_smoothed_away() -> None:
    true_s = beats(200)
    stamps = late(true_s, 0.03)
    base = fit_time_base(stamps)
    assert base.period_s == pytest.approx(0.4, rel=1e-3)
    assert base.pieces == 1
    # Half-normal lateness of 30 ms scatters by 18 ms; the fit over 200 readings leaves a few.
    assert 0.012 < base.jitter_s < 0.025
    assert np.max(np.abs(placed_error(base, true_s))) < 0.006
    assert np.max(np.abs(stamps - true_s - np.median(stamps - true_s))) > 0.04


def test_a_burst_after_a_stall_does_not_bend_the_clock() -> None:
    true_s = beats(150)
    stamps = late(true_s, 0.004)
    # From reading 60 nothing comes for 4 s, then ten readings at once.
    stamps[60:70] = true_s[70] - 0.001 + 1e-4 * np.arange(10)
    base = fit_time_base(np.maximum.accumulate(stamps))
    assert base.pieces == 1
    assert np.max(np.abs(placed_error(base, true_s))) < 0.004


@pytest.mark.parametrize("stalled", [3, 11, 20, 84, 98])
def test_a_stall_near_either_end_is_no_restart(stalled: int) -> None:
    """Eleven of a group of sixteen readings come late: the clock does not move for them."""
    true_s = beats(112)
    stamps = late(true_s, 0.004)
    stamps[stalled : stalled + 11] = true_s[stalled + 11] - 0.001
    base = fit_time_base(np.maximum.accumulate(stamps))
    assert base.pieces == 1
    assert np.max(np.abs(placed_error(base, true_s))) < 0.006


def test_missing_readings_leave_their_places_empty() -> None:
    true_s = np.delete(beats(120), [17, 40, 41, 42, 90])
    base = fit_time_base(late(true_s, 0.005))
    assert base.pieces == 1
    assert np.max(np.abs(placed_error(base, true_s))) < 0.004
    steps = np.rint(np.diff(base.time_s) / 0.4)
    assert np.flatnonzero(steps > 1).tolist() == [16, 38, 85]
    assert steps[[16, 38, 85]].tolist() == [2.0, 4.0, 2.0]


def test_a_restart_with_another_phase_starts_a_new_piece() -> None:
    true_s = np.concatenate((beats(100), beats(100, start_s=3.0 + 0.4 * 100 + 0.19)))
    base = fit_time_base(late(true_s, 0.004))
    assert base.pieces == 2
    assert np.max(np.abs(placed_error(base, true_s))) < 0.004


def test_a_long_gap_starts_a_new_piece() -> None:
    true_s = np.concatenate((beats(80), beats(80, start_s=95.13)))
    base = fit_time_base(late(true_s, 0.004))
    assert base.pieces == 2
    assert np.max(np.abs(placed_error(base, true_s))) < 0.004


def test_a_long_gap_before_a_handful_of_readings() -> None:
    true_s = np.concatenate((beats(60), beats(12, start_s=95.17)))
    base = fit_time_base(late(true_s, 0.004))
    assert base.pieces == 2
    assert np.max(np.abs(placed_error(base, true_s))) < 0.006


def test_no_steady_pace_keeps_the_stamps() -> None:
    rng = np.random.default_rng(4)
    stamps = np.cumsum(rng.exponential(0.5, 200))
    base = fit_time_base(stamps)
    assert base.period_s is None
    assert base.jitter_s == 0.0
    assert np.array_equal(base.time_s, stamps)


def test_what_the_card_says_is_believed() -> None:
    stamps = late(beats(50), 0.01)
    base = fit_time_base(stamps, periodic=False)
    assert base.period_s is None
    assert np.array_equal(base.time_s, stamps)


@pytest.mark.parametrize("count", [0, 1, 2, 7])
def test_few_readings_keep_their_stamps(count: int) -> None:
    stamps = late(beats(count), 0.03)
    base = fit_time_base(stamps)
    assert base.period_s is None
    assert np.array_equal(base.time_s, stamps)
    assert base.pieces == 1


def test_stamps_that_stand_still_are_told_apart() -> None:
    base = fit_time_base(np.full(30, 5.0))
    assert base.period_s is None
    assert np.all(np.diff(base.time_s) > 0.0)
    assert base.time_s[-1] < 5.001


def test_a_crystal_that_drifts_over_a_day_is_followed() -> None:
    """24 h at 2.5/s; the pace wanders by ±20 parts in a million with the day's temperature."""
    count = int(24 * 3600 / 0.4)
    pace = 0.4 * (1.0 + 20e-6 * np.sin(2.0 * np.pi * np.arange(count) / count))
    true_s = np.cumsum(pace)
    base = fit_time_base(late(true_s, 0.02))
    assert base.pieces == 1
    # A single straight line would be wrong by 0.27 s in the middle.
    assert np.max(np.abs(placed_error(base, true_s))) < 0.008


def test_a_slightly_wrong_pace_does_not_split_a_long_run() -> None:
    """Readings at 0.400037 s for two hours: the pace comes from the stamps, not from a round number."""
    true_s = beats(18_000, pace_s=0.400037)
    base = fit_time_base(late(true_s, 0.01))
    assert base.period_s == pytest.approx(0.400037, rel=1e-5)
    assert base.pieces == 1
    assert np.max(np.abs(placed_error(base, true_s))) < 0.005


@pytest.mark.parametrize("pace_s", [0.002, 0.05, 0.25, 1.0, 4.0])
def test_any_pace(pace_s: float) -> None:
    true_s = beats(3 * BLOCK, pace_s=pace_s)
    base = fit_time_base(late(true_s, 0.05 * pace_s))
    assert base.period_s == pytest.approx(pace_s, rel=1e-4)
    assert np.max(np.abs(placed_error(base, true_s))) < 0.02 * pace_s


def test_burst_and_restart_and_missing_readings_together() -> None:
    first = np.delete(beats(200), [50, 120])
    true_s = np.concatenate((first, beats(200, start_s=first[-1] + 3.33)))
    stamps = late(true_s, 0.01)
    stamps[80:86] = stamps[86] - 1e-3
    base = fit_time_base(np.maximum.accumulate(stamps))
    error = placed_error(base, true_s)
    assert np.max(np.abs(error)) < 0.012


@given(
    count=st.integers(8, 120),
    pace_s=st.floats(0.05, 2.0),
    jitter=st.floats(0.0, 0.1),
    missing=st.sets(st.integers(1, 118), max_size=6),
    seed=st.integers(0, 1000),
)
@settings(max_examples=60, deadline=None)
def test_placed_times_always_rise_and_stay_near(
    count: int, pace_s: float, jitter: float, missing: set[int], seed: int
) -> None:
    true_s = np.delete(beats(count, pace_s), [m for m in missing if m < count - 1])
    base = fit_time_base(late(true_s, jitter * pace_s, seed))
    assert len(base.time_s) == len(true_s)
    assert np.all(np.diff(base.time_s) > 0.0)
    assert np.max(np.abs(placed_error(base, true_s))) < max(0.5 * pace_s, 1e-6)


def test_shifting_all_stamps_shifts_the_placed_times() -> None:
    stamps = late(beats(100), 0.02)
    a, b = fit_time_base(stamps), fit_time_base(stamps + 1000.0)
    assert b.time_s - a.time_s == pytest.approx(np.full(100, 1000.0), abs=1e-6)


@pytest.mark.parametrize("away_s", [86_400.0, 3.9e9])
def test_a_stamp_far_away_costs_no_more_than_one_nearby(away_s: float) -> None:
    """What a search over the whole span would take: 64 GB for a stamp that a stranger's file puts years away."""
    stamps = np.append(0.1 * np.arange(200), away_s)
    tracemalloc.start()
    try:
        base = fit_time_base(stamps)
        assert tracemalloc.get_traced_memory()[1] < 50e6
    finally:
        tracemalloc.stop()
    assert base.period_s == pytest.approx(0.1, rel=1e-3)
