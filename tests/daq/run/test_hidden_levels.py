"""A joint that opens while the governor hunts, and volts that stand still beside hunting as fast as the tach reads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.run.analysis import analyse
from daq.run.channels import RunData
from daq.verdict.result import Result
from tests.daq.run.missing_tach import METER, TACH, fine, windows
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]
VoltsAt = Callable[[Floats], Floats]


def hunted(
    volts_at: VoltsAt,
    *,
    hz: float,
    share: float,
    seed: int = 1,
    seconds: float = 60.0,
    opened: tuple[float, float, float] | None = None,
    tach_s: float = 0.5,
    meter_s: float = 0.4,
) -> RunData:
    """An engine whose governor hunts; ``opened`` is (share left, period s, time open s) of a joint."""
    rng = np.random.default_rng(seed)
    t = fine(seconds)
    n = 3600.0 * (1.0 + share * np.sin(2.0 * np.pi * hz * t + 0.8 * np.sin(0.7 * t + seed)))
    true_v = volts_at(n)
    if opened is not None:
        left, period_s, open_s = opened
        true_v = true_v * np.where((t + 1.3 * seed) % period_s < open_s, left, 1.0)
    speed_end, volts_end = np.arange(0.3, seconds, tach_s), np.arange(0.1, seconds, meter_s)
    volts = windows(t, true_v, volts_end, 0.4) + rng.normal(0.0, 0.01, len(volts_end))
    return run_of(
        (volts_end + 0.3, np.round(volts, 2)),
        (speed_end + 0.1, np.round(windows(t, n, speed_end, tach_s))),
        machine=machine_of(3600.0, 20.0),
        meter=METER,
        tach=TACH,
    )


def proportional(n: Floats) -> Floats:
    return np.asarray(20.5 / 3600.0 * n)


def held(n: Floats) -> Floats:
    return np.full(len(n), 20.4)


def regulated(n: Floats) -> Floats:
    return np.minimum(25.0 * n / 3600.0, 19.0)


def battery(n: Floats) -> Floats:
    return np.asarray(12.0 + 3.0 * n / 3600.0)


FAST = pytest.mark.parametrize("hz", [0.4, 0.5, 0.65, 0.8, 1.0])


def not_judged(result: Result) -> None:
    assert (result.verdict, result.rated_voltage_V) == ("not_enough_data", None)
    assert "The volts" in result.reasons[0]
    assert not any("steady speed" in r or "moved too little" in r for r in result.reasons)


@FAST
@pytest.mark.parametrize("share", [0.015, 0.04])
@pytest.mark.parametrize("volts_at", [held, regulated, battery])
def test_volts_that_stand_still_beside_fast_hunting_decide_nothing(
    volts_at: VoltsAt, hz: float, share: float
) -> None:
    not_judged(analyse(hunted(volts_at, hz=hz, share=share)).result)


@pytest.mark.parametrize("hz", [0.3, 0.5])
def test_the_same_read_once_a_second(hz: float) -> None:
    run = hunted(regulated, hz=hz, share=0.03, tach_s=1.0, meter_s=1.0)
    not_judged(analyse(without_response(run)).result)


def without_response(data: RunData) -> RunData:
    """No card says how the instruments answer."""
    return replace(data, channels=tuple(replace(channel, card=None) for channel in data.channels))


@FAST
@pytest.mark.parametrize("share", [0.008, 0.04])
def test_volts_that_follow_fast_hunting_pass(hz: float, share: float) -> None:
    for run in (hunted(proportional, hz=hz, share=share), hunted(proportional, hz=hz, share=share, seed=2)):
        for data in (run, without_response(run)):
            result = analyse(data).result
            assert result.verdict == "pass", result.reasons
            assert result.rated_voltage_V == pytest.approx(20.5, abs=0.06)
            assert not any(
                "levels" in r or "rows lie too far" in r or "scatters" in r for r in result.reasons
            )


@pytest.mark.parametrize("left", [0.95, 0.96, 0.97])
@pytest.mark.parametrize("period_s", [3.0, 7.0, 15.0])
@pytest.mark.parametrize("duty", [0.2, 0.35, 0.45])
def test_a_joint_that_opens_under_a_hunting_governor_is_told(
    left: float, period_s: float, duty: float
) -> None:
    """On the lower level 20.5 V are 19.5 to 19.9 V, under the limit."""
    run = hunted(proportional, hz=0.43, share=0.022, opened=(left, period_s, duty * period_s))
    result = analyse(run).result
    assert result.verdict != "pass"
    assert any("levels" in r or "joint" in r for r in result.reasons)


def test_rows_set_aside_are_never_beyond_doubt() -> None:
    """Open while the speed rises, closed while it falls: this could be a lag, and so many rows weigh all the same."""
    t, seconds = fine(60.0), 60.0
    turn = 2.0 * np.pi * 0.35 * t
    n = 3600.0 * (1.0 + 0.022 * np.sin(turn))
    volts = proportional(n) * np.where(np.cos(turn + 1.2) > 0.55, 0.96, 1.0)
    speed_end, volts_end = np.arange(0.3, seconds, 0.5), np.arange(0.1, seconds, 0.4)
    data = run_of(
        (volts_end + 0.3, np.round(windows(t, volts, volts_end, 0.4), 2)),
        (speed_end + 0.1, np.round(windows(t, n, speed_end, 0.5))),
        machine=machine_of(3600.0, 20.0),
        meter=METER,
        tach=TACH,
    )
    result = analyse(data).result
    assert result.verdict == "too_close"
    assert any(
        "rows lie too far from the others to weigh anything: most of them give 19." in r
        for r in result.reasons
    )
    assert "Hold one steady speed" in result.reasons[1]
