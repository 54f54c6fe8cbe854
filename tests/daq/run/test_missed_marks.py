"""A tach that misses marks now and then reads low on the mean: a weak machine must not pass by it."""

from __future__ import annotations

import pytest

from daq.run.analysis import analyse
from tests.daq.run.missing_tach import WAYS, Way, watched

BY_WAY = pytest.mark.parametrize("way", WAYS)
SEEDS = range(6)


@BY_WAY
@pytest.mark.parametrize("missed", [0.4, 0.8, 1.5])
def test_a_weak_machine_does_not_pass_by_missed_marks(way: Way, missed: float) -> None:
    """Of 30 marks in a window 0.8 missed are 2.7 %: 19.8 V read as 20.3 V."""
    verdicts = [analyse(watched(way, 19.8, seed, missed=missed)).result.verdict for seed in SEEDS]
    assert "pass" not in verdicts


@BY_WAY
def test_what_is_refused_says_that_the_tach_misses_marks(way: Way) -> None:
    said = [analyse(watched(way, 19.8, seed, missed=0.8)).result.reasons[0] for seed in SEEDS]
    assert sum("The tach's readings" in first for first in said) >= 4


@BY_WAY
@pytest.mark.parametrize("slack", [0.005, 0.015])
def test_a_weak_machine_does_not_pass_by_one_sided_scatter(way: Way, slack: float) -> None:
    verdicts = [analyse(watched(way, 19.85, seed, slack=slack)).result.verdict for seed in SEEDS]
    assert "pass" not in verdicts


@BY_WAY
def test_small_one_sided_scatter_is_in_the_uncertainty(way: Way) -> None:
    sound, slack = (analyse(watched(way, 21.0, 3, slack=slack)) for slack in (0.0, 0.006))
    assert sound.output is not None
    assert slack.output is not None
    names = [c.name for c in slack.output.budget.contributions]
    assert "marks that the tach may have missed" in names
    assert slack.output.budget.expanded_uncertainty > 1.3 * sound.output.budget.expanded_uncertainty
    assert abs(slack.output.rated_voltage_v - 21.0) < slack.output.budget.expanded_uncertainty


@BY_WAY
@pytest.mark.parametrize("noise_rpm", [0.0, 10.0, 30.0])
def test_a_tach_that_scatters_evenly_is_judged(way: Way, noise_rpm: float) -> None:
    for seed in SEEDS:
        result = analyse(watched(way, 20.6, seed, noise_rpm=noise_rpm)).result
        assert result.verdict == "pass", result.reasons
        assert not any("to one side" in reason for reason in result.reasons)
        if noise_rpm == 0.0:
            assert not any("by itself" in reason for reason in result.reasons)


def test_a_wild_tach_on_a_sweep_decides_nothing() -> None:
    result = analyse(watched("sweep", 24.0, 2, noise_rpm=160.0)).result
    assert result.verdict == "not_enough_data"
    assert "up to which a mean can be relied on" in result.reasons[0]
