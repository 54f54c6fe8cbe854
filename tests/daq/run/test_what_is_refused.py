"""Whole analyses of runs in which something contradicts itself, or can't be known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from daq.run.channels import RunData
from tests.daq.run.builders import K, run, times, with_frequency, with_value
from tests.runs import channel_of, machine_of, run_of

Floats = NDArray[np.float64]


def test_a_tach_that_frequency_contradicts_decides_nothing() -> None:
    """Every mark counted twice: 24 V look like 12 V, and a good flywheel would come off."""
    data = run()
    assert data.machine is not None
    data = replace(data, machine=changed(data.machine, pole_pairs=6))
    sound = analyse(with_frequency(data, 6)).result
    assert (sound.verdict, sound.pole_pairs) == ("pass", 6)
    assert "Frequency and tach agree on the card's 6 pole pairs." in sound.reasons
    doubled = analyse(with_frequency(with_value(data, 1, 2.0 * data.channels[1].value), 6)).result
    assert doubled.verdict == "not_enough_data"
    assert doubled.rated_voltage_V is None
    assert "the tach reads 2.00 times the true speed" in doubled.reasons[0]


def test_without_the_machines_pole_pairs_they_are_stated_with_their_doubt() -> None:
    result = analyse(with_frequency(run(), 6)).result
    assert result.pole_pairs == 6
    assert any("make 6 pole pairs (6.0" in reason and "±" in reason for reason in result.reasons)


def test_a_frequency_that_fits_no_pole_pairs_decides_nothing() -> None:
    data = with_frequency(run(), 6)
    odd = with_value(data, 2, data.channels[2].value * 0.92)
    result = analyse(odd).result
    assert result.verdict == "not_enough_data"
    assert "no whole number of pole pairs" in result.reasons[0]


@pytest.mark.parametrize("lag_s", [0.2, 12.0, 20.0, 35.0])
def test_false_readings_are_found_whatever_the_clocks_say(lag_s: float) -> None:
    """The rules look at both streams, so the streams are brought together first."""
    data = run(lag_s, own_clocks=True)
    clean = analyse(data)
    assert clean.result.rows_rejected <= 2
    assert clean.result.reasons == [r for r in clean.result.reasons if "false" not in r and "follow" not in r]
    speed, volts = data.channels[1].value.copy(), data.channels[0].value.copy()
    rng = np.random.default_rng(3)
    doubled = 5 + 12 * np.arange(7) + rng.integers(0, 5, 7)
    jumped = 60 + 9 * np.arange(6)
    speed[doubled] *= 2.0
    volts[jumped] *= 1.5
    spoilt = analyse(with_value(with_value(data, 1, speed), 0, volts))
    assert spoilt.result.lag_s == pytest.approx(lag_s, abs=0.03)
    assert spoilt.result.rated_voltage_V == pytest.approx(24.0, abs=0.02)
    assert any(reason.startswith("7 tach readings were false") for reason in spoilt.result.reasons)
    assert (spoilt.rows.mark[jumped] == Mark.VOLTAGE_SPIKE).all()


def test_one_file_has_one_clock() -> None:
    """Two columns of one log: a shift of minutes is not even looked for, though the speed repeats itself."""
    t = times(90.0, 0.5)
    even = 2800.0 + 900.0 * np.sin(2.0 * np.pi * t / 30.0)
    speed = channel_of(1, Quantity.ROTATIONAL_SPEED, t, np.round(even))
    volts = channel_of(0, Quantity.AC_VOLTAGE, t, np.round(K * even, 2))
    one_log = RunData((volts, speed), machine_of(3600.0, 20.0), imported=True)
    result = analyse(one_log).result
    assert result.lag_s == pytest.approx(0.0, abs=0.05)
    assert result.verdict == "pass"
    apart = replace(one_log, channels=(volts, replace(speed, entry=changed(speed.entry, address="n.csv"))))
    told = analyse(apart).result
    assert told.lag_s is None
    assert "ambiguous" in " ".join(told.reasons)
    assert len(told.reasons[1].split("fit about as well")[0].split(",")) == len(
        set(told.reasons[1].split("fit about as well")[0].split(","))
    )


def test_a_clock_that_was_set_in_mid_run_is_told_and_decides_nothing() -> None:
    data = run(0.2, own_clocks=True)
    volts = data.channels[0]
    jumped = replace(volts, time_s=np.where(volts.time_s > 45.0, volts.time_s + 17.0, volts.time_s))
    result = analyse(replace(data, channels=(jumped, *data.channels[1:]))).result
    assert result.verdict == "not_enough_data"
    assert "The clock of one log jumps by 17.0 s at about 62 s" in result.reasons[0]
    steady_gap = (volts.time_s < 40.0) | (volts.time_s > 55.0)
    holed = replace(
        volts,
        time_s=volts.time_s[steady_gap],
        value=volts.value[steady_gap],
        quality=volts.quality[steady_gap],
    )
    assert analyse(replace(data, channels=(holed, *data.channels[1:]))).result.verdict == "pass"


def test_one_ramp_carries_what_an_unknown_lag_can_cost() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(40):
        rate, lag_s = rng.uniform(12.0, 40.0), rng.uniform(-0.6, 0.6)
        speed_t, at = times(60.0, 0.5), times(60.0, 0.4)
        speed, volts = 1900.0 + rate * speed_t, K * (1900.0 + rate * at) + rng.normal(0.0, 0.01, len(at))
        data = run_of(
            (at + lag_s, np.round(volts, 2)), (speed_t, np.round(speed)), machine=machine_of(3600.0, 20.0)
        )
        result = analyse(data).result
        assert result.lag_s is None
        assert any("one sweep up and down" in reason for reason in result.reasons)
        assert result.rated_voltage_V is not None
        assert result.expanded_uncertainty_V is not None
        held += abs(result.rated_voltage_V - 24.0) <= result.expanded_uncertainty_V
    assert held >= 38


def test_spikes_on_a_sweep_are_found() -> None:
    data = run()
    volts = data.channels[0].value.copy()
    rng = np.random.default_rng(7)
    places = 4 + 10 * np.arange(20)
    volts[places] *= rng.choice([0.65, 1.35], 20)
    spoilt = analyse(with_value(data, 0, volts))
    assert (spoilt.rows.mark[places] == Mark.VOLTAGE_SPIKE).all()
    assert spoilt.result.rows_rejected <= 22


@pytest.mark.parametrize("apart_s", [-5000.0, 0.2, 400.0, 5000.0])
def test_logs_are_brought_together_however_far_their_clocks_are_apart(apart_s: float) -> None:
    data = run(own_clocks=True)
    volts = replace(data.channels[0], time_s=data.channels[0].time_s + apart_s)
    result = analyse(replace(data, channels=(volts, data.channels[1]))).result
    assert result.verdict == "pass"
    assert result.lag_s == pytest.approx(apart_s + 0.2, abs=0.02)


def test_a_run_without_a_common_moment_does_not_speak_of_the_lag() -> None:
    data = run()
    late = replace(data.channels[1], time_s=data.channels[1].time_s + 500.0)
    result = analyse(replace(data, channels=(data.channels[0], late))).result
    assert result.reasons[0].startswith("Only 0 rows count")
    assert not any("moved too little" in reason for reason in result.reasons)


@pytest.mark.parametrize(("count", "most"), [(5, 10), (10, 10), (11, 10), (1000, 10), (1009, 10)])
def test_a_sample_of_a_channel_is_spread_over_it(count: int, most: int) -> None:
    values = np.asarray(np.arange(count), dtype=np.float64)
    values[0] = np.nan
    channel = channel_of(0, Quantity.AC_VOLTAGE, values, values)
    sample = channel.sample(most)
    assert 0 < len(sample) <= most
    assert sample[-1] >= 0.8 * (count - 1)
    assert np.isfinite(sample).all()


@pytest.mark.parametrize(("factor", "verdict"), [(0.985, "not_enough_data"), (0.994, "pass"), (1.0, "pass")])
def test_a_tach_that_reads_low_against_the_frequency(factor: float, verdict: str) -> None:
    """1.5 % low lifts the output by as much; less is in the uncertainty, which then holds the truth."""
    data = run()
    assert data.machine is not None
    data = with_frequency(replace(data, machine=changed(data.machine, pole_pairs=6)), 6)
    result = analyse(with_value(data, 1, np.round(factor * data.channels[1].value))).result
    assert result.verdict == verdict
    said = " ".join(result.reasons)
    assert ("agree on the card's 6 pole pairs" in said) == (factor == 1.0)
    if factor == 0.985:
        assert "The tach reads 1.5 % under the speed that the frequency gives with 6 pole pairs" in said
        return
    assert ("The tach reads 0.62 % under" in said) == (factor == 0.994)
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    assert abs(result.rated_voltage_V - 24.0) <= result.expanded_uncertainty_V


def test_a_frequency_three_percent_off_fits_no_pole_pairs() -> None:
    data = with_frequency(run(), 6)
    result = analyse(with_value(data, 2, data.channels[2].value * 1.03)).result
    assert "no whole number of pole pairs" in result.reasons[0]


@pytest.mark.parametrize(
    ("pole_pairs", "hertz", "said"),
    [
        (
            6,
            360.0,
            "(360.0 Hz and the card's 6 pole pairs would be 3600 rpm), for nothing would show a wrong number",
        ),
        (
            None,
            360.0,
            "The frequency alone is not taken for the speed, for nothing would show a wrong number",
        ),
        (
            6,
            float("nan"),
            "can't be brought to rated speed. Add a tach, or look whether it sends, and repeat.",
        ),
        (6, None, "can't be brought to rated speed. Add a tach, or look whether it sends, and repeat."),
    ],
)
def test_a_run_without_a_tach_says_what_to_do_though_the_frequency_is_known(
    pole_pairs: int | None, hertz: float | None, said: str
) -> None:
    data = run()
    assert data.machine is not None
    channels = [data.channels[0]]
    if hertz is not None:
        t = times(90.0, 0.5)
        channels.append(channel_of(2, Quantity.FREQUENCY, t, np.full(len(t), hertz)))
    result = analyse(RunData(tuple(channels), changed(data.machine, pole_pairs=pole_pairs))).result
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert result.reasons[0].startswith("There are no speed readings in this run")
    assert said in result.reasons[0]
    assert result.reasons[0].endswith("Add a tach, or look whether it sends, and repeat.")
