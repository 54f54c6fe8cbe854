"""Rules of the pairing at their ends: windows, gaps, doubts that add up, rows beside a false reading."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagEstimate
from daq.align.lag_fit import LagPrior
from daq.align.marks import Mark
from daq.align.pairing import (
    Pairing,
    _clock_uncertainty,
    _covered,
    _kinks,
    pair_streams,
    prior_from_cards,
    run_kernel,
)
from daq.align.streams import PlacedStreams
from daq.align.synchronizer import AlignmentParameters
from daq.cards.instrument import ChannelCard, Response
from daq.model.quantity import Quantity
from tests.daq.align.builders import random_run
from tests.daq.align.test_pairing import paired, placed, tach_card

Floats = NDArray[np.float64]


def meter_card(**response: object) -> ChannelCard:
    return ChannelCard(
        quantity=Quantity.AC_VOLTAGE,
        response=Response(**response),  # type: ignore[arg-type]  # keys of Response
    )


def given_lag(streams: PlacedStreams, lag_s: float, meter: ChannelCard | None = None) -> Pairing:
    """Paired at a lag that is said to be known."""
    first = paired(streams, tach_card(averaging="contiguous"))
    told = replace(first, lag=LagEstimate(lag_s, 0.01, determined=True))
    return pair_streams(
        streams, speed_card=None, volts_card=meter, prior=LagPrior(), digit_v=0.01, given=told
    )


def test_the_doubt_of_the_lag_is_that_of_the_fit_of_the_clocks_and_of_the_kinks() -> None:
    streams = placed(random_run("steps", np.random.default_rng(3)))
    pairing = paired(streams)
    clocks = sum(
        base.jitter_s**2 * base.pieces / len(base.time_s) for base in (streams.speed_base, streams.volts_base)
    )
    covered = _covered(streams, pairing.parameters.voltage_window_s)
    assert covered == pytest.approx(1.0, abs=0.01)
    kinks = _kinks(
        streams.usable_speed[1], streams.speed_base.period_s, pairing.parameters.tach_model, covered
    )
    assert clocks > 0.0
    assert kinks > 0.0
    assert pairing.lag_u_s**2 == pytest.approx(pairing.lag.u_s**2 + clocks + kinks**2, rel=1e-12)
    assert _clock_uncertainty(streams) ** 2 == pytest.approx(clocks, rel=1e-12)
    assert _kinks(streams.usable_speed[1], None, "contiguous", 1.0) == 0.0
    assert _kinks(streams.usable_speed[1], 0.5, "counted", 1.0) == 0.0


def test_the_meters_windows_cover_the_share_of_its_pace_that_they_last() -> None:
    streams = placed(random_run("steps", np.random.default_rng(3)))
    assert _covered(streams, 0.1) == pytest.approx(0.25, rel=0.01)
    still = replace(streams, volts_base=replace(streams.volts_base, period_s=None))
    assert _covered(still, 0.1) == 1.0


@pytest.mark.parametrize(("window_s", "expected_s"), [(None, 0.4), (0.25, 0.25), (1.5, 1.5)])
def test_the_meters_window_is_the_cards_or_its_pace(window_s: float | None, expected_s: float) -> None:
    streams = placed(random_run("hunting", np.random.default_rng(4)))
    pairing = given_lag(streams, 0.0, meter_card(window_s=window_s))
    assert pairing.parameters.voltage_window_s == pytest.approx(expected_s, rel=1e-3)


def test_a_slow_meters_window_is_not_taken_for_its_whole_pace() -> None:
    run = random_run("hunting", np.random.default_rng(4))
    slow = replace(run, volts_t=run.volts_t[::3], volts=run.volts[::3])
    assert given_lag(placed(slow), 0.0).parameters.voltage_window_s == 0.4


@pytest.mark.parametrize(("every", "gap_s"), [(1, 1.3), (2, 2.6), (4, 3.0)])
def test_one_reading_may_be_missing_but_no_more_than_three_seconds(every: int, gap_s: float) -> None:
    run = random_run("hunting", np.random.default_rng(5))
    thin = replace(run, speed_t=run.speed_t[::every], speed=run.speed[::every])
    assert given_lag(placed(thin), 0.0).parameters.max_gap_s == pytest.approx(gap_s, rel=1e-2)


@pytest.mark.parametrize(("share", "model"), [(0.66, "sampled"), (0.74, "contiguous")])
def test_a_window_of_seven_tenths_of_the_pace_is_contiguous(share: float, model: str) -> None:
    streams = placed(random_run("hunting", np.random.default_rng(6)))
    assert paired(streams, tach_card(window_s=0.5 * share)).parameters.tach_model == model


@pytest.mark.parametrize("lag_s", [-1.5, 0.0, 1.5])
def test_rows_beside_a_false_reading_are_looked_for_where_the_lag_puts_them(lag_s: float) -> None:
    run = random_run("steady", np.random.default_rng(7))
    speed = run.speed.copy()
    speed[60] *= 2.0
    streams = placed(run, speed)
    assert np.flatnonzero(streams.marks.speed == Mark.FALSE_SPEED).tolist() == [60]
    marked = given_lag(streams, lag_s)
    rows = marked.rows.time_s[marked.mark == Mark.FALSE_SPEED]
    assert 2 <= len(rows) <= 5
    assert np.abs(rows - lag_s - streams.speed_base.time_s[60]).max() < 0.5 + 0.2 + 0.01
    assert not np.any(marked.mark == Mark.BRIDGED)


def test_a_prior_without_delays_is_the_wide_one() -> None:
    assert prior_from_cards(tach_card(window_s=0.5), meter_card(delay_s=0.1)) == LagPrior()
    known = prior_from_cards(tach_card(delay_s=0.0), meter_card(delay_s=0.2))
    assert known == LagPrior(0.2, 0.3, -1.3, 1.7)


@pytest.mark.parametrize("ahead_s", [0.0, 100.0])
def test_blocks_keep_in_step_with_time_and_not_with_counts(ahead_s: float) -> None:
    """The speed begins long before the volts: fed by counts, most of it would be forgotten or not yet there."""
    speed_t = np.asarray(0.05 * np.arange(40_000), dtype=np.float64)
    speed = 3000.0 + 100.0 * np.sin(0.2 * speed_t)
    volts_t = np.asarray(ahead_s + 0.05 * np.arange(36_000), dtype=np.float64)
    p = AlignmentParameters(0.3, 0.4, "contiguous", 0.05, 0.3)
    rows = run_kernel(p, speed_t, speed, volts_t, np.zeros(36_000))
    assert np.isfinite(rows.speed_rpm[20:]).all()
    assert np.abs(rows.speed_rpm[20:] - 3000.0 - 100.0 * np.sin(0.2 * (rows.time_s[20:] - 0.3))).max() < 0.2
    assert not rows.bridged.any()
