"""The first and the last stretch of revolutions, and the rules at which a hole is filled."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from daq.align.revolution_table import RevolutionTable
from daq.align.revolutions import TachModel, build_segments
from tests.daq.align.test_revolutions import contiguous_readings, table_of, uneven_times, window_edges

PARABOLA = Polynomial([0.0, 40.0, 1.7])
"""Revolutions of a speed that rises evenly: every rule for the ends is exact for it."""
TIMES = uneven_times()


def readings(model: TachModel, turns: Polynomial) -> np.ndarray:
    if model == "contiguous":
        return contiguous_readings(TIMES, turns)
    return np.asarray(turns(TIMES)) if model == "counted" else np.asarray(60.0 * turns.deriv()(TIMES))


@pytest.mark.parametrize("model", ["contiguous", "sampled", "counted"])
def test_an_even_rise_is_exact_from_the_first_edge_to_the_last(model: TachModel) -> None:
    table = table_of(TIMES, readings(model, PARABOLA), model)
    edges = window_edges(TIMES, 0.5) if model == "contiguous" else TIMES
    ends = np.linspace(edges[0] + 0.2001, edges[-1] - 1e-9, 400)
    means = table.window_means(ends, 0.2)
    exact = 60.0 * (PARABOLA(ends) - PARABOLA(ends - 0.2)) / 0.2
    assert means.speed_rpm == pytest.approx(exact, rel=1e-11)
    assert means.slope_rpm_s == pytest.approx(np.full(400, 60.0 * 2.0 * 1.7), rel=1e-8)
    assert table.end_s == pytest.approx(edges[-1], abs=1e-12)


@pytest.mark.parametrize(
    ("model", "count"), [("contiguous", 2), ("contiguous", 3), ("sampled", 2), ("sampled", 3)]
)
def test_two_or_three_readings_of_an_even_rise(model: TachModel, count: int) -> None:
    time_s = np.asarray(0.5 * np.arange(count), dtype=np.float64)
    rpm = 3000.0 + 200.0 * time_s
    table = table_of(time_s, rpm, model)
    begin = -0.25 if model == "contiguous" else 0.0
    assert table.end_s == pytest.approx(time_s[-1] - begin)
    means = table.window_means(np.array([table.end_s]), table.end_s - begin)
    assert means.speed_rpm[0] == pytest.approx(float(np.mean(rpm)), rel=1e-12)
    assert means.slope_rpm_s[0] == pytest.approx(200.0, rel=1e-9)


def test_without_a_pace_the_first_and_last_window_reach_as_far_out_as_in() -> None:
    time_s = np.array([1.0, 1.5, 2.3])
    segments = build_segments(time_s, np.full(3, 3000.0), model="contiguous", period_s=None, ended=True)
    assert segments.start_s == pytest.approx([0.75, 1.25, 1.9])
    assert segments.start_s[-1] + segments.length_s[-1] == pytest.approx(2.7)


@pytest.mark.parametrize("model", ["contiguous", "sampled"])
@pytest.mark.parametrize("gone", [1, 5, 12])
def test_a_missing_reading_is_filled_from_two_on_either_side_or_by_a_line_near_an_end(
    model: TachModel, gone: int
) -> None:
    """Speeds on a cubic: two readings on either side fill it exactly, a line does so for a straight rise only."""
    time_s = np.asarray(0.5 * np.arange(14), dtype=np.float64)
    inner = 1 < gone < 12
    rpm = Polynomial([3000.0, 80.0, 12.0, -1.5] if inner else [3000.0, 80.0])(time_s)
    whole = table_of(time_s, rpm, model)
    holed = table_of(np.delete(time_s, gone), np.delete(rpm, gone), model)
    ends = np.linspace(0.5, 6.5, 120)
    a, b = whole.window_means(ends, 0.4), holed.window_means(ends, 0.4)
    assert b.speed_rpm == pytest.approx(a.speed_rpm, rel=1e-12)
    assert b.slope_rpm_s == pytest.approx(a.slope_rpm_s, rel=1e-8)
    assert not a.bridged.any()
    touched = ends[b.bridged]
    assert touched[0] < 0.5 * gone + 0.2 < touched[-1]
    assert 0.5 < touched[-1] - touched[0] < 1.6


def test_two_missing_readings_are_filled_at_their_own_places() -> None:
    time_s = np.delete(np.asarray(0.5 * np.arange(14), dtype=np.float64), [5, 6])
    rpm = 3000.0 + 40.0 * time_s - 3.0 * time_s**2
    segments = build_segments(time_s, rpm, model="sampled", period_s=0.5, ended=True)
    assert segments.start_s == pytest.approx(0.5 * np.arange(13))
    assert np.flatnonzero(segments.bridged).tolist() == [4, 5, 6]
    filled = 60.0 * segments.c1 / segments.length_s
    assert filled == pytest.approx(3000.0 + 40.0 * segments.start_s - 3.0 * segments.start_s**2, rel=1e-12)


@pytest.mark.parametrize(("hole_periods", "filled"), [(1.4, 0), (1.6, 1), (2.6, 2)])
def test_a_hole_is_a_hole_from_one_and_a_half_intervals(hole_periods: float, filled: int) -> None:
    steps = np.full(11, 0.5)
    steps[5] = 0.5 * hole_periods
    time_s = np.concatenate(([0.0], np.cumsum(steps)))
    segments = build_segments(time_s, np.full(12, 3000.0), model="sampled", period_s=0.5, ended=True)
    assert len(segments.start_s) == 11 + filled
    assert np.count_nonzero(segments.bridged) == (filled + 1 if filled else 0)


def test_forgetting_what_lies_before_leaves_the_rest_as_it_was() -> None:
    table = table_of(TIMES, readings("sampled", PARABOLA), "sampled")
    late = np.linspace(TIMES[7], TIMES[-1], 50)
    short = table.without_before(float(TIMES[7] - 0.2))
    assert np.array_equal(
        short.window_means(late, 0.2).speed_rpm, table.window_means(late, 0.2).speed_rpm, equal_nan=True
    )
    gone = short.window_means(np.array([TIMES[3]]), 0.2)
    assert np.isnan(gone.speed_rpm[0])
    assert table.without_before(TIMES[0] - 5.0) is table


def test_an_empty_table_knows_nothing() -> None:
    table = RevolutionTable.empty()
    assert table.end_s == -np.inf
    means = table.window_means(np.array([1.0, 2.0]), 0.4)
    assert np.isnan(means.speed_rpm).all()
    assert np.isnan(means.slope_rpm_s).all()
    assert not means.bridged.any()
