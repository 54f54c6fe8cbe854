"""An output that moves slowly with time is told with both its ends, and never passes where it ends under the limit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.run.analysis import analyse
from tests.daq.align.builders import VOLTS_PER_RPM, random_run
from tests.daq.run.heated import (
    LAG_S,
    falling,
    heated,
    hunting,
    logs_of_two,
    stepping,
    sweeping,
    warming,
)
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]
Speed = Callable[[Floats], Floats]
SPEEDS = [sweeping, stepping, hunting]


def told(reasons: list[str]) -> list[str]:
    return [r for r in reasons if r.startswith("The output at rated speed falls with time")]


@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize(("first_v", "last_v"), [(21.5, 19.9), (21.3, 19.8), (21.2, 19.7)])
@pytest.mark.parametrize("rule", ["guarded", "simple"])
def test_an_output_that_ends_under_the_limit_does_not_pass(
    speed: Speed, first_v: float, last_v: float, rule: str
) -> None:
    result = analyse(heated(speed, falling(first_v, last_v)), rule=rule).result  # type: ignore[arg-type] # two words
    assert result.verdict == "too_close"
    assert len(told(result.reasons)) == 1
    assert f"falls across the limit of 20.00 V during the run, from {first_v:.1f}" in result.reasons[0]
    assert result.reasons[1] == "Let it run until the volts hold still, and measure there, to decide it."
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    # The interval holds the output at either end.
    for end_v in (first_v, last_v):
        assert abs(result.rated_voltage_V - end_v) <= result.expanded_uncertainty_V + 0.05


@pytest.mark.parametrize("speed", SPEEDS)
def test_a_drift_is_told_with_its_ends_and_does_not_hide_the_lag(speed: Speed) -> None:
    result = analyse(heated(speed, falling(22.5, 21.3))).result
    assert result.verdict == "pass"
    (said,) = told(result.reasons)
    ends = [float(part.split(" V")[0]) for part in (said.split("from ")[1], said.split("beginning to ")[1])]
    assert ends == pytest.approx([22.5, 21.3], abs=0.08)
    assert result.lag_s == pytest.approx(LAG_S, abs=0.03)


def test_the_advice_for_a_warm_up_is_to_wait_and_not_another_meter() -> None:
    result = analyse(heated(sweeping, warming(20.6, 0.04))).result
    assert result.verdict == "too_close"
    assert result.lag_s == pytest.approx(LAG_S, abs=0.05)
    assert "more accurate meter" not in " ".join(result.reasons)
    assert "Let it run until the volts hold still" in result.reasons[1]


def test_a_drift_too_large_to_be_an_uncertainty_decides_nothing() -> None:
    result = analyse(heated(sweeping, falling(24.0, 21.0))).result
    assert (result.verdict, result.rated_voltage_V) == ("not_enough_data", None)
    assert "falls with time" in result.reasons[0]


@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize("seed", range(4))
def test_a_sound_run_drifts_not_and_is_no_wider(speed: Speed, seed: int) -> None:
    result = analyse(heated(speed, falling(21.5, 21.5), seed=seed)).result
    assert result.verdict == "pass"
    assert not told(result.reasons)
    assert result.expanded_uncertainty_V is not None
    assert result.expanded_uncertainty_V < 0.03


def test_volts_that_rise_with_time_are_told_to_rise() -> None:
    result = analyse(heated(hunting, falling(19.6, 20.8))).result
    assert result.verdict == "too_close"
    assert "rises across the limit" in result.reasons[0]


@pytest.mark.parametrize("speed", [sweeping, stepping])
@pytest.mark.parametrize("at_s", [15.0, 35.0, 42.0])
def test_a_step_is_told_as_a_step(speed: Speed, at_s: float) -> None:
    """What changes at one moment is no drift, and its levels are not those of a line through it."""
    result = analyse(heated(speed, lambda t: np.where(t < at_s, 20.7, 19.9))).result
    assert result.verdict != "pass"
    (said,) = (r for r in result.reasons if "on the output at rated speed is another" in r)
    shown = [
        float(said.split(before)[1].split(" ")[0]) for before in ("From about ", "another, ", "V after ")
    ]
    assert shown == pytest.approx([at_s, 19.9, 20.7], abs=2.0)
    assert shown[1:] == pytest.approx([19.9, 20.7], abs=0.05)
    assert result.lag_s is None  # a lag may stand in for the step
    assert not told(result.reasons)


@pytest.mark.parametrize("begins", [0.0, 0.8, 3.2, 5.6])
def test_of_a_steady_engine_whose_volts_fall_nobody_says_that_its_speed_went_one_way(begins: float) -> None:
    """Logs of two clocks, in whose wide search some shift always goes with the fall of the volts."""
    at: Floats = np.asarray(0.4 * np.arange(188), dtype=np.float64)
    speed_t: Floats = np.asarray(0.5 * np.arange(150), dtype=np.float64)

    def rpm(t: Floats, window_s: float) -> Floats:
        swing = np.cos(1.9 * (t - window_s) + begins) - np.cos(1.9 * t + begins)
        return np.asarray(3600.0 + 3.0 * swing / (1.9 * window_s))

    scatter: Floats = np.asarray(0.01 * (np.arange(188) * 28 % 3 - 1), dtype=np.float64)
    volts: Floats = 20.6 * rpm(at, 0.4) / 3600.0 * np.where(at > 45.0, 0.9, 1.0) + scatter
    shown: Floats = np.round(rpm(speed_t, 0.5))
    data = run_of((at, np.round(volts, 2)), (speed_t, shown), machine=machine_of(3600.0, 20.0))
    result = analyse(logs_of_two(data)).result
    assert result.verdict == "not_enough_data"
    assert not any("one way" in reason for reason in result.reasons)


@pytest.mark.parametrize("seed", range(10))
def test_a_ramp_shows_no_drift_for_time_and_speed_go_together(seed: int) -> None:
    ramp = random_run("ramp", np.random.default_rng(seed))
    data = run_of((ramp.volts_t, ramp.volts), (ramp.speed_t, ramp.speed), machine=machine_of(3600.0, 20.0))
    result = analyse(data).result
    assert not any("with time" in reason or "is another" in reason for reason in result.reasons)
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    assert abs(result.rated_voltage_V - 3600.0 * VOLTS_PER_RPM) <= result.expanded_uncertainty_V


def test_of_a_ramp_it_is_still_said() -> None:
    ramp = heated(lambda t: 3000.0 + 40.0 * t, lambda t: np.full(len(t), 22.0), seconds=20.0)
    assert any(r.startswith("The speed went one way only") for r in analyse(ramp).result.reasons)
