"""The rules on false readings at their limits: 8 % beside the other stream, 15 % beside the neighbours, and times."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.false_readings import FalseReadings, find_false_readings
from daq.align.marks import Mark

Floats = NDArray[np.float64]

SPEED_T = np.asarray(0.5 * np.arange(80), dtype=np.float64)
VOLTS_T = np.asarray(0.4 * np.arange(100), dtype=np.float64)
RPM, VOLTS = 3000.0, 20.0


def steady() -> tuple[Floats, Floats]:
    return np.full(80, RPM), np.full(100, VOLTS)


def found(
    speed: Floats,
    volts: Floats,
    speed_t: Floats = SPEED_T,
    volts_t: Floats = VOLTS_T,
    *,
    together: bool = True,
) -> FalseReadings:
    return find_false_readings(
        speed_t, speed, volts_t, volts, resolution_v=0.01, resolution_rpm=1.0, together=together
    )


@pytest.mark.parametrize(
    ("factor", "false"), [(1.13, False), (1.17, True), (0.87, False), (0.83, True), (2.1, True), (1.4, True)]
)
def test_a_lonely_speed_reading_is_false_from_15_percent(factor: float, false: bool) -> None:
    speed, volts = steady()
    speed[40] *= factor
    assert (found(speed, volts).speed[40] == Mark.FALSE_SPEED) == false
    assert np.count_nonzero(found(speed, volts).speed) == int(false)


@pytest.mark.parametrize(("factor", "false"), [(1.13, False), (1.17, True), (0.87, False), (0.83, True)])
def test_a_lonely_volts_reading_is_a_spike_from_15_percent(factor: float, false: bool) -> None:
    speed, volts = steady()
    volts[50] *= factor
    marks = found(speed, volts).volts
    assert (marks[50] == Mark.VOLTAGE_SPIKE) == false
    assert np.count_nonzero(marks) == int(false)
    alone = found(speed, volts, together=False).volts
    assert (alone[50] == Mark.VOLTAGE_SPIKE) == false
    assert np.count_nonzero(alone) == int(false)


@pytest.mark.parametrize(("factor", "false"), [(2.14, True), (2.2, False), (1.86, True), (1.82, False)])
def test_a_run_of_doubled_readings_is_told_from_a_change_within_8_percent_of_twice(
    factor: float, false: bool
) -> None:
    """Six in a row are no lonely ones: only being twice what the volts say makes them false."""
    speed, volts = steady()
    speed[40:46] *= factor
    marks = found(speed, volts).speed
    assert np.flatnonzero(marks == Mark.FALSE_SPEED).tolist() == (list(range(40, 46)) if false else [])


@pytest.mark.parametrize(("factor", "fallen"), [(0.51, False), (0.49, True), (0.0, True)])
def test_volts_are_away_under_half_of_what_the_speed_says(factor: float, fallen: bool) -> None:
    speed, volts = steady()
    volts[50:56] *= factor
    marks = found(speed, volts).volts
    assert np.flatnonzero(marks == Mark.DROPOUT).tolist() == (list(range(50, 56)) if fallen else [])


def test_windows_cut_by_a_dropout_go_with_it_two_on_either_side_and_no_more() -> None:
    """Readings 9 % low or more beside the hole belong to it; a reading 5 % low does not, nor one beyond it."""
    speed, volts = steady()
    volts[50:54] = 0.0
    volts[[48, 49, 54]] *= 0.9
    volts[55] *= 0.95
    volts[56] *= 0.9
    marks = found(speed, volts).volts
    assert np.flatnonzero(marks == Mark.DROPOUT).tolist() == [48, 49, 50, 51, 52, 53, 54]


@pytest.mark.parametrize(("seconds", "false"), [(1.15, True), (1.3, False)])
def test_neighbours_further_apart_than_five_seconds_say_nothing(seconds: float, false: bool) -> None:
    """Readings at such a pace that five of them span 4.6 or 5.2 s; the volts are dead and judge nothing."""
    speed = np.full(80, RPM)
    speed[40] *= 2.0
    marks = found(speed, np.zeros(100), speed_t=np.asarray(seconds * np.arange(80), dtype=np.float64)).speed
    assert (marks[40] == Mark.FALSE_SPEED) == false


@pytest.mark.parametrize("start_rpm", [210.0, 300.0, 600.0])
def test_a_slow_start_is_forgotten_by_the_readings_that_follow(start_rpm: float) -> None:
    """Neighbours are the two on either side: a start at a twelfth of the speed makes no later reading false."""
    speed = np.concatenate(
        (start_rpm + np.arange(6.0), np.linspace(start_rpm, 4000.0, 14), np.full(60, 4000.0))
    )
    assert not np.any(found(speed, np.zeros(100)).speed == Mark.FALSE_SPEED)


@pytest.mark.parametrize("end", [0, 1, 78, 79])
def test_the_first_two_and_last_two_have_no_pair_on_both_sides(end: int) -> None:
    """There a spike that is no multiple can't be told from a change of throttle; a multiple can, by the volts."""
    speed, volts = steady()
    speed[end] = 1.4 * RPM
    assert found(speed, volts).speed[end] == Mark.GOOD
    speed[end] = 2.0 * RPM
    assert found(speed, volts).speed[end] == Mark.FALSE_SPEED
    assert found(speed, np.zeros(100)).speed[end] == Mark.GOOD


