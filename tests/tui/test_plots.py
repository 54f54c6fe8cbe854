"""What the plots show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.align.marks import Mark
from daq.run.rows import RawSeries
from tests.tui.builders import CLOSED, empty_snapshot, result, snapshot
from tui.view.plots import BUCKETS, rated_trace, scatter, speed_trace, thin
from tui.view.scale import axis_range, step_for, ticks
from tui.view.state import Band


@pytest.mark.parametrize(
    ("span", "most", "step"),
    [(10.0, 4, 5.0), (4.0, 4, 1.0), (4.1, 4, 2.0), (0.03, 3, 0.01), (1900.0, 4, 500.0)],
)
def test_steps_are_one_two_five(span: float, most: int, step: float) -> None:
    assert step_for(span, most) == pytest.approx(step)


@pytest.mark.parametrize(
    ("wanted", "previous", "expected"),
    [
        ((20.0, 24.9), None, (20.0, 26.0)),
        ((20.0, 24.9), (18.0, 26.0), (18.0, 26.0)),
        ((20.0, 26.1), (18.0, 26.0), (20.0, 28.0)),
        ((20.0, 21.0), (0.0, 30.0), (20.0, 21.0)),
    ],
)
def test_ranges(
    wanted: tuple[float, float], previous: tuple[float, float] | None, expected: tuple[float, float]
) -> None:
    assert axis_range(wanted, previous, least=1.0) == pytest.approx(expected)


def test_noise_does_not_look_like_a_storm() -> None:
    low, high = axis_range((24.0, 24.01), None, least=1.0)
    assert high - low >= 1.0
    assert low < 24.0 < 24.01 < high


def test_ticks_share_their_decimals() -> None:
    assert [tick.label for tick in ticks((0.0, 1.0))] == ["0.0", "0.5", "1.0"]
    assert [tick.label for tick in ticks((2000.0, 4000.0))] == ["2000", "2500", "3000", "3500", "4000"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, ""),
        ({"rated_voltage_V": np.nan}, "not scaled to rated speed"),
        ({"mark": 1}, "no aligned rows yet"),
    ],
)
def test_a_trace_without_points_says_why(changes: dict[str, float], words: str) -> None:
    run = snapshot()
    columns = {name: np.full_like(getattr(run.rows, name), value) for name, value in changes.items()}
    seen = rated_trace(replace(run, rows=replace(run.rows, **columns)), 60.0, None)
    assert seen.empty == words


def test_a_trace_without_recent_points_does_not_deny_the_earlier_ones() -> None:
    silent = replace(snapshot(40.0), t_s=101.0)
    for plot in (rated_trace(silent, 60.0, None), speed_trace(silent, 60.0, None)):
        assert plot.empty == "nothing in the last 60 s"
    assert rated_trace(silent, 120.0, None).empty == ""
    assert speed_trace(empty_snapshot(), 60.0, None).empty == "no speed readings yet"


def test_a_run_that_has_ended_is_shown_whole() -> None:
    run = snapshot(100.0)
    kept = RawSeries(run.raw_speed.time_s[300:], run.raw_speed.value[300:])
    closed = replace(run, t_s=190.0, raw_speed=kept, finished=True, close=CLOSED)
    for plot in (rated_trace(closed, 60.0, None), speed_trace(closed, 60.0, None)):
        (points,) = [each for each in plot.series if each.role == "data"]
        assert (plot.empty, plot.scrolls) == ("", False)
        assert (points.xs[0], points.xs[-1]) == pytest.approx((0.2, 99.9), abs=0.3)
        assert (plot.x_low, plot.x_high) == pytest.approx((0.2, 99.9), abs=0.1)
        assert [tick.label for tick in plot.x_ticks] == ["0:00", "0:25", "0:50", "1:14", "1:39"]


def test_a_run_that_has_ended_with_nothing_in_it_says_so_for_good() -> None:
    closed = empty_snapshot(finished=True, close=CLOSED)
    words = [plot.empty for plot in (rated_trace(closed, 60.0, None), scatter(closed, None, None))]
    assert words == ["no aligned rows", "no aligned rows"]
    assert speed_trace(closed, 60.0, None).empty == "no speed readings"


def test_thinning_keeps_a_lone_spike_and_the_gaps() -> None:
    xs = np.arange(20_000.0)
    ys = np.zeros(20_000)
    ys[7_777] = 99.0
    ys[12_000:13_000] = np.nan
    thin_xs, thin_ys = thin(xs, ys)
    assert len(thin_xs) <= 2 * BUCKETS
    assert (7_777.0, 99.0) in zip(thin_xs.tolist(), thin_ys.tolist(), strict=True)
    assert thin_xs[0] < 100
    assert thin_xs[-1] > 19_900
    inside = (thin_xs > 12_000) & (thin_xs < 13_000)
    assert np.isnan(thin_ys[inside]).any()
    assert not np.isnan(thin_ys[~inside]).all()
    assert (np.diff(thin_xs) > 0).all()


def test_few_points_are_left_alone() -> None:
    xs = np.arange(5.0)
    assert thin(xs, xs)[0] is xs


def test_rated_trace_shows_limit_band_and_what_is_left_out() -> None:
    run = snapshot(30.0)
    marks = run.rows.mark.copy()
    marks[-3] = Mark.VOLTAGE_SPIKE
    plot = rated_trace(replace(run, rows=replace(run.rows, mark=marks)), 60.0, None)
    doubtful, good = plot.series
    assert (doubtful.role, len(doubtful.xs)) == ("doubt", 1)
    assert (good.role, len(good.xs)) == ("data", len(run.rows.time_s) - 1)
    assert [(level.value, level.label) for level in plot.levels] == [(20.0, "limit")]
    assert plot.band == pytest.approx((24.3, 24.924))
    assert plot.y_low <= 20.0 < plot.y_high


def test_without_a_result_there_is_no_band_and_without_a_limit_no_line() -> None:
    bare = result(rated_voltage_V=None, expanded_uncertainty_V=None, minimum_V=None)
    plot = rated_trace(snapshot(result=bare), 60.0, None)
    assert (plot.band, plot.levels) == (None, ())


def test_speed_trace_shows_the_window_and_only_its_span() -> None:
    plot = speed_trace(snapshot(100.0), 60.0, None)
    assert plot.band == Band(3500.0, 3700.0)
    assert min(plot.series[0].xs) >= 40.0
    assert (plot.x_low, plot.x_high) == (40.0, 100.0)
    assert [tick.label for tick in plot.x_ticks] == ["-60 s", "-45 s", "-30 s", "-15 s", "now"]


def test_a_false_reading_does_not_stretch_the_axis() -> None:
    run = snapshot(30.0)
    values = run.raw_speed.value.copy()
    values[10] = 7200.0
    plot = speed_trace(replace(run, raw_speed=RawSeries(run.raw_speed.time_s, values)), 60.0, None)
    assert plot.y_high < 5000.0


def test_scatter_shows_the_fitted_line() -> None:
    plot = scatter(snapshot(40.0), None, None)
    fit, dots = plot.series
    assert (fit.role, fit.joined, dots.role) == ("fit", True, "data")
    assert fit.ys[1] == pytest.approx(0.02 + 6.836 * fit.xs[1] / 1000)
    assert plot.title == "V against rpm, 6.84 V each 1000 rpm"
