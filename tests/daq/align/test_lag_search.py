"""The search for a lag: what a shift costs, which minima are looked at, and who counts as a rival."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import _best_starts, _costs, _informative, _one_way, _step
from daq.align.lag_fit import LagPrior
from daq.align.revolution_table import RevolutionTable

Floats = NDArray[np.float64]

WINDOW_S = 0.4
PRIOR = LagPrior(0.0, 0.6, -2.0, 3.0)


def swinging(t: Floats) -> Floats:
    return np.asarray(3000.0 + 300.0 * np.sin(0.7 * t) + 100.0 * np.sin(2.1 * t + 1.0))


@pytest.fixture(scope="module")
def table() -> RevolutionTable:
    t = np.asarray(0.5 * np.arange(200), dtype=np.float64)
    return RevolutionTable.of(t, swinging(t), model="contiguous", period_s=0.5, max_gap_s=1.3)


def test_what_a_shift_costs_is_the_mean_square_beside_a_ray_a_line_and_a_ray_that_drifts(
    table: RevolutionTable,
) -> None:
    """Against numpy's least squares at every shift, some rows of which lie beyond the speed's ends."""
    rng = np.random.default_rng(2)
    volts_t = np.asarray(-3.0 + 0.4 * np.arange(250), dtype=np.float64)
    volts = 2.0 + 0.007 * swinging(volts_t) + rng.normal(0.0, 0.1, 250)
    grid = np.array([-1.0, 0.0, 0.3, 2.0])
    cost = _costs(table, volts_t, volts, WINDOW_S, grid)
    for place, lag_s in enumerate(grid):
        n = table.window_means(volts_t - lag_s + 0.5 * WINDOW_S, WINDOW_S).speed_rpm
        known = np.isfinite(n)
        assert 200 < known.sum() < 250
        tau = np.linspace(-1.0, 1.0, 250)[known]
        ray, drifting = [n[known]], [n[known], n[known] * tau, n[known] * tau**2]
        for row, inputs in enumerate((ray, [n[known], np.ones(known.sum())], drifting)):
            design = np.stack(inputs, axis=1)
            _, squares, *_ = np.linalg.lstsq(design, volts[known], rcond=None)
            assert cost[row, place] == pytest.approx(float(squares[0]) / known.sum(), rel=1e-6)


def test_the_right_shift_costs_nothing(table: RevolutionTable) -> None:
    volts_t = np.asarray(5.0 + 0.4 * np.arange(200), dtype=np.float64)
    mean = table.window_means(volts_t - 0.3 + 0.5 * WINDOW_S, WINDOW_S).speed_rpm
    ray, line, drift = _costs(table, volts_t, 0.007 * mean, WINDOW_S, np.array([0.0, 0.3, 0.6]))
    beside, *_ = _costs(table, volts_t, 2.0 + 0.007 * mean, WINDOW_S, np.array([0.3]))
    assert max(ray[1], line[1], drift[1]) < 1e-9
    assert min(ray[0], line[0], ray[2], line[2], drift[0], drift[2]) > 1e-2
    assert beside[0] > 1e-2


@pytest.mark.parametrize(("covered", "known"), [(0.25, False), (0.4, True)])
def test_a_shift_under_which_few_rows_have_a_speed_costs_everything(
    table: RevolutionTable, covered: float, known: bool
) -> None:
    volts_t = np.asarray(99.0 - 40.0 * covered + 0.4 * np.arange(100), dtype=np.float64)
    cost = _costs(table, volts_t, 0.007 * swinging(volts_t), WINDOW_S, np.array([0.0]))
    assert bool(np.isfinite(cost).all()) == known
    assert bool(np.isinf(cost).all()) != known


def test_only_minima_are_starts_and_at_most_four_the_lowest_first() -> None:
    grid = np.asarray(0.1 * np.arange(-20, 31), dtype=np.float64)
    cost = 2.0 - np.cos(2.0 * np.pi * grid / 0.8)  # a minimum every 0.8 s, all alike
    starts = _best_starts(grid, cost, PRIOR, rows=100)
    assert starts == pytest.approx([0.0, -0.8, 0.8, -1.6])  # the nearest to what is expected first
    assert _best_starts(grid, np.full(51, np.inf), PRIOR, rows=100) == []


def test_beside_a_drift_the_right_shift_costs_nothing_though_volts_over_speed_fall(
    table: RevolutionTable,
) -> None:
    volts_t = np.asarray(5.0 + 0.4 * np.arange(200), dtype=np.float64)
    mean = table.window_means(volts_t - 0.3 + 0.5 * WINDOW_S, WINDOW_S).speed_rpm
    volts = 0.007 * mean * (1.0 - 0.04 * np.linspace(0.0, 1.0, 200) ** 2)
    ray, _, drift = _costs(table, volts_t, volts, WINDOW_S, np.array([0.0, 0.3, 0.6]))
    assert drift[1] < 1e-9 < 1e-2 < ray[1]
    assert min(drift[0], drift[2]) > 1e-2


def test_a_minimum_at_either_end_of_the_search_is_a_start() -> None:
    grid = np.asarray(0.1 * np.arange(-20, 31), dtype=np.float64)
    wide = LagPrior(0.0, 100.0, -2.0, 3.0)
    assert _best_starts(grid, 5.0 + grid, wide, rows=100) == pytest.approx([-2.0])
    assert _best_starts(grid, 5.0 - grid, wide, rows=100) == pytest.approx([3.0])


def test_what_was_expected_weighs_little_against_many_rows() -> None:
    grid = np.asarray(0.1 * np.arange(-20, 31), dtype=np.float64)
    cost = np.minimum(1.0 + 5.0 * np.abs(grid), 0.9 + 5.0 * np.abs(grid - 2.0))
    assert _best_starts(grid, cost, PRIOR, rows=1000)[0] == pytest.approx(2.0)
    assert _best_starts(grid, cost, PRIOR, rows=10)[0] == pytest.approx(0.0)


@pytest.mark.parametrize(("window_s", "step_s"), [(0.01, 0.02), (0.4, 0.06), (5.0, 0.1)])
def test_the_grid_is_finer_than_a_window(window_s: float, step_s: float) -> None:
    assert _step(window_s) == pytest.approx(step_s)


def test_of_very_many_rows_the_steepest_and_an_even_spread_are_used(table: RevolutionTable) -> None:
    """Times before and after the 100 s of speed have no slope: of them only the spread is taken."""
    volts_t = np.asarray(0.01 * np.arange(-2000, 12_000), dtype=np.float64)
    chosen = _informative(table, volts_t, WINDOW_S, LagPrior(1.5, 0.6, 0.0, 3.0))
    assert len(chosen) <= 3000
    assert np.all(np.diff(chosen) > 0)
    assert (chosen[0], chosen[-1]) == (0, len(volts_t) - 1)
    means = table.window_means(volts_t - 1.5 + 0.5 * WINDOW_S, WINDOW_S)
    slope = np.nan_to_num(np.abs(means.slope_rpm_s))
    assert set(np.argsort(slope)[-1400:]) <= set(chosen.tolist())
    assert 150 < np.sum(volts_t[chosen] < 0.0) < 250


@pytest.mark.parametrize(("down", "one_way"), [(0.0, True), (0.15, True), (0.25, False), (1.0, False)])
def test_three_percent_of_the_movement_must_go_the_other_way(down: float, one_way: bool) -> None:
    """Squares count: 0.15² is 2.2 % of the whole, 0.25² is 5.9 %."""
    rise = np.array([1.0, -down, 0.0])
    assert _one_way(rise) == one_way
    assert _one_way(-rise) == one_way
