"""Plateaus of speed: held, hunting, swept, stopped."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.job.streams.steady import Plateau, plateau_nearest, plateaus

Floats = NDArray[np.float64]

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


def _goes_on(time_s: Floats, speed_rpm: Floats, first: int, i: int) -> bool:
    if time_s[i] - time_s[i - 1] > 4.0:
        return False
    recent = max(first, int(np.searchsorted(time_s, time_s[i] - 1.6)))
    moved = float(np.ptp(speed_rpm[recent : i + 1]))
    drifted = abs(float(speed_rpm[i]) - float(np.mean(speed_rpm[first : i + 1])))
    return moved <= 0.06 * 3600.0 and drifted <= 0.09 * 3600.0


def _bounds_one_by_one(time_s: Floats, speed_rpm: Floats) -> list[tuple[float, float]]:
    """Where stretches begin and end, each reading looked at beside all before it."""
    found, first = [], 0
    for i in range(1, len(time_s) + 1):
        if i == len(time_s) or not _goes_on(time_s, speed_rpm, first, i):
            if time_s[i - 1] - time_s[first] >= 1.5 and speed_rpm[first:i].mean() >= 200.0:
                found.append((time_s[first], time_s[i - 1]))
            first = i
    return found


@pytest.mark.parametrize("seed", range(12))
def test_one_pass_finds_what_looking_at_each_finds(seed: int) -> None:
    random = np.random.default_rng(seed)
    n = 400
    time_s: Floats = np.asarray(
        np.cumsum(random.choice([0.0, 0.05, 0.1, 0.4, 5.0], n, p=[0.02, 0.5, 0.4, 0.07, 0.01])), np.float64
    )
    steps = np.repeat(random.uniform(0.0, 4000.0, 40), 10)
    wander = np.cumsum(random.normal(0.0, 12.0, n))
    speed: Floats = np.asarray(wander + (steps if random.random() < 0.5 else 3400.0), np.float64)
    found = [(each.from_s, each.to_s) for each in plateaus(time_s, speed, 3600.0)]
    assert found == _bounds_one_by_one(time_s, speed)
    assert len(found) > 1


def test_a_day_at_one_speed_is_one_plateau() -> None:
    """300,000 readings; a sum over all before each of them took 34 s here, and ten times so much for a million."""
    time_s: Floats = np.asarray(np.arange(300_000) * 0.25, np.float64)
    speed: Floats = np.asarray(3600.0 + 20.0 * np.sin(time_s), np.float64)
    (held,) = plateaus(time_s, speed, 3600.0)
    assert (held.from_s, held.to_s) == (0.0, time_s[-1])
    assert held.speed_rpm == pytest.approx(3600.0, abs=0.01)
