"""A tach that smooths its readings: what it does to a sweep is named and counted; sound tachs stay as they are."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.cards.instrument import ChannelCard, Response
from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from daq.run.channels import RunData
from daq.verdict.result import Result
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]
STEP_S = 0.005
T = np.arange(-5.0, 61.0, STEP_S)
SMOOTHS = "smooths its readings over about"


def swept(period_s: float, seed: int) -> Floats:
    """A sweep up and down with a little hunting of its own."""
    rng = np.random.default_rng(seed)
    speed = 3150.0 - 750.0 * np.cos(2.0 * np.pi * T / period_s)
    for _ in range(3):
        speed += rng.uniform(2.0, 6.0) * np.sin(
            2.0 * np.pi * rng.uniform(0.05, 0.5) * T + rng.uniform(0.0, 6.0)
        )
    return np.asarray(speed)


def mean_over(values: Floats, ends_s: Floats, window_s: float) -> Floats:
    sums = np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * STEP_S)))
    return np.asarray((np.interp(ends_s, T, sums) - np.interp(ends_s - window_s, T, sums)) / window_s)


def slow_display(values: Floats, ends_s: Floats, constant_s: float) -> Floats:
    """A display that follows by a first-order filter."""
    shown, now = np.empty_like(values), values[0]
    for i, value in enumerate(values):
        now += (value - now) * STEP_S / constant_s
        shown[i] = now
    return np.asarray(np.interp(ends_s, T, shown))


def swept_run(
    tach: str, size_s: float, *, period_s: float = 14.0, true_v: float = 19.85, seed: int = 1
) -> RunData:
    rng = np.random.default_rng(seed)
    speed = swept(period_s, seed)
    ends = np.arange(rng.uniform(0.0, 0.5), 60.0, 0.5)
    shown = slow_display(speed, ends, size_s) if tach == "slow" else mean_over(speed, ends, size_s)
    at = np.arange(rng.uniform(0.0, 0.4), 60.0, 0.4)
    volts = np.round(true_v * mean_over(speed, at, 0.4) / 3600.0 + rng.normal(0.0, 0.01, len(at)), 2)
    late = (np.abs(rng.normal(0.0, 0.02, len(x))) for x in (at, ends))
    return run_of(
        (at + 0.4 + next(late), volts),
        (ends + 0.2 + next(late), np.round(shown)),
        machine=machine_of(3600.0, 20.0),
    )


def off(result: Result, true_v: float) -> float:
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    return abs(result.rated_voltage_V - true_v) / result.expanded_uncertainty_V


def test_a_slow_display_passes_no_weak_alternator_and_is_named() -> None:
    result = analyse(swept_run("slow", 1.0)).result
    assert result.verdict != "pass"
    assert off(result, 19.85) <= 1.0
    said = " ".join(result.reasons)
    assert SMOOTHS in said
    assert "fits the run better" not in said
    assert "a tach that smooths" in next(r for r in result.reasons if "misses zero" in r)
    assert "good to ±" not in said  # a more accurate tach that smooths as much would decide nothing


@pytest.mark.parametrize("constant_s", [1.0, 1.5])
@pytest.mark.parametrize("period_s", [14.0, 24.0])
def test_a_slower_display_passes_no_weak_alternator_either(constant_s: float, period_s: float) -> None:
    result = analyse(swept_run("slow", constant_s, period_s=period_s)).result
    assert result.verdict != "pass"
    if result.rated_voltage_V is not None:
        assert off(result, 19.85) <= 1.0


@pytest.mark.parametrize(
    ("tach", "size_s", "period_s"), [("slow", 1.0, 30.0), ("slow", 0.5, 14.0), ("mean", 2.0, 14.0)]
)
def test_the_truth_is_within_what_is_stated_beside_a_smoothing_tach(
    tach: str, size_s: float, period_s: float
) -> None:
    for seed in (2, 3):
        result = analyse(swept_run(tach, size_s, period_s=period_s, true_v=21.0, seed=seed)).result
        assert off(result, 21.0) <= 1.0
        assert SMOOTHS in " ".join(result.reasons)


@pytest.mark.parametrize("window_s", [0.5, 0.01])
@pytest.mark.parametrize("period_s", [14.0, 30.0])
def test_sound_tachs_get_no_wider(window_s: float, period_s: float) -> None:
    for seed in (1, 2):
        told = analyse(swept_run("mean", window_s, period_s=period_s, true_v=21.0, seed=seed))
        assert SMOOTHS not in " ".join(told.result.reasons)
        assert told.output is not None
        names = [c.name for c in told.output.budget.contributions]
        assert "tach that smooths more than assumed" not in names


def test_a_card_that_says_otherwise_is_not_believed_against_the_run() -> None:
    data = swept_run("slow", 1.0)
    card = ChannelCard(
        quantity=Quantity.ROTATIONAL_SPEED,
        resolution=1.0,
        response=Response(window_s=0.5, interval_s=0.5, averaging="contiguous", pace="steady"),
    )
    volts, speed = data.channels
    with_card = RunData(
        (volts, type(speed)(speed.entry, card, speed.time_s, speed.value, speed.quality)), data.machine
    )
    result = analyse(with_card).result
    assert SMOOTHS in " ".join(result.reasons)
    assert off(result, 19.85) <= 1.0


def test_an_offset_that_looks_the_same_is_told_with_it() -> None:
    """A diode in the leads takes its volts off: on a plain sweep that looks as a smoothing tach does."""
    data = swept_run("mean", 0.5, true_v=22.0)
    volts, speed = data.channels
    held = type(volts)(volts.entry, volts.card, volts.time_s, np.round(volts.value - 1.4, 2), volts.quality)
    result = analyse(RunData((held, speed), data.machine)).result
    said = next((r for r in result.reasons if SMOOTHS in r), None)
    assert said is None or "offset" in said
    assert any("misses zero" in r for r in result.reasons)
