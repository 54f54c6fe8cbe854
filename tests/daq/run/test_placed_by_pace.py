"""Readings in bursts and repeated values: a sound run gets its result, and nothing untrue is told of it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.run.analysis import analyse
from daq.run.channels import RunData
from tests.daq.run.builders import K, engine, times
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]
Column = tuple[Floats, Floats]
_UNTRUE = ("two levels", "jump away", "gaps", "do not follow", "scatter", "with time", "differ by")


def in_bursts(taken: Column) -> Column:
    stamp = np.ceil(taken[0])
    return stamp + 0.002 * (np.arange(len(stamp)) - np.searchsorted(stamp, stamp)), taken[1]


def asked_too_often(taken: Column, asked_s: float = 0.2) -> Column:
    asked = np.arange(taken[0][0] + asked_s, taken[0][-1], asked_s)
    return asked, taken[1][np.searchsorted(taken[0], asked) - 1]


def taken(seed: int, volts_step_s: float = 0.4, speed_step_s: float = 0.5) -> tuple[Column, Column]:
    rng = np.random.default_rng(seed)
    at, speed_t = times(75.0, volts_step_s), times(75.0, speed_step_s, 1.1)
    late = [np.abs(rng.normal(0.0, 0.02, len(t))) for t in (at, speed_t)]
    volts = np.round(K * engine(at - 0.2) + rng.normal(0.0, 0.01, len(at)), 2)
    return (at + late[0], volts), (speed_t + late[1], np.round(engine(speed_t)))


def made(volts: Column, speed: Column) -> RunData:
    return run_of(volts, speed, machine=machine_of(3600.0, 20.0))


@pytest.mark.parametrize("which", ["volts", "speed", "both"])
def test_bursts_of_a_second_leave_a_sound_result(which: str) -> None:
    for seed in range(3):
        volts, speed = taken(seed)
        volts = volts if which == "speed" else in_bursts(volts)
        speed = speed if which == "volts" else in_bursts(speed)
        result = analyse(made(volts, speed)).result
        assert result.verdict == "pass"
        assert result.rated_voltage_V is not None
        assert result.expanded_uncertainty_V is not None
        assert abs(result.rated_voltage_V - 3600.0 * K) <= result.expanded_uncertainty_V < 0.3
        assert any("several at once, about every 1 s: they were spread back" in r for r in result.reasons)
        assert not [r for r in result.reasons if any(word in r for word in _UNTRUE)]


def test_bursts_of_which_readings_are_lost_decide_nothing_and_say_what_to_do() -> None:
    volts, speed = taken(1, volts_step_s=0.25)
    kept = np.random.default_rng(1).random(len(volts[0])) > 0.3
    result = analyse(made(in_bursts((volts[0][kept], volts[1][kept])), speed)).result
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert "The volts readings arrive several at once" in result.reasons[0]
    assert "send each reading as it is taken" in result.reasons[0]


@pytest.mark.parametrize("which", ["volts", "speed", "both"])
def test_values_read_several_times_count_once(which: str) -> None:
    for seed in range(3):
        volts, speed = taken(seed, 1.0, 1.0)
        volts = volts if which == "speed" else asked_too_often(volts)
        speed = speed if which == "volts" else asked_too_often(speed)
        done = analyse(made(volts, speed))
        result = done.result
        assert result.verdict == "pass"
        assert result.rated_voltage_V is not None
        assert result.expanded_uncertainty_V is not None
        assert abs(result.rated_voltage_V - 3600.0 * K) <= result.expanded_uncertainty_V < 0.3
        assert result.lag_s is not None
        said = "The tach was read faster" if which == "speed" else "The meter was read faster"
        assert any(said in r and "once in 1 s" in r for r in result.reasons)
        assert not [r for r in result.reasons if any(word in r for word in _UNTRUE)]
        if which != "speed":
            assert np.sum(done.rows.mark == Mark.REPEATED) == pytest.approx(0.8 * len(volts[0]), abs=5)
