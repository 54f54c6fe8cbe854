"""The lag: its sign, its uncertainty, and when it must not be named."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagEstimate, LagPrior, _rivals, estimate_lag
from daq.align.lag_fit import LagFit, _Guess, rise_around
from daq.align.revolution_table import RevolutionTable
from daq.align.timebase import fit_time_base
from tests.daq.align.builders import Kind, Run, random_run

Floats = NDArray[np.float64]


def table_of(time_s: Floats, speed: Floats, period_s: float = 0.5) -> RevolutionTable:
    return RevolutionTable.of(time_s, speed, model="contiguous", period_s=period_s, max_gap_s=2.6 * period_s)


def lag_of(run: Run, prior: LagPrior | None = None) -> LagEstimate:
    volts, speed = fit_time_base(run.volts_t), fit_time_base(run.speed_t)
    return estimate_lag(
        table_of(speed.time_s, run.speed),
        volts.time_s,
        run.volts,
        window_s=0.4,
        prior=prior or LagPrior(),
        resolution_v=0.01,
    )


def steady_run(noise_rpm: float, noise_v: float, seconds: float, seed: int) -> Run:
    rng = np.random.default_rng(seed)
    speed_t, volts_t = np.arange(0.5, seconds, 0.5), np.arange(0.4, seconds, 0.4)
    speed = np.round(3600.0 + rng.normal(0.0, noise_rpm, len(speed_t)))
    volts = np.round(24.0 + rng.normal(0.0, noise_v, len(volts_t)), 2)
    base = random_run("steady", rng, 5.0)
    return Run(volts_t, volts, speed_t, speed, 0.0, volts_t, base.engine)


@pytest.mark.parametrize("late_s", [-0.5, -0.13, 0.0, 0.22, 0.7])
def test_positive_where_the_volts_come_later(late_s: float) -> None:
    t = np.arange(0.0, 60.0, 0.1)
    speed = 3000.0 + 500.0 * np.sin(0.5 * t)
    volts_t = np.arange(2.0, 58.0, 0.4)
    volts = (3000.0 + 500.0 * np.sin(0.5 * (volts_t - late_s))) * 0.00667
    found = estimate_lag(table_of(t, speed, 0.1), volts_t, volts, window_s=0.05, prior=LagPrior())
    assert found.determined
    assert found.lag_s == pytest.approx(late_s, abs=1e-3)


@pytest.mark.parametrize(
    ("kind", "within_s"), [("sweep", 0.012), ("steps", 0.02), ("hunting", 0.03), ("governor", 0.012)]
)
def test_found_on_moving_speed_and_within_what_is_stated(kind: Kind, within_s: float) -> None:
    rng = np.random.default_rng(11)
    errors, ratios = [], []
    for _ in range(20):
        run = random_run(kind, rng)
        found = lag_of(run)
        assert found.determined
        # Mean lateness of each stream is known as well as its jitter allows: 30 ms over a few hundred.
        u = np.hypot(found.u_s, np.hypot(0.03 / len(run.volts) ** 0.5, 0.03 / len(run.speed) ** 0.5))
        errors.append(abs(found.lag_s - run.lag_s))
        ratios.append(errors[-1] / u)
    assert np.median(errors) < within_s
    assert np.mean(np.array(ratios) < 3.0) >= 0.95


@pytest.mark.parametrize("noise_rpm", [0.0, 0.3, 2.0, 20.0])
@pytest.mark.parametrize("noise_v", [0.003, 0.03])
@pytest.mark.parametrize("seconds", [20.0, 75.0, 500.0])
def test_steady_speed_shows_no_lag_however_noisy(noise_rpm: float, noise_v: float, seconds: float) -> None:
    """Tach noise must not look like knowledge: the prior comes back."""
    for seed in range(2):
        found = lag_of(steady_run(noise_rpm, noise_v, seconds, seed))
        assert not found.determined
        assert found.u_s == LagPrior().u_s
        assert found.lag_s == LagPrior().centre_s


def test_speed_that_drifts_slowly_shows_no_lag() -> None:
    rng = np.random.default_rng(3)
    speed_t, volts_t = np.arange(0.5, 600.0, 0.5), np.arange(0.4, 600.0, 0.4)
    drift = [3600.0 + 0.02 * t for t in (speed_t, volts_t)]
    speed = np.round(drift[0] + rng.normal(0.0, 1.0, len(speed_t)))
    volts = np.round(drift[1] / 150.0 + rng.normal(0.0, 0.01, len(volts_t)), 2)
    found = estimate_lag(
        table_of(speed_t, speed), volts_t, volts, window_s=0.4, prior=LagPrior(), resolution_v=0.01
    )
    assert not found.determined


def test_dead_volts_show_no_lag() -> None:
    run = random_run("sweep", np.random.default_rng(1))
    dead = np.round(np.random.default_rng(2).normal(0.02, 0.01, len(run.volts)), 2)
    found = lag_of(Run(run.volts_t, dead, run.speed_t, run.speed, 0.0, run.volts_t, run.engine))
    assert not found.determined


def test_volts_that_follow_nothing_show_no_lag() -> None:
    """A regulator holds the volts while the speed sweeps."""
    run = random_run("sweep", np.random.default_rng(5))
    held = np.round(14.2 + np.random.default_rng(6).normal(0.0, 0.02, len(run.volts)), 2)
    found = lag_of(Run(run.volts_t, held, run.speed_t, run.speed, 0.0, run.volts_t, run.engine))
    assert not found.determined


@pytest.mark.parametrize("rows", [0, 1, 7])
def test_too_few_readings(rows: int) -> None:
    run = random_run("sweep", np.random.default_rng(1))
    found = estimate_lag(
        table_of(run.speed_t, run.speed), run.volts_t[:rows], run.volts[:rows], window_s=0.4, prior=LagPrior()
    )
    assert found == LagEstimate(0.0, 0.6, determined=False)


def test_a_few_spikes_do_not_move_it() -> None:
    run = random_run("sweep", np.random.default_rng(8))
    clean = lag_of(run)
    volts = run.volts.copy()
    volts[::23] *= 1.3
    spiked = lag_of(Run(run.volts_t, volts, run.speed_t, run.speed, run.lag_s, run.volts_t, run.engine))
    assert spiked.determined
    assert spiked.lag_s == pytest.approx(clean.lag_s, abs=0.015)


def test_an_offset_of_the_meter_does_not_move_it() -> None:
    run = random_run("sweep", np.random.default_rng(9))
    clean = lag_of(run)
    lifted = lag_of(
        Run(run.volts_t, run.volts + 0.08, run.speed_t, run.speed, run.lag_s, run.volts_t, run.engine)
    )
    assert lifted.lag_s == pytest.approx(clean.lag_s, abs=0.004)


def test_one_ramp_says_nothing_of_the_lag_and_that_is_told() -> None:
    """Up only, an offset and a lag look the same: the lag then is no better known than before."""
    rng = np.random.default_rng(14)
    speed_t, volts_t = np.arange(0.0, 45.0, 0.5), np.arange(2.0, 42.0, 0.4)
    speed = np.round(1800.0 + 40.0 * speed_t)
    volts = np.round((1800.0 + 40.0 * (volts_t - 0.3)) / 150.0 + rng.normal(0.0, 0.01, len(volts_t)), 2)
    found = estimate_lag(
        table_of(speed_t, speed), volts_t, volts, window_s=0.4, prior=LagPrior(), resolution_v=0.01
    )
    assert not found.determined
    assert found.one_way
    assert (found.lag_s, found.u_s) == (LagPrior().centre_s, LagPrior().u_s)


def test_a_periodic_run_with_a_wide_search_is_told_to_be_ambiguous() -> None:
    """A governor hunts evenly: a whole swing further off fits as well, and that is said."""
    t = np.arange(0.0, 300.0, 0.5)
    rng = np.random.default_rng(2)
    speed = np.round(3600.0 + 60.0 * np.sin(2.0 * np.pi * t / 8.0) + rng.normal(0.0, 0.5, len(t)))
    volts_t = np.arange(20.0, 280.0, 0.4)
    volts = 24.0 + 0.4 * np.sin(2.0 * np.pi * (volts_t - 0.3) / 8.0) + rng.normal(0.0, 0.01, len(volts_t))
    found = estimate_lag(
        table_of(t, speed),
        volts_t,
        np.round(volts, 2),
        window_s=0.4,
        prior=LagPrior(0.0, 200.0, -20.0, 20.0),
        resolution_v=0.01,
    )
    distances = sorted(abs(r - found.lag_s) for r in found.rivals_s)
    assert len(distances) >= 2
    assert distances[0] == pytest.approx(8.0, abs=0.3)


def test_an_imported_log_minutes_off_is_found() -> None:
    rng = np.random.default_rng(4)
    run = random_run("steps", rng, 300.0)
    shifted = Run(run.volts_t + 97.4, run.volts, run.speed_t, run.speed, run.lag_s, run.volts_t, run.engine)
    found = lag_of(shifted, LagPrior(0.0, 210.0, -210.0, 210.0))
    assert found.determined
    assert found.rivals_s == ()
    assert found.lag_s == pytest.approx(run.lag_s + 97.4, abs=0.05)


def test_the_cards_prior_bounds_the_search() -> None:
    run = random_run("sweep", np.random.default_rng(10))
    prior = LagPrior(run.lag_s + 0.1, 0.3, run.lag_s - 1.4, run.lag_s + 1.6)
    found = lag_of(run, prior)
    assert found.determined
    assert found.lag_s == pytest.approx(run.lag_s, abs=0.02)


def test_a_narrow_prior_weighs_more_than_the_run() -> None:
    run = random_run("hunting", np.random.default_rng(13))
    free = lag_of(run)
    assert free.u_s > 0.002
    held = lag_of(run, LagPrior(free.lag_s + 0.02, 0.0005, -2.0, 3.0))
    assert held.lag_s == pytest.approx(free.lag_s + 0.02, abs=0.004)
    assert held.u_s <= 0.0005


def test_a_very_long_run_uses_the_readings_that_tell() -> None:
    """Two hours at rated speed with one dip of a few seconds: it must not be thinned away."""
    rng = np.random.default_rng(12)
    speed_t, volts_t = np.arange(0.5, 7200.0, 0.5), np.arange(0.4, 7200.0, 0.4)

    def true_rpm(t: Floats) -> Floats:
        return 3600.0 - 1200.0 * np.exp(-np.square((t - 5000.0) / 2.5))

    speed = np.round(true_rpm(speed_t) + rng.normal(0.0, 0.3, len(speed_t)))
    volts = np.round(true_rpm(volts_t - 0.31) / 150.0 + rng.normal(0.0, 0.01, len(volts_t)), 2)
    found = estimate_lag(
        table_of(speed_t, speed), volts_t, volts, window_s=0.4, prior=LagPrior(), resolution_v=0.01
    )
    assert found.determined
    assert found.lag_s == pytest.approx(0.31, abs=0.01)


def test_rise_is_taken_from_the_neighbours_alone() -> None:
    t = np.array([0.0, 1.0, 2.0, 3.0, 10.0, 11.0])
    v = np.array([5.0, 7.0, 9.0, 11.0, 40.0, 41.0])
    rise = rise_around(t, v, 1.2)
    assert rise == pytest.approx([0.0, 2.0, 2.0, 0.0, 0.0, 0.0])
    v[2] += 100.0
    assert rise_around(t, v, 1.2)[2] == pytest.approx(2.0)


@pytest.mark.parametrize(("unlike", "told"), [(0.0, True), (2.0, True), (60.0, False)])
def test_a_second_shift_is_a_rival_only_where_it_fits_about_as_well(unlike: float, told: bool) -> None:
    """Two swings of 20 s that differ by so many rpm: the more they differ, the worse the wrong one fits."""
    t = np.asarray(np.arange(0.0, 80.0, 0.5), dtype=np.float64)
    volts_t = np.asarray(np.arange(22.0, 60.0, 0.4), dtype=np.float64)

    def rpm(at: Floats) -> Floats:
        swing = 300.0 * np.sin(2.0 * np.pi * at / 20.0)
        return np.asarray(3000.0 + swing + unlike * np.sin(2.0 * np.pi * at / 33.0), dtype=np.float64)

    noise = np.random.default_rng(3).normal(0.0, 0.03, len(volts_t))
    found = estimate_lag(
        table_of(t, rpm(t)),
        volts_t,
        rpm(volts_t - 0.3) / 150.0 + noise,
        window_s=0.4,
        prior=LagPrior(0.0, 30.0, -25.0, 25.0),
        resolution_v=0.01,
    )
    assert (len(found.rivals_s) > 0) is told
    assert found.lag_s == pytest.approx(0.3, abs=0.1)


def test_residuals_half_as_large_again_fit_about_as_well_and_twice_as_large_do_not() -> None:
    def fit(lag_s: float, larger: float) -> LagFit:
        return LagFit(_Guess(lag_s), 0.01, 2.0 * float(np.log(larger)), 100.0, 0.0, np.empty(0), 9.0)

    best = fit(0.3, 1.0)
    assert _rivals(best, [best, fit(20.3, 1.45)]) == (20.3,)
    assert _rivals(best, [best, fit(20.3, 1.6)]) == ()
    # Two starts that ended in one minimum are one rival.
    assert _rivals(best, [best, fit(20.3, 1.1), fit(20.31, 1.1)]) == (20.3,)


def test_a_shift_that_uses_more_of_both_logs_is_a_rival_though_it_leaves_three_times_as_much() -> None:
    def fit(lag_s: float, larger: float, rows: int) -> LagFit:
        residual = np.where(np.arange(150) < rows, 0.01, np.nan)
        return LagFit(_Guess(lag_s), 0.01, 2.0 * float(np.log(larger)), 100.0, 0.0, residual, 9.0)

    best = fit(30.1, 1.0, 74)
    assert _rivals(best, [best, fit(0.1, 2.9, 149)]) == (0.1,)
    assert _rivals(best, [best, fit(0.1, 3.1, 149)]) == ()
    # One that uses hardly more of them is held to the usual.
    assert _rivals(best, [best, fit(0.1, 2.9, 90)]) == ()
    whole = fit(0.1, 1.0, 149)
    assert _rivals(whole, [whole, fit(30.1, 2.9, 74)]) == ()
