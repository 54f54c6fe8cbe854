"""An engine that was stopping when the recording ended; a throttle that was let go looks alike until idle."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.job.streams.ending import fell_at_end_rpm, find_stop_at_end
from daq.job.streams.stopping import EngineStop

END_S = 13.0
COAST_S = 0.8
SPEED_S = np.arange(0.05, END_S, 0.5)
SIGNAL_S = np.arange(0.2, END_S, 0.3)


def coasting(time_s: NDArray[np.float64], from_s: float, late_s: float) -> NDArray[np.float64]:
    """Share of full speed that is left, shown ``late_s`` later."""
    return np.exp(-np.maximum(time_s - late_s - from_s, 0.0) / COAST_S)


def stop(
    before_end_s: float,
    *,
    volts_fall: bool = True,
    speed_falls: bool = True,
    silent_after_s: float | None = None,
    base: float = 0.0,
    least_running_rpm: float = 1260.0,
) -> EngineStop | None:
    """A run at 3600 rpm that is stopped so long before its end; ``base`` is what stands there without it."""
    from_s = END_S - before_end_s
    speed = 3600.0 * (coasting(SPEED_S, from_s, 0.3) if speed_falls else np.ones(len(SPEED_S)))
    signal = base + (28.0 - base) * (
        coasting(SIGNAL_S, from_s, 0.45) if volts_fall else np.ones(len(SIGNAL_S))
    )
    heard = np.ones(len(SPEED_S), bool) if silent_after_s is None else SPEED_S <= from_s + silent_after_s
    return find_stop_at_end(
        SPEED_S[heard],
        speed[heard],
        SIGNAL_S,
        signal,
        least_running_rpm=least_running_rpm,
        to_nothing=base == 0.0,
    )


@pytest.mark.parametrize("before_end_s", [2.0, 2.5, 3.0, 3.5, 4.0, 4.5])
@pytest.mark.parametrize("base", [0.0, 25.0])
def test_both_falling_away_just_before_the_end_is_a_stop(before_end_s: float, base: float) -> None:
    found = stop(before_end_s, base=base)
    assert found is not None
    assert found.at_end
    assert found.at_s == pytest.approx(END_S - before_end_s, abs=0.6)
    assert found.speed_before_rpm == pytest.approx(3600.0)


def test_one_stream_alone_is_none() -> None:
    assert stop(3.0, volts_fall=False) is None
    assert stop(3.0, volts_fall=False, base=25.0) is None
    assert stop(3.0, speed_falls=False) is None


def test_a_tach_that_falls_silent_as_the_volts_fall_is_one_too() -> None:
    assert stop(3.0, silent_after_s=0.6) is not None
    assert stop(3.0, silent_after_s=0.6, volts_fall=False) is None
    assert stop(0.9, silent_after_s=0.3) is None


def test_a_throttle_that_was_let_go_ends_at_idle_and_is_none() -> None:
    speed = np.where(SPEED_S < 10.0, 3600.0, np.maximum(1800.0, 3600.0 - 1500.0 * (SPEED_S - 10.0)))
    volts = np.interp(SIGNAL_S, SPEED_S, speed) * 28.0 / 3600.0
    assert (
        find_stop_at_end(SPEED_S, speed, SIGNAL_S, volts, least_running_rpm=1260.0, to_nothing=True) is None
    )


def test_an_idle_lower_than_the_card_says_is_none() -> None:
    speed = np.where(SPEED_S < 9.0, 3600.0, np.maximum(1150.0, 3600.0 - 1500.0 * (SPEED_S - 9.0)))
    volts = np.interp(SIGNAL_S, SPEED_S, speed) * 28.0 / 3600.0
    assert (
        find_stop_at_end(SPEED_S, speed, SIGNAL_S, volts, least_running_rpm=1260.0, to_nothing=True) is None
    )


def test_a_lost_mark_in_the_last_reading_is_none() -> None:
    speed = np.full(len(SPEED_S), 3600.0)
    speed[-1] = 900.0
    volts = 28.0 * coasting(SIGNAL_S, END_S - 2.5, 0.45)
    assert (
        find_stop_at_end(SPEED_S, speed, SIGNAL_S, volts, least_running_rpm=1260.0, to_nothing=True) is None
    )


def test_an_engine_that_ran_on_did_not_stop() -> None:
    assert stop(0.0) is None


def test_a_steep_fall_at_the_very_end_is_told_with_its_speed() -> None:
    falling = 3600.0 * coasting(SPEED_S, END_S - 1.5, 0.3)
    assert fell_at_end_rpm(SPEED_S, falling) == pytest.approx(float(falling[-1]))
    slowly = np.where(SPEED_S < 5.0, 3600.0, 3600.0 - 160.0 * (SPEED_S - 5.0))
    assert fell_at_end_rpm(SPEED_S, slowly) is None
    assert fell_at_end_rpm(SPEED_S[:3], falling[-3:]) is None
