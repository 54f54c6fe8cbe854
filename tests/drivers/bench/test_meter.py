"""The meter's window, delay, counts, ranges and errors."""

from __future__ import annotations

import math
from random import Random

import pytest

from drivers.bench.meter import FUNCTIONS, Meter

STEP_S = 0.005


def feed(meter: Meter, values: list[float], from_step: int = 0) -> None:
    for k, value in enumerate(values, start=from_step + 1):
        meter.observe(k * STEP_S, value)


def test_comes_at_its_interval_and_late_by_its_delay() -> None:
    meter = Meter(Random(1), STEP_S, window_s=0.4, delay_s=0.25, interval_s=0.3)
    feed(meter, [20.0] * 400)
    ready_s = [result.ready_s for result in meter.results]
    # windows end every 0.3 s, the first whole one at 0.6 s; ready 0.25 s later; within 2 s
    assert ready_s == pytest.approx([0.85, 1.15, 1.45, 1.75], abs=1e-9)


def test_averages_the_squares_over_its_window_alone() -> None:
    meter = Meter(Random(1), STEP_S, window_s=0.4, delay_s=0.0, interval_s=0.4)
    feed(meter, [10.0] * 80 + [10.0] * 20 + [30.0] * 60)
    gain = 1.0 + meter.gain_error("VOLT:AC")
    assert meter.results[0].value == pytest.approx(10.0 * gain, abs=0.03)
    assert meter.results[1].value == pytest.approx(math.sqrt((100 * 20 + 900 * 60) / 80) * gain, abs=0.03)


def test_direct_volts_average_plainly_and_keep_their_sign() -> None:
    meter = Meter(Random(1), STEP_S, delay_s=0.0)
    meter.configure("VOLT")
    feed(meter, [-12.0, 6.0] * 100)
    assert meter.results[-1].value == pytest.approx(-3.0, abs=0.03)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_reading_is_a_whole_number_of_counts(function: str) -> None:
    meter = Meter(Random(1), STEP_S, delay_s=0.0)
    meter.configure(function)
    feed(meter, [12.3456] * 200)
    counts = meter.results[-1].value / FUNCTIONS[function].count
    assert counts == pytest.approx(round(counts), abs=1e-6)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_its_own_error_is_within_its_accuracy_and_differs_between_meters(function: str) -> None:
    errors = [Meter(Random(seed), STEP_S).gain_error(function) for seed in range(200)]
    limit = FUNCTIONS[function].gain_limit
    assert all(abs(error) <= limit for error in errors)
    assert max(errors) > 0.8 * limit
    assert min(errors) < -0.8 * limit


def test_over_range_is_infinite_and_a_range_reads_a_fifth_beyond_its_name() -> None:
    meter = Meter(Random(1), STEP_S, delay_s=0.0)
    meter.configure("VOLT:AC", 20.0)
    assert meter.range_top == pytest.approx(60.0)
    feed(meter, [70.0] * 200)
    assert meter.results[-1].value == pytest.approx(70.0, rel=0.01)
    feed(meter, [73.0] * 200, 200)
    assert meter.results[-1].value == math.inf


def test_no_range_for_that_much() -> None:
    meter = Meter(Random(1), STEP_S)
    with pytest.raises(ValueError, match="no range"):
        meter.configure("CURR", 50.0)


def test_an_open_circuit_is_over_range_and_a_moment_of_it_reads_high() -> None:
    meter = Meter(Random(1), STEP_S, delay_s=0.0, interval_s=0.4)
    meter.configure("RES")
    feed(meter, [math.inf] * 80 + [0.5] * 60 + [math.inf] * 20)
    assert meter.results[0].value == math.inf
    assert meter.results[1].value == pytest.approx(0.5 / 0.75, abs=0.03)


def test_another_function_starts_from_a_whole_new_window() -> None:
    meter = Meter(Random(1), STEP_S, delay_s=0.0, interval_s=0.05)
    feed(meter, [28.0] * 200)
    meter.configure("VOLT")
    assert not meter.results
    feed(meter, [12.0] * 79, 200)
    assert not meter.results
    feed(meter, [12.0] * 10, 279)
    assert meter.results[0].value == pytest.approx(12.0, abs=0.05)


def test_the_same_function_again_keeps_what_it_has() -> None:
    meter = Meter(Random(1), STEP_S)
    feed(meter, [28.0] * 200)
    before = list(meter.results)
    meter.configure("VOLT:AC")
    assert list(meter.results) == before
