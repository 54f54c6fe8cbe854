"""Where a smooth clock stops being one: how much scatter, how large a jump, how long a gap."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.timebase import _robust_line, fit_time_base
from daq.align.timebase import rising as told_apart
from tests.daq.align.test_timebase import beats, late, placed_error


@pytest.mark.parametrize(("width", "kept"), [(0.6, True), (1.2, False)])
def test_a_pace_is_kept_up_to_a_third_of_the_interval_of_scatter(width: float, kept: bool) -> None:
    """Stamps anywhere within a width have a robust deviation of 0.37 of it: here 0.22 and 0.44 of the interval."""
    rng = np.random.default_rng(4)
    true_s = beats(400)
    base = fit_time_base(np.sort(true_s + 0.4 * rng.uniform(0.0, width, 400)))
    assert (base.period_s is not None) == kept
    if kept:
        assert 0.2 * 0.4 < base.jitter_s < 0.35 * 0.4


@pytest.mark.parametrize(("jump", "pieces"), [(0.06, 1), (0.2, 2), (0.45, 2)])
def test_a_restart_shows_from_an_eighth_of_the_interval(jump: float, pieces: int) -> None:
    stamps = late(beats(320), 0.002)
    stamps[160:] += jump * 0.4
    base = fit_time_base(stamps)
    assert base.pieces == pieces


@pytest.mark.parametrize("seed", range(6))
def test_a_jump_shows_through_scatter_of_two_thirds_of_its_size(seed: int) -> None:
    """Levels of groups of sixteen scatter by a few ms: 60 ms are more than eight times that, though not sixteen."""
    stamps = late(beats(640), 0.04, seed)
    assert fit_time_base(stamps).pieces == 1
    stamps[320:] += 0.06
    assert fit_time_base(np.maximum.accumulate(stamps)).pieces == 2


@pytest.mark.parametrize(("missing", "pieces"), [(7, 1), (9, 2)])
def test_eight_missing_readings_are_a_gap(missing: int, pieces: int) -> None:
    stamps = np.delete(late(beats(200), 0.003), np.arange(100, 100 + missing))
    assert fit_time_base(stamps).pieces == pieces


@pytest.mark.parametrize(("missing", "pieces"), [(28, 1), (32, 2)])
def test_for_a_quick_instrument_three_seconds_are_a_gap(missing: int, pieces: int) -> None:
    stamps = np.delete(late(beats(400, 0.1), 0.001), np.arange(200, 200 + missing))
    assert fit_time_base(stamps).pieces == pieces


def test_the_pace_is_that_of_most_of_the_run_though_its_start_was_another() -> None:
    """The first eighth read at another pace: the middle of many windows tells, not the first of them."""
    first, rest = beats(64, 0.43, 0.0), beats(600, 0.4, 27.5)
    base = fit_time_base(late(np.concatenate((first, rest)), 0.002))
    assert base.period_s == pytest.approx(0.4, rel=1e-3)
    assert np.max(np.abs(placed_error(base, np.concatenate((first, rest)))[80:])) < 0.01


@pytest.mark.parametrize("count", [7, 8])
def test_fewer_than_eight_stamps_keep_no_pace(count: int) -> None:
    base = fit_time_base(beats(count))
    assert (base.period_s is None) == (count < 8)
    assert base.time_s == pytest.approx(beats(count), abs=1e-9)


def test_a_line_through_stamps_a_third_of_which_came_late() -> None:
    x = np.arange(90.0)
    y = 5.0 + 0.4 * x
    y[30:60] += 2.0
    offset, pace = _robust_line(x + 1000.0, y)
    assert pace == pytest.approx(0.4, abs=1e-6)
    assert offset + pace * 1000.0 == pytest.approx(5.0, abs=1e-4)


def test_equal_stamps_are_told_apart_by_nanoseconds_and_rising_ones_left_alone() -> None:
    rising = np.array([0.0, 0.1, 0.1 + 1e-12])
    assert told_apart(rising) is rising
    assert np.diff(told_apart(np.array([1.0, 1.0])))[0] > 0.0
    moved = told_apart(np.array([1.0, 1.0, 1.0, 2.0]))
    assert np.all(np.diff(moved) > 0.0)
    assert np.max(np.abs(moved - [1.0, 1.0, 1.0, 2.0])) < 1e-8
