"""Stretches of very long runs: the telling ones are kept, with the speed they need around them."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.lag import estimate_lag
from daq.align.lag_fit import LagPrior
from daq.align.revolution_table import RevolutionTable
from daq.align.stretches import Pieces, telling_stretches


def long_run(seconds: float, dip_s: float, lag_s: float = 0.31) -> Pieces:
    """Rated speed for hours, with one dip of a few seconds."""
    rng = np.random.default_rng(12)
    speed_t, volts_t = np.arange(0.5, seconds, 0.5), np.arange(0.4, seconds, 0.4)
    speed, volts = (
        3600.0 - 1200.0 * np.exp(-np.square((t - dip_s) / 2.5)) for t in (speed_t, volts_t - lag_s)
    )
    return Pieces(
        speed_t,
        np.round(speed + rng.normal(0.0, 0.3, len(speed_t))),
        volts_t,
        np.round(volts / 150.0 + rng.normal(0.0, 0.01, len(volts_t)), 2),
    )


def test_a_short_run_is_taken_whole() -> None:
    whole = long_run(600.0, 300.0)
    assert telling_stretches(whole, earliest_s=5.0, latest_s=5.0) is whole


def test_a_search_as_wide_as_the_run_takes_it_whole() -> None:
    whole = long_run(20_000.0, 300.0)
    assert telling_stretches(whole, earliest_s=14_000.0, latest_s=14_000.0) is whole


@pytest.mark.parametrize("dip_s", [30.0, 11_000.0, 19_980.0])
def test_the_telling_stretch_is_kept_and_shows_the_lag(dip_s: float) -> None:
    whole = long_run(20_000.0, dip_s)
    some = telling_stretches(whole, earliest_s=6.0, latest_s=6.0)
    assert len(some.volts) < 26_000 < len(whole.volts)
    assert np.all(np.diff(some.volts_t) > 0.0)
    assert np.all(np.diff(some.speed_t) > 0.0)
    assert np.any(np.abs(some.volts_t - dip_s) < 1.0)
    table = RevolutionTable.of(some.speed_t, some.speed, model="contiguous", period_s=0.5, max_gap_s=1.3)
    found = estimate_lag(table, some.volts_t, some.volts, window_s=0.4, prior=LagPrior(), resolution_v=0.01)
    assert found.determined
    assert found.lag_s == pytest.approx(0.31, abs=0.01)


def test_speed_reaches_beyond_every_volts_reading() -> None:
    whole = long_run(20_000.0, 11_000.0)
    some = telling_stretches(whole, earliest_s=6.0, latest_s=2.0)
    for t in some.volts_t[1000:-1000:777]:
        assert np.sum((some.speed_t > t - 6.0) & (some.speed_t < t + 2.0)) == np.sum(
            (whole.speed_t > t - 6.0) & (whole.speed_t < t + 2.0)
        )
