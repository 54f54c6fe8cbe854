"""Whole runs whose output is not one: an intermittent joint, heat, two levels; and runs that are sound."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.run.analysis import Analysis, analyse
from daq.run.channels import RunData
from tests.daq.run.builders import held, run, with_value

Floats = NDArray[np.float64]


def with_factor(data: RunData, factor: Floats) -> Analysis:
    return analyse(with_value(data, 0, np.round(data.channels[0].value * factor, 2)))


def test_an_intermittent_joint_never_passes_and_is_told_with_its_count() -> None:
    data = held(3600.0, 24.0)
    t = data.channels[0].time_s
    for share in (0.1, 0.35, 0.6):
        result = with_factor(data, np.where((t + 8.0) % 20.0 < 20.0 * share, 0.001, 1.0)).result
        assert (result.verdict, result.rated_voltage_V) == ("not_enough_data", None)
        assert "The volts fell away 3 times" in result.reasons[0]
        assert "intermittent joint" in result.reasons[0]
        assert sum("fell away" in reason and "times" in reason for reason in result.reasons) == 1


def test_volts_that_fall_away_during_a_sweep_are_counted_over_the_whole_run() -> None:
    """Near rated speed they fell away once; in all four times for 4 s, and at the very end once more."""
    data = run()
    t = data.channels[0].time_s
    result = with_factor(data, np.where((t % 20.0 > 9.0) & (t % 20.0 < 13.0), 0.02, 1.0)).result
    assert "The volts fell away 5 times, for 16.8 s" in result.reasons[0]
    assert "4.0 s at the longest, first at 9 s (" in result.reasons[0]


@pytest.mark.parametrize("factor", [0.7, 0.9])
def test_a_lower_level_at_steady_speed_is_told_with_its_count_its_length_and_when(factor: float) -> None:
    data = held(3560.0, 24.0)
    t = data.channels[0].time_s
    thrice = with_factor(data, np.where((t % 20.0 > 9.0) & (t % 20.0 < 13.0), factor, 1.0)).result
    assert "they stood at about" in thrice.reasons[0]
    assert "V for 12.0 s in all, 3 times, 4.0 s at the longest, first at 9 s: a lead" in thrice.reasons[0]
    once = with_factor(data, np.where((t > 20.0) & (t < 26.0), factor, 1.0)).result
    assert "V for 6.0 s in all, once at 20 s: a lead" in once.reasons[0]


def test_volts_that_wander_are_not_counted_as_levels() -> None:
    data = held(3560.0, 24.0)
    result = with_factor(data, 1.0 + 0.1 * np.sin(data.channels[0].time_s / 5.0)).result
    assert "while the speed went only from" in result.reasons[0]
    assert "they stood at" not in result.reasons[0]


@pytest.mark.parametrize("factor", [0.7, 0.9, 0.93])
def test_a_second_level_never_passes(factor: float) -> None:
    data = held(3600.0, 21.2)
    t = data.channels[0].time_s
    assert with_factor(data, np.where(t % 20.0 < 7.0, factor, 1.0)).result.verdict == "not_enough_data"
    assert with_factor(data, np.where(t > 40.0, factor, 1.0)).result.verdict == "not_enough_data"


def test_a_joint_that_opens_during_a_sweep_is_told() -> None:
    data = run()
    t = data.channels[0].time_s
    result = with_factor(data, np.where(t % 30.0 < 4.0, 0.02, 1.0)).result
    assert result.verdict == "not_enough_data"
    assert any("intermittent joint" in reason for reason in result.reasons)


def test_levels_close_together_are_in_the_uncertainty() -> None:
    data = held(3560.0, 21.2 * 3560.0 / 3600.0)
    low = np.where(np.random.default_rng(2).random(len(data.channels[0].value)) < 0.3, 0.965, 1.0)
    sure = analyse(data).result
    both = with_factor(data, low).result
    assert sure.verdict == "pass"
    assert both.rated_voltage_V == pytest.approx(21.2, abs=0.01)
    assert both.expanded_uncertainty_V is not None
    # The lower level, 0.74 V under it, is where an even chance of both puts the end (arcsine).
    assert 0.72 < both.expanded_uncertainty_V < 1.2
    assert any("The difference is in the uncertainty" in reason for reason in both.reasons)
    near_limit = held(3560.0, 20.6 * 3560.0 / 3600.0)
    assert with_factor(near_limit, low).result.verdict == "too_close"


def test_rows_that_weigh_nothing_are_marked_counted_and_told() -> None:
    data = held(3600.0, 24.0)
    factor = np.ones(len(data.channels[0].value))
    factor[[30, 31, 100]] = 1.03
    done = with_factor(data, factor)
    assert done.result.verdict == "pass"
    assert (done.rows.mark[[30, 31, 100]] == Mark.APART).all()
    clean = analyse(data)
    apart = int(np.sum(done.rows.mark == Mark.APART))
    assert done.result.rows_rejected == int(np.sum(done.rows.mark != Mark.GOOD))
    assert done.result.rows_rejected >= clean.result.rows_rejected + 3
    assert f"{apart} rows were kept out: too far from the others at rated speed to weigh anything." in (
        done.result.reasons
    )


def test_a_noisy_run_with_a_few_spikes_passes_as_before() -> None:
    data = run()
    rng = np.random.default_rng(8)
    factor = 1.0 + rng.normal(0.0, 0.01, len(data.channels[0].value))
    factor[[20, 70, 120, 170]] *= [1.4, 0.6, 1.4, 0.6]
    result = with_factor(data, factor).result
    assert result.verdict == "pass"
    assert not any("in the uncertainty." in r and "levels" in r for r in result.reasons)


def test_one_speed_far_away_passes_nothing_and_a_run_up_to_there_does() -> None:
    for rpm, verdict in ((2400.0, "not_enough_data"), (3100.0, "not_enough_data"), (3240.0, "pass")):
        result = analyse(held(rpm, 30.0 * rpm / 3600.0)).result
        assert result.verdict == verdict
    far = analyse(held(2400.0, 20.0)).result
    assert "33 % away" in far.reasons[0]
    assert "to decide it" in far.reasons[0]
    assert "too far from rated speed to judge" in far.reasons[0]
    assert far.rated_voltage_V == pytest.approx(
        30.0, abs=0.1
    )  # stated with its uncertainty, held against nothing
    assert far.conformance_probability is None
    assert "beyond doubt" not in " ".join(far.reasons)
    assert analyse(run()).result.verdict == "pass"
