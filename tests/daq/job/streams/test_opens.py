"""Openings are counted with their length from the stream of ohm readings."""

from __future__ import annotations

import numpy as np
import pytest

from daq.job.streams.opens import Opening, find_openings

TIME_S = np.arange(0.0, 60.0, 0.3)


def openings(**changed: float) -> tuple[Opening, ...]:
    """A quiet minute at 0.25 ohm, with readings changed by index ("r20"); inf is an open circuit."""
    value = 0.25 + 0.01 * np.random.default_rng(1).integers(-1, 2, len(TIME_S))
    for name, ohm in changed.items():
        value[int(name[1:])] = ohm
    overload = np.isinf(value)
    return find_openings(TIME_S, np.where(overload, np.nan, value), overload)


def test_a_quiet_minute_has_none() -> None:
    assert openings() == ()


def test_one_open_reading_is_one_opening_of_one_interval() -> None:
    (one,) = openings(r20=np.inf)
    assert one.from_s == pytest.approx(6.0)
    assert one.length_s == pytest.approx(0.3)
    assert one.whole


def test_readings_that_follow_each_other_are_one_opening() -> None:
    first, second = openings(r20=np.inf, r21=np.inf, r22=1.4, r90=np.inf)
    assert first.length_s == pytest.approx(0.9)
    assert second.from_s == pytest.approx(27.0)


def test_a_meter_that_averages_shows_a_short_opening_as_a_raised_reading() -> None:
    (one,) = openings(r50=0.8)
    assert not one.whole


def test_a_few_counts_are_no_opening() -> None:
    assert openings(r50=0.29, r51=0.3) == ()


def test_open_for_good_is_one_long_opening() -> None:
    (one,) = find_openings(TIME_S, np.full(len(TIME_S), np.nan), np.ones(len(TIME_S), dtype=np.bool_))
    assert one.length_s == pytest.approx(60.0)
    assert find_openings(np.empty(0), np.empty(0), np.empty(0, dtype=np.bool_)) == ()


def test_a_long_winding_may_drift_by_a_share_before_it_counts_as_raised() -> None:
    value = np.full(len(TIME_S), 10.0)
    value[50], value[90] = 12.5, 13.5
    (one,) = find_openings(TIME_S, value, np.zeros(len(TIME_S), dtype=np.bool_))
    assert one.from_s == pytest.approx(27.0)