@pytest.mark.parametrize(("shift_s", "false"), [(-1.0, False), (1.0, False), (2.2, True)])
def test_the_volts_may_be_a_second_and_a_half_off(shift_s: float, false: bool) -> None:
    """The throttle is snapped to half for 3 s, and the volts follow at another time: within reach nothing is false."""
    speed = np.where((SPEED_T >= 15.0) & (SPEED_T < 18.0), 0.5 * RPM, RPM)
    volts = np.where((VOLTS_T - shift_s >= 15.0) & (VOLTS_T - shift_s < 18.0), 0.5 * VOLTS, VOLTS)
    marks = found(speed, volts)
    assert np.any(marks.speed == Mark.FALSE_SPEED) == false
    assert np.any(marks.volts != Mark.GOOD) == false


@pytest.mark.parametrize(("equal", "stuck"), [(8, False), (9, True)])
def test_equal_digits_are_stuck_from_three_seconds(equal: int, stuck: bool) -> None:
    """At 2.5 readings a second eight equal ones span 2.8 s, nine 3.2 s, while the speed goes up by 20 %."""
    rng = np.random.default_rng(1)
    speed = RPM * (1.0 + 0.08 * np.clip(SPEED_T - 19.0, 0.0, 5.0))
    volts = VOLTS / RPM * np.interp(VOLTS_T, SPEED_T, speed) + rng.uniform(0.01, 0.04, 100)
    volts[50 : 50 + equal] = volts[50]
    marks = found(speed, volts).volts
    assert np.flatnonzero(marks == Mark.STUCK).tolist() == (list(range(51, 50 + equal)) if stuck else [])


@pytest.mark.parametrize(("equal", "stuck"), [(5, False), (6, True)])
def test_equal_digits_of_a_slow_tach_are_stuck_from_six_readings(equal: int, stuck: bool) -> None:
    speed_t = np.asarray(1.0 * np.arange(40), dtype=np.float64)
    volts = VOLTS * (1.0 + 0.04 * np.clip(VOLTS_T - 18.0, 0.0, 8.0))
    speed = np.interp(speed_t, VOLTS_T, volts) * RPM / VOLTS + np.random.default_rng(2).uniform(1.0, 9.0, 40)
    speed[19 : 19 + equal] = speed[19]
    marks = found(speed, volts, speed_t=speed_t).speed
    assert np.flatnonzero(marks == Mark.STUCK).tolist() == (list(range(20, 19 + equal)) if stuck else [])


@pytest.mark.parametrize(("rpm", "mark"), [(199.0, Mark.STOPPED), (-199.0, Mark.STOPPED), (201.0, Mark.GOOD)])
def test_under_200_rpm_an_engine_stands(rpm: float, mark: Mark) -> None:
    assert (found(np.full(80, rpm), np.zeros(100)).speed == mark).all()
