"""A tach that counts a lamp on the mains decides nothing; one that shows an engine at those speeds does."""

from __future__ import annotations

import numpy as np
import pytest

from daq.run.analysis import analyse
from tests.daq.run.builders import times
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
