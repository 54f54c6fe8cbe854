"""A tach that counts a lamp on the mains decides nothing; one that shows an engine at those speeds does."""

from __future__ import annotations

import numpy as np
import pytest

from daq.run.analysis import analyse
from tests.daq.run.builders import times
from tests.daq.run.missing_tach import METER, fine, windows
from tests.runs import machine_of, run_of

_V_PER_RPM = 5.2 / 1000.0


@pytest.mark.parametrize("lamp_rpm", [3000.0, 3600.0, 6000.0, 7200.0])
@pytest.mark.parametrize("swing_rpm", [100.0, 300.0])
def test_a_tach_that_counts_a_lamp_decides_nothing(lamp_rpm: float, swing_rpm: float) -> None:
    """18.7 V at rated speed; held against the lamp's 3600 the volts of 4250 rpm would pass a limit of 20 V."""
    rng = np.random.default_rng(5)
    speed_t, at = times(60.0, 0.5), times(60.0, 0.4)
    engine_rpm = 4250.0 + swing_rpm * np.sin(at / 4.0)
    volts = np.round(_V_PER_RPM * engine_rpm + rng.normal(0.0, 0.01, len(at)), 2)
    shown = lamp_rpm + rng.integers(-1, 2, len(speed_t)).astype(np.float64)
    result = analyse(run_of((at, volts), (speed_t, shown), machine=machine_of(3600.0, 20.0))).result
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert any("lamp on the mains" in reason for reason in result.reasons[:2]), result.reasons


@pytest.mark.parametrize("noise_v", [0.02, 0.35])
def test_an_engine_governed_at_a_lamps_speed_is_judged(noise_v: float) -> None:
    rng = np.random.default_rng(6)
    speed_t, at = times(60.0, 0.5), times(60.0, 0.4)
    volts = np.round(6.0 / 1000.0 * (3600.0 + 2.0 * np.sin(at)) + rng.normal(0.0, noise_v, len(at)), 2)
    shown = np.round(3600.0 + 2.0 * np.sin(speed_t))
    result = analyse(run_of((at, volts), (speed_t, shown), machine=machine_of(3600.0, 20.0))).result
    assert result.verdict == "pass"
    assert result.rated_voltage_V == pytest.approx(21.6, abs=noise_v)


@pytest.mark.parametrize("seed", range(4))
def test_hunting_faster_than_the_tach_reads_is_no_lamp(seed: int) -> None:
    """At 0.9 Hz a window of a second shows 0.6 % of a swing of 3.5 %, and that once in ten seconds."""
    rng = np.random.default_rng(seed)
    t = fine(60.0)
    n = 3600.0 * (1.0 + 0.035 * np.sin(2.0 * np.pi * 0.9 * t + 0.8 * np.sin(2.0 * np.pi * 0.07 * t + seed)))
    speed_end, at = np.arange(0.7, 60.0, 1.0), np.arange(0.1, 60.0, 0.4)
    speed = np.round(windows(t, n, speed_end, 1.0))
    volts = np.round(windows(t, 21.0 / 3600.0 * n, at, 0.4) + rng.normal(0.0, 0.01, len(at)), 2)
    assert np.ptp(speed) > 30.0
    data = run_of((at + 0.3, volts), (speed_end + 0.1, speed), machine=machine_of(3600.0, 20.0), meter=METER)
    result = analyse(data).result
    assert not any("lamp" in reason or "stood" in reason for reason in result.reasons)
    assert result.verdict == "pass"


def test_where_a_tach_stood_is_said_as_it_was() -> None:
    """Within 5 rpm and not at, and in so many readings."""
    rng = np.random.default_rng(5)
    speed_t, at = times(60.0, 0.5), times(60.0, 0.4)
    volts = np.round(_V_PER_RPM * (4250.0 + 150.0 * np.sin(at / 4.0)) + rng.normal(0.0, 0.01, len(at)), 2)
    shown = 3600.0 + rng.integers(-5, 6, len(speed_t)).astype(np.float64)
    shown[:10] = np.round(4250.0 + 150.0 * np.sin(speed_t[:10] / 4.0))
    result = analyse(run_of((at, volts), (speed_t, shown), machine=machine_of(3600.0, 20.0))).result
    said = next(reason for reason in result.reasons if "lamp on the mains" in reason)
    assert said.startswith("The tach stood within 5 rpm of 3600 rpm, the speed of a lamp on the mains, in 10")
