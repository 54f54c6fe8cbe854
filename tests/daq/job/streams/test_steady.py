"""Plateaus of speed: held, hunting, swept, stopped."""

from __future__ import annotations

import numpy as np
import pytest

from daq.job.streams.steady import Plateau, plateau_nearest, plateaus

TIME_S = np.arange(0.0, 40.0, 0.5)


def found(speed: np.ndarray) -> tuple[Plateau, ...]:
    return plateaus(TIME_S, speed, 3600.0)


def test_idle_then_test_speed_are_two_plateaus() -> None:
    speed = np.interp(TIME_S, [0, 10, 13, 40], [1800, 1800, 3600, 3600])
    first, second = found(speed)
    assert first.speed_rpm == pytest.approx(1800, abs=30)
    assert second.speed_rpm == pytest.approx(3600, abs=30)
    assert first.to_s == pytest.approx(10.0, abs=1.0)
    assert second.from_s == pytest.approx(13.0, abs=1.5)


def test_a_hunting_governor_still_holds_its_speed() -> None:
    (one,) = found(3600 + 90 * np.sin(2 * np.pi * TIME_S / 2.6))
    assert one.length_s > 38.0


def test_a_sweep_holds_nothing_for_long() -> None:
    speed = np.interp(TIME_S, [0, 11, 22, 33, 40], [1800, 3800, 1800, 3800, 2500])
    assert all(each.length_s < 3.0 for each in found(speed))


def test_a_slow_drift_is_cut_into_pieces_that_each_hold() -> None:
    pieces = found(np.linspace(1800, 3600, len(TIME_S)))
    assert all(each.length_s < 16.0 for each in pieces)


def test_standing_still_is_no_plateau_and_a_gap_ends_one() -> None:
    assert found(np.zeros(len(TIME_S))) == ()
    time_s = np.concatenate([np.arange(0.0, 5.0, 0.5), np.arange(30.0, 35.0, 0.5)])
    assert len(plateaus(time_s, np.full(len(time_s), 3600.0), 3600.0)) == 2
    assert plateaus(np.empty(0), np.empty(0), 3600.0) == ()


def test_the_nearest_plateau() -> None:
    both = (Plateau(0, 5, 1800), Plateau(8, 9.6, 3590), Plateau(12, 30, 3610))
    assert plateau_nearest(both, 3600) == both[2]
    assert plateau_nearest(both, 1500) == both[0]
    assert plateau_nearest((), 1500) is None
