"""Runs that fit two shifts, or both ways in which the tach may average."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.cards.instrument import ChannelCard, Response
from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from daq.run.channels import RunData
from tests.daq.align.builders import Instruments, random_run
from tests.daq.run.short_logs import two_logs
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]
K = 24.0 / 3600.0


def hunts_twice(first_rpm: float, second_rpm: float, *, imported: bool = True) -> RunData:
    """A governor that hunts alike at two speeds in the tach's log; the meter's log holds the first hunt alone."""
    rng = np.random.default_rng(4)
    speed_t = np.arange(0.5, 120.0, 0.5)
    middle = np.where(speed_t < 60.0, first_rpm, second_rpm)
    speed = np.round(middle * (1.0 + 0.03 * np.sin(2.0 * np.pi * speed_t / 12.0)))
    at = np.arange(10.0, 40.0, 0.4)
    true = first_rpm * (1.0 + 0.03 * np.sin(2.0 * np.pi * at / 12.0))
    volts = np.round(K * true + rng.normal(0.0, 0.01, len(at)), 2)
    data = run_of((at, volts), (speed_t, speed), machine=machine_of(3600.0, 20.0))
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    return replace(data, channels=tuple(parts), imported=imported)


def test_shifts_that_change_the_output_beyond_its_interval_decide_nothing() -> None:
    result = analyse(hunts_twice(3600.0, 3300.0)).result
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert result.lag_s is None
    assert "the rated output is anything from 24.0" in result.reasons[0]
    assert "to 26.1" in result.reasons[0]
    assert not any("carries the difference" in reason for reason in result.reasons)


@pytest.mark.parametrize(("minimum_v", "verdict"), [(12.0, "pass"), (40.0, "fail")])
def test_shifts_that_all_lie_far_on_one_side_of_the_limit_decide_it(minimum_v: float, verdict: str) -> None:
    data = replace(hunts_twice(3600.0, 3300.0), machine=machine_of(3600.0, minimum_v))
    result = analyse(data).result
    assert result.verdict == verdict
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    for candidate_v in (24.0, 26.16):  # by either shift
        assert abs(result.rated_voltage_V - candidate_v) <= result.expanded_uncertainty_V
    assert result.expanded_uncertainty_V < 3.0
    assert any("fit about as well" in r and "carries the difference" in r for r in result.reasons)


@pytest.mark.parametrize("minimum_v", [None, 22.0, 25.0, 28.0])
def test_without_a_limit_or_with_one_near_by_they_decide_nothing(minimum_v: float | None) -> None:
    data = replace(hunts_twice(3600.0, 3300.0), machine=machine_of(3600.0, minimum_v))
    result = analyse(data).result
    assert result.verdict == "not_enough_data"
    assert "the rated output is anything from 24.0" in result.reasons[0]


def quick_sweep(volts_window_s: float, seed: int) -> RunData:
    t = np.arange(-3.0, 63.0, 0.01)
    speed = 3150.0 - 750.0 * np.cos(2.0 * np.pi * t / 14.0) + 5.0 * np.sin(2.0 * np.pi * t / 3.7)
    return two_logs(
        (t, np.asarray(speed)),
        seed=seed,
        volts_window_s=volts_window_s,
        speed_window_s=0.5,
        speed_step_s=0.5,
        apart_s=0.0,
        imported=False,
    )


@pytest.mark.parametrize("window_s", [0.4, 1.0])
def test_how_long_a_slow_meter_averages_is_in_the_uncertainty_where_no_card_says_it(window_s: float) -> None:
    for seed in range(6):
        done = analyse(quick_sweep(window_s, seed))
        result = done.result
        assert result.rated_voltage_V is not None
        assert result.expanded_uncertainty_V is not None
        assert abs(result.rated_voltage_V - 24.0) <= result.expanded_uncertainty_V < 0.15
        assert done.output is not None
        lines = {c.name: c.output_uncertainty for c in done.output.budget.contributions}
        assert 0.001 < lines["how long the meter averages"] < 0.1


def test_a_card_that_says_how_long_the_meter_averages_leaves_nothing_open() -> None:
    data = quick_sweep(1.0, 1)
    card = ChannelCard(quantity=Quantity.AC_VOLTAGE, response=Response(window_s=1.0, interval_s=1.0))
    volts, speed = data.channels
    done = analyse(replace(data, channels=(replace(volts, card=card), speed)))
    assert done.output is not None
    assert "how long the meter averages" not in {c.name for c in done.output.budget.contributions}


def test_shifts_that_all_say_the_same_are_told_and_judged() -> None:
    result = analyse(hunts_twice(3600.0, 3600.0)).result
    assert result.verdict == "pass"
    assert result.rated_voltage_V == pytest.approx(24.0, abs=0.02)
    assert result.lag_s is None
    assert any(
        "fit about as well" in reason and "carries the difference" in reason for reason in result.reasons
    )


def test_one_clock_says_which_shift_it_is() -> None:
    result = analyse(hunts_twice(3600.0, 3300.0, imported=False)).result
    assert result.verdict == "pass"
    assert result.rated_voltage_V == pytest.approx(24.0, abs=0.02)


def test_averaging_that_no_card_tells_costs_what_the_other_way_would_change() -> None:
    """Few steps, noisy volts: nothing to tell the two ways apart by."""
    seen = 0
    for seed in range(12):
        run = random_run("steps", np.random.default_rng(seed), 40.0, Instruments(volts_noise_v=0.05))
        analysis = analyse(
            run_of((run.volts_t, run.volts), (run.speed_t, run.speed), machine=machine_of(3600.0, 20.0))
        )
        assert analysis.pairing is not None
        assert analysis.output is not None
        if analysis.pairing.model_rival is None:
            continue
        seen += 1
        lines = {c.name: c for c in analysis.output.budget.contributions}
        told = [r for r in analysis.result.reasons if r.startswith("No card says how the tach averages")]
        assert "contiguous was assumed" in told[0]
        assert 0.0 < lines["how the tach averages"].output_uncertainty < 0.2
    assert seen >= 6


def test_what_others_would_change_stands_with_the_lag_of_a_moment_ago() -> None:
    for seed in range(6):
        run = random_run("steps", np.random.default_rng(seed), 40.0, Instruments(volts_noise_v=0.05))
        data = run_of((run.volts_t, run.volts), (run.speed_t, run.speed), machine=machine_of(3600.0, 20.0))
        first = analyse(data)
        if first.pairing is None or first.pairing.model_rival is None or first.others is None:
            continue
        assert analyse(data, given=first).result == first.result
        stood = replace(first, others=replace(first.others, averaging_limit_v=1.0))
        lines = analyse(data, given=stood).output.budget.contributions  # type: ignore[union-attr]  # rated above
        assert {c.name: c for c in lines}["how the tach averages"].output_uncertainty == pytest.approx(
            3.0**-0.5
        )
        return
    pytest.fail("none of the runs fits both ways")
