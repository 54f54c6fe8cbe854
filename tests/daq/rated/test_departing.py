"""Rows that depart from the stated output: when they are spikes, and when they are a second output."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.rated.departing import Departing, UsualAtSpeed, find_departing

Floats = NDArray[np.float64]

T = np.asarray(0.4 * np.arange(180), dtype=np.float64)
STILL = np.zeros(len(T))


def scatter(sd: float = 0.01) -> Floats:
    return np.asarray(np.random.default_rng(4).normal(0.0, sd, len(T)), dtype=np.float64)


def found(rated: Floats, value: float = 20.6) -> Departing | None:
    return find_departing(T, rated, np.full(len(rated), value), STILL[: len(rated)], value, 0.0005)


@pytest.mark.parametrize("sd", [0.01, 0.3])
def test_scatter_and_a_few_spikes_are_nothing(sd: float) -> None:
    rated = 20.6 + scatter(sd)
    assert found(rated) is None
    rated[[11, 47, 90, 133, 151]] *= [1.4, 0.6, 2.0, 0.02, 1.1]
    assert found(rated) is None


def test_more_spikes_than_a_few_are_told_as_such() -> None:
    rated = 20.6 + scatter()
    rated[5::12] = 16.0
    spikes = found(rated)
    assert spikes is not None
    assert (spikes.kind, spikes.count, spikes.spells) == ("alone", 15, 15)
    assert spikes.limit_v == pytest.approx(4.6, abs=0.02)


@pytest.mark.parametrize("share", [0.2, 0.45, 0.5, 0.55, 0.8])
def test_two_levels_are_seen_whichever_has_more_rows(share: float) -> None:
    low = T % 18.0 < 18.0 * share
    rated = 20.6 * np.where(low, 0.93, 1.0) + scatter()
    value = float(np.median(rated[low] if share > 0.5 else rated[~low]))
    levels = found(rated, value)
    assert levels is not None
    assert levels.kind == "levels"
    assert (levels.high_v, levels.low_v) == pytest.approx((20.6, 19.158), abs=0.02)
    assert levels.spells == 4


def test_levels_that_change_from_row_to_row_are_seen_though_nothing_lasts() -> None:
    low = np.random.default_rng(9).random(len(T)) < 0.5
    rated = 20.6 * np.where(low, 0.7, 1.0) + scatter()
    levels = found(rated, float(np.mean(rated)))
    assert levels is not None
    assert (levels.high_v, levels.low_v) == pytest.approx((20.6, 14.42), abs=0.05)


@pytest.mark.parametrize("value", [20.6, 0.02])
def test_volts_that_fall_away_are_a_joint_whatever_was_stated(value: float) -> None:
    away = (T % 20.0 > 3.0) & (T % 20.0 < 9.0)
    rated = np.where(away, 0.02, 20.6) + scatter()
    joint = found(rated, value)
    assert joint is not None
    assert (joint.kind, joint.spells) == ("away", 4)
    assert joint.longest_s == pytest.approx(6.0, abs=0.5)
    assert joint.total_s == pytest.approx(24.0, abs=1.5)
    assert (joint.high_v, joint.low_v) == pytest.approx((20.6, 0.02), abs=0.02)


def test_leads_that_were_not_yet_on_are_no_joint_and_volts_that_go_for_good_are() -> None:
    assert found(np.where(T < 9.0, 0.02, 20.6) + scatter()) is None
    gone = found(np.where(T > 60.0, 0.02, 20.6) + scatter())
    assert gone is not None
    assert gone.kind == "away"


def test_one_block_of_seconds_is_enough_and_a_shorter_one_is_not() -> None:
    long, short = 20.6 + scatter(), 20.6 + scatter()
    long[80:85] *= 0.93
    short[80:84] *= 0.93
    assert found(long) is not None
    assert found(short) is None


def test_an_output_that_falls_at_once_or_steadily() -> None:
    later = found(20.6 * np.where(T > 45.0, 0.9, 1.0) + scatter())
    assert later is not None
    assert (later.kind, later.falls) == ("later", True)
    assert later.from_s == pytest.approx(45.2, abs=0.3)
    steadily = found(22.0 - 3.0 * T / T[-1] + scatter(), 20.5)
    assert steadily is not None
    assert (steadily.kind, steadily.falls) == ("drift", True)
    assert (steadily.high_v, steadily.low_v) == pytest.approx((21.7, 19.3), abs=0.1)
    rising = found(19.0 + 3.0 * T / T[-1] + scatter(), 20.5)
    assert rising is not None
    assert not rising.falls


def test_a_little_lower_is_within_what_every_run_is_granted() -> None:
    assert found(20.6 * np.where(T % 20.0 < 7.0, 0.985, 1.0) + scatter()) is None


def test_rows_on_a_moving_speed_are_granted_a_lateness() -> None:
    rated = 20.6 + scatter()
    rated[60:70] *= 0.96
    moving = STILL.copy()
    moving[60:70] = 0.15
    usual = np.full(len(T), 20.6)
    assert find_departing(T, rated, usual, STILL, 20.6, 0.0005) is not None
    assert find_departing(T, rated, usual, moving, 20.6, 0.0005) is None


def test_nothing_is_said_of_no_volts_and_of_few_rows() -> None:
    assert found(np.where(T % 20.0 < 7.0, 0.0, 0.2), 0.2) is None
    assert find_departing(T[:7], 20.6 - 3.0 * T[:7], np.full(7, 20.6), STILL[:7], 20.6, 0.0) is None


def test_a_bend_over_speed_is_what_is_usual_there() -> None:
    speed = 3600.0 + 300.0 * np.sin(T / 3.0)
    rated = 20.0 - 4.0 * (speed / 3600.0 - 1.0)
    usual = UsualAtSpeed.of(speed, rated, 20.0).at(speed)
    assert np.max(np.abs(usual - rated)) < 0.1
    still = UsualAtSpeed.of(3600.0 + 3.0 * np.sin(T), rated, 20.0).at(speed)
    assert still == pytest.approx(np.full(len(T), 20.0))
