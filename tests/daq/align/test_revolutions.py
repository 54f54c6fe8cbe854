"""Cumulative revolutions: exact where they must be, nothing over holes, one test for each picture."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from daq.align.revolution_table import RevolutionTable, split_runs
from daq.align.revolutions import CONTEXT, Segments, TachModel, build_segments

Floats = NDArray[np.float64]

QUARTIC = Polynomial([0.0, 40.0, 1.7, -0.21, 0.013])
"""Revolutions against seconds: 40 rev/s to begin with, then up and down."""


def uneven_times(count: int = 14, seed: int = 2) -> Floats:
    return np.cumsum(np.random.default_rng(seed).uniform(0.35, 0.65, count))


def window_edges(time_s: Floats, period_s: float) -> Floats:
    middle = 0.5 * (time_s[1:] + time_s[:-1])
    return np.concatenate(([time_s[0] - 0.5 * period_s], middle, [time_s[-1] + 0.5 * period_s]))


def contiguous_readings(time_s: Floats, turns: Polynomial, period_s: float = 0.5) -> Floats:
    edges = window_edges(time_s, period_s)
    return np.asarray(60.0 * np.diff(turns(edges)) / np.diff(edges))


def table_of(
    time_s: Floats,
    value: Floats,
    model: TachModel = "contiguous",
    period_s: float | None = 0.5,
    max_gap_s: float = 1.3,
) -> RevolutionTable:
    return RevolutionTable.of(time_s, value, model=model, period_s=period_s, max_gap_s=max_gap_s)


def slopes_at_starts(segments: Segments) -> Floats:
    return segments.c1 / segments.length_s


def test_slopes_are_exact_for_a_quartic_on_uneven_windows() -> None:
    time_s = uneven_times()
    segments = build_segments(
        time_s, contiguous_readings(time_s, QUARTIC), model="contiguous", period_s=0.5, ended=True
    )
    exact = QUARTIC.deriv()(segments.start_s)
    assert slopes_at_starts(segments)[2:-1] == pytest.approx(exact[2:-1], rel=1e-10)
    # Three-point slopes beside the ends are exact for a parabola only.
    assert slopes_at_starts(segments)[1] != pytest.approx(exact[1], rel=1e-7)


def test_counted_slopes_are_exact_for_a_quartic() -> None:
    time_s = uneven_times()
    segments = build_segments(time_s, QUARTIC(time_s), model="counted", period_s=None, ended=True)
    exact = QUARTIC.deriv()(segments.start_s)
    assert slopes_at_starts(segments)[2:-1] == pytest.approx(exact[2:-1], rel=1e-10)


def test_sampled_speed_is_exact_for_a_parabola() -> None:
    time_s = uneven_times()
    turns = Polynomial([0.0, 40.0, 1.7, -0.21])
    table = table_of(time_s, np.asarray(60.0 * turns.deriv()(time_s)), "sampled")
    ends = np.linspace(time_s[2] + 0.4, time_s[-3], 40)
    exact = 60.0 * (turns(ends) - turns(ends - 0.4)) / 0.4
    assert table.window_means(ends, 0.4).speed_rpm == pytest.approx(exact, rel=1e-12)
    slope = 60.0 * (turns.deriv()(ends) - turns.deriv()(ends - 0.4)) / 0.4
    assert table.window_means(ends, 0.4).slope_rpm_s == pytest.approx(slope, rel=1e-9)


def test_picture_contiguous_windows_keep_their_revolutions() -> None:
    """Reading n1 is the mean over its window, so over that window the mean is the reading again."""
    time_s = np.array([1.0, 1.5, 2.0, 2.5, 3.0])
    rpm = np.array([3000.0, 3300.0, 2400.0, 3600.0, 3500.0])
    table = table_of(time_s, rpm)
    means = table.window_means(time_s + 0.25, 0.5)
    assert means.speed_rpm == pytest.approx(rpm, rel=1e-13)
    assert not means.bridged.any()
    # Two windows together: the mean of both.
    assert table.window_means(np.array([1.75]), 1.0).speed_rpm == pytest.approx([3150.0], rel=1e-13)


def test_picture_sampled_speed_passes_through_the_readings() -> None:
    time_s = np.array([1.0, 1.5, 2.0, 2.5, 3.0])
    rpm = np.array([3000.0, 3300.0, 2400.0, 3600.0, 3500.0])
    table = table_of(time_s, rpm, "sampled")
    short = 1e-4
    inner = table.window_means(time_s[1:-1] + 0.5 * short, short)
    assert inner.speed_rpm == pytest.approx(rpm[1:-1], rel=1e-5)


def test_picture_short_hole_is_filled_and_marked() -> None:
    """o o * o o: a reading is missing, the hole of 1.0 s lies within the limit of 1.3 s."""
    time_s = np.array([1.0, 1.5, 2.5, 3.0, 3.5])
    rpm = 3000.0 + 100.0 * time_s
    table = table_of(time_s, rpm)
    ends = np.array([1.5, 2.0, 2.25, 3.0, 3.5])
    means = table.window_means(ends, 0.4)
    assert means.speed_rpm == pytest.approx(3000.0 + 100.0 * (ends - 0.2), rel=1e-9)
    # Filled is the window from 1.75 to 2.25 s; a row touches it from 1.75 s on.
    assert means.bridged.tolist() == [False, True, True, False, False]


def test_picture_long_hole_is_left_open() -> None:
    """o o . . . o o: the hole of 2.0 s lies beyond the limit; R ends at 1.75 and starts anew at 3.25 s."""
    time_s = np.array([1.0, 1.5, 3.5, 4.0])
    rpm = np.full(4, 3000.0)
    table = table_of(time_s, rpm)
    ends = np.array([1.74, 1.76, 2.5, 3.3, 3.64, 3.66, 4.2])
    means = table.window_means(ends, 0.4)
    assert np.isfinite(means.speed_rpm).tolist() == [True, False, False, False, False, True, True]
    assert not means.bridged.any()
    # A window that begins before the hole and ends after it has no mean either.
    assert np.isnan(table.window_means(np.array([3.6]), 2.0).speed_rpm).all()


def test_nothing_beyond_the_first_and_last_window() -> None:
    time_s = np.arange(1.0, 6.0, 0.5)
    table = table_of(time_s, np.full(10, 3000.0))
    ends = np.array([1.14, 1.16, 5.74, 5.76])
    assert np.isfinite(table.window_means(ends, 0.4).speed_rpm).tolist() == [False, True, True, False]
    assert table.end_s == pytest.approx(5.75)


@pytest.mark.parametrize("model", ["contiguous", "sampled", "counted"])
def test_steady_speed_stays_steady(model: TachModel) -> None:
    time_s = uneven_times(40)
    value = 55.0 * time_s if model == "counted" else np.full(40, 3300.0)
    ends = np.linspace(time_s[3], time_s[-3], 100)
    means = table_of(time_s, value, model).window_means(ends, 0.3)
    assert means.speed_rpm == pytest.approx(np.full(100, 3300.0), rel=1e-11)
    assert means.slope_rpm_s == pytest.approx(np.zeros(100), abs=1e-6)


def test_no_readings_and_one_reading_say_nothing() -> None:
    for count in (0, 1):
        table = table_of(np.arange(float(count)), np.full(count, 3000.0))
        assert np.isnan(table.window_means(np.array([0.1, 0.5]), 0.2).speed_rpm).all()
        assert table.end_s == -np.inf


def test_runs_are_split_at_long_holes_only() -> None:
    time_s = np.array([0.0, 0.5, 1.8, 3.2, 3.7])
    assert split_runs(time_s, 1.3) == [slice(0, 3), slice(3, 5)]
    assert split_runs(np.empty(0), 1.3) == []


@given(
    steps=st.lists(st.floats(0.05, 1.2), min_size=2, max_size=40),
    data=st.data(),
    model=st.sampled_from(["contiguous", "sampled"]),
)
@settings(max_examples=80, deadline=None)
def test_revolutions_are_conserved(steps: list[float], data: st.DataObject, model: TachModel) -> None:
    """The increments add up to what the readings say, whatever the spacing."""
    rpm = data.draw(st.lists(st.floats(500.0, 6000.0), min_size=len(steps), max_size=len(steps)))
    assert_conserved(np.cumsum(steps), np.array(rpm), model)


def test_revolutions_that_cancel_are_conserved_as_exactly_as_the_readings_are_large() -> None:
    """No engine does this: the drawn speed swings below zero and back, and little is left of what was added up."""
    steps = [1.0, 1.078125, 0.181640625, 0.5390625, 0.05, 1.14453125]
    rpm = np.array([4428.0, 5292.0, 500.0, 4412.0, 1118.0, 500.0])
    increments = assert_conserved(np.cumsum(steps), rpm, "sampled")
    assert abs(increments.sum()) < 1e-3 * np.abs(increments).sum()


def assert_conserved(time_s: Floats, rpm: Floats, model: TachModel) -> Floats:
    """The segments and their table against the readings; the increments."""
    segments = build_segments(time_s, rpm, model=model, period_s=None, ended=True)
    if model == "contiguous":
        edges = np.append(segments.start_s, segments.start_s[-1] + segments.length_s[-1])
        assert segments.increments == pytest.approx(rpm * np.diff(edges) / 60.0, rel=1e-9)
    else:
        # The trapezoid, corrected by the slopes at the two ends of each piece (Euler and Maclaurin).
        at_end = (segments.c1 + 2.0 * segments.c2 + 3.0 * segments.c3 + 4.0 * segments.c4) / segments.length_s
        assert at_end == pytest.approx(rpm[1:] / 60.0, rel=1e-9)
        assert slopes_at_starts(segments) == pytest.approx(rpm[:-1] / 60.0, rel=1e-9)
    table = table_of(time_s, rpm, model, None, max_gap_s=1.3)
    # The ends that are left out here are nanoseconds; what they cost goes with the speed there, not with the mean.
    whole = np.array([table.end_s - 1e-9 * table.end_s])
    span = float(whole[0] - segments.start_s[0])
    mean = table.window_means(whole, span * (1.0 - 1e-9)).speed_rpm
    assert mean == pytest.approx(
        [60.0 * segments.increments.sum() / span], rel=0.0, abs=1e-6 * float(rpm.max())
    )
    return segments.increments


@given(
    cut=st.integers(4, 60),
    model=st.sampled_from(["contiguous", "sampled", "counted"]),
    missing=st.sets(st.integers(1, 58), max_size=8),
)
@settings(max_examples=80, deadline=None)
def test_final_segments_are_final(cut: int, model: TachModel, missing: set[int]) -> None:
    """What is called final after some readings is the same, to the bit, after all of them."""
    time_s = np.delete(0.5 * np.arange(60) + 1.0, sorted(missing))
    cut = min(cut, len(time_s))
    value = 50.0 * time_s + np.sin(time_s) if model == "counted" else 3000.0 + 400.0 * np.sin(1.3 * time_s)
    part = build_segments(time_s[:cut], value[:cut], model=model, period_s=0.5, ended=False)
    whole = build_segments(time_s, value, model=model, period_s=0.5, ended=True)
    n = part.final
    for name in ("start_s", "length_s", "c1", "c2", "c3", "c4", "bridged"):
        assert np.array_equal(getattr(part, name)[:n], getattr(whole, name)[:n]), name


@pytest.mark.parametrize("model", ["contiguous", "sampled", "counted"])
def test_a_segment_depends_on_no_more_than_its_context(model: TachModel) -> None:
    time_s = uneven_times(60)
    value = 50.0 * time_s + np.sin(time_s) if model == "counted" else 3000.0 + 400.0 * np.sin(1.3 * time_s)
    whole = build_segments(time_s, value, model=model, period_s=0.5, ended=True)
    drop = 20
    later = build_segments(time_s[drop:], value[drop:], model=model, period_s=0.5, ended=True)
    shared = len(later.start_s) - CONTEXT
    for name in ("start_s", "length_s", "c1", "c2", "c3", "c4"):
        assert np.array_equal(getattr(whole, name)[-shared:], getattr(later, name)[-shared:]), name
