"""Whole analyses of runs whose volts and speed do not move alike, at spans far under a sweep; and honest ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.cards.instrument import Accuracy, ChannelCard
from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from daq.run.channels import RunData
from daq.verdict.result import Result
from tests.daq.run.builders import K, times
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]

CARDS = (
    ChannelCard(Quantity.AC_VOLTAGE, resolution=0.01, accuracy=Accuracy(0.5, 3)),
    ChannelCard(Quantity.ROTATIONAL_SPEED, resolution=1.0, accuracy=Accuracy(0.05, 1)),
)
SPEED_T, VOLTS_T = times(75.0, 0.5), times(75.0, 0.4)


def hunting(t: Floats, share: float) -> Floats:
    return np.asarray(3600.0 * (1.0 + share * np.sin(2.0 * np.pi * t / 6.0) * np.sin(0.31 * t + 1.0)))


def told(volts: Floats, speed: Floats, *, own_clocks: bool, cards: bool = False) -> Result:
    noise = np.random.default_rng(2).normal(0.0, 0.01, len(volts))
    shown = np.round(volts + noise * (np.ptp(volts) > 0.0 or volts[0] != 20.40), 2)
    meter, tach = CARDS if cards else (None, None)
    data: RunData = run_of(
        (VOLTS_T, shown), (SPEED_T, np.round(speed)), machine=machine_of(3600.0, 20.0), meter=meter, tach=tach
    )
    if own_clocks:
        parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
        data = replace(data, channels=tuple(parts), imported=True)
    return analyse(data).result


BOTH = pytest.mark.parametrize("own_clocks", [False, True])


def refused(result: Result, words: str) -> None:
    assert (result.verdict, result.rated_voltage_V) == ("not_enough_data", None)
    assert words in result.reasons[0]
    assert not any("steady speed" in reason or "moved too little" in reason for reason in result.reasons)


@BOTH
@pytest.mark.parametrize("cards", [False, True])
@pytest.mark.parametrize("share", [0.015, 0.05])
def test_a_held_meter_decides_nothing(own_clocks: bool, cards: bool, share: float) -> None:
    result = told(np.full(len(VOLTS_T), 20.40), hunting(SPEED_T, share), own_clocks=own_clocks, cards=cards)
    refused(result, "The volts stood at 20.4")
    assert "V to the digit while the speed went from" in result.reasons[0]


@BOTH
def test_a_held_tach_decides_nothing(own_clocks: bool) -> None:
    volts = 19.5 / 3600.0 * hunting(VOLTS_T, 0.05)
    refused(told(volts, np.full(len(SPEED_T), 3400.0), own_clocks=own_clocks), "The speed stood at 3400 rpm")


@BOTH
@pytest.mark.parametrize("elasticity", [0.0, 0.3])
def test_regulated_volts_of_a_hunting_engine_decide_nothing(own_clocks: bool, elasticity: float) -> None:
    volts = 18.0 * (hunting(VOLTS_T, 0.05) / 3600.0) ** elasticity
    refused(told(volts, hunting(SPEED_T, 0.05), own_clocks=own_clocks), "The volts do not follow the speed")


@BOTH
def test_a_tach_that_misses_the_mark_at_times_decides_nothing(own_clocks: bool) -> None:
    steady = 3600.0 + 3.0 * np.sin(1.9 * SPEED_T)
    low = np.random.default_rng(4).random(len(SPEED_T)) < 0.6
    result = told(np.full(len(VOLTS_T), 19.8), np.where(low, 0.96, 1.0) * steady, own_clocks=own_clocks)
    refused(result, "The tach's readings jump between 34")


@BOTH
def test_volts_that_go_away_for_seconds_decide_nothing(own_clocks: bool) -> None:
    volts = np.where(VOLTS_T % 20.0 < 7.0, 0.8, 1.0) * 20.6
    refused(
        told(volts, 3550.0 + 3.0 * np.sin(1.9 * SPEED_T), own_clocks=own_clocks), "The volts went from 16"
    )


@BOTH
@pytest.mark.parametrize("scatter_rpm", [3.0, 20.0, 70.0])
def test_a_tach_that_scatters_evenly_about_a_steady_speed_is_averaged(
    own_clocks: bool, scatter_rpm: float
) -> None:
    scatter = np.random.default_rng(6).normal(0.0, scatter_rpm, len(SPEED_T))
    result = told(np.full(len(VOLTS_T), 21.0), 3600.0 + scatter, own_clocks=own_clocks)
    assert result.verdict == "pass"
    assert result.rated_voltage_V == pytest.approx(21.0, abs=0.1)


@BOTH
@pytest.mark.parametrize("share", [0.003, 0.015, 0.05])
def test_honest_hunting_passes(own_clocks: bool, share: float) -> None:
    scatter = np.random.default_rng(6).normal(0.0, 4.0, len(SPEED_T))
    result = told(K * hunting(VOLTS_T, share), hunting(SPEED_T, share) + scatter, own_clocks=own_clocks)
    assert result.verdict == "pass"
    assert result.rated_voltage_V == pytest.approx(24.0, abs=0.05)


def test_a_slow_meter_beside_fast_hunting_is_no_held_display() -> None:
    """Its window of 2 s flattens a hunting of 3 s to two fifths: the speed is averaged as it is."""
    meter = ChannelCard(Quantity.AC_VOLTAGE, resolution=0.01)
    meter = changed(meter, response=changed(meter.response, window_s=2.0))
    speed = 3600.0 * (1.0 + 0.02 * np.sin(2.0 * np.pi * SPEED_T / 3.0))
    flat = np.sinc(2.0 / 3.0)
    volts = K * 3600.0 * (1.0 + 0.02 * flat * np.sin(2.0 * np.pi * (VOLTS_T - 1.0) / 3.0))
    data = run_of(
        (VOLTS_T, np.round(volts, 2)),
        (SPEED_T, np.round(speed)),
        machine=machine_of(3600.0, 20.0),
        meter=meter,
    )
    assert analyse(data).result.verdict == "pass"


def test_logs_of_which_one_is_longer_are_not_held_against_its_other_parts() -> None:
    """The tach's log has a sweep before and after; the volts were logged at the steady speed between."""
    t = times(150.0, 0.5)
    speed = np.where((t > 45.0) & (t < 105.0), 3600.0, hunting(t, 0.1)) + np.random.default_rng(8).normal(
        0, 2, len(t)
    )
    at = times(55.0, 0.4) + 48.0
    volts = np.round(24.0 + np.random.default_rng(9).normal(0.0, 0.01, len(at)), 2)
    data = run_of((at, volts), (t, np.round(speed)), machine=machine_of(3600.0, 20.0))
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    for run in (data, replace(data, channels=tuple(parts), imported=True)):
        assert not any("follow" in r or "stood" in r or "went" in r for r in analyse(run).result.reasons)
