"""A run of very many readings through the whole analysis, beside parts of it that are gone through in full."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.parts import LONG
from daq.run.analysis import Analysis, analyse
from daq.run.channels import RunData
from tests.runs import machine_of, run_of

COUNT = LONG + 20_000
STEP_S = 0.1
SPIKE_AT = 200_123


def run_between(first: int, last: int, *, fell: int = 0) -> RunData:
    """Part of one long run without cards, in which both ways of averaging fit about as well."""
    rng = np.random.default_rng(1)
    even = STEP_S * np.arange(COUNT)
    volts_t, speed_t = even + 0.005 * rng.random(COUNT), even + 0.05 + 0.005 * rng.random(COUNT)

    def rpm(t: np.ndarray) -> np.ndarray:
        return np.asarray(3500.0 + 150.0 * np.sin(0.21 * t) + 20.0 * np.sin(1.3 * t))

    speed = np.round(rpm(even + 0.05), 1)
    volts = np.round(rpm(even - 0.25) / 150.0 + rng.normal(0.0, 0.01, COUNT), 2)
    volts[SPIKE_AT] = 60.0
    volts[150_000 : 150_000 + fell] *= 0.3
    part = slice(first, last)
    return run_of(
        (volts_t[part], volts[part]), (speed_t[part], speed[part]), machine=machine_of(3600.0, 20.0)
    )


@pytest.fixture(scope="module")
def whole() -> Analysis:
    return analyse(run_between(0, COUNT))


@pytest.fixture(scope="module")
def half() -> Analysis:
    return analyse(run_between(0, COUNT // 2))


def test_result_is_that_of_a_part_gone_through_in_full(whole: Analysis, half: Analysis) -> None:
    assert whole.output is not None
    assert half.output is not None
    expanded = half.output.budget.expanded_uncertainty
    assert abs(whole.output.rated_voltage_v - half.output.rated_voltage_v) < 0.02 * expanded
    assert whole.output.budget.expanded_uncertainty == pytest.approx(expanded, rel=0.02)
    assert (whole.result.verdict, half.result.verdict) == ("pass", "pass")
    assert whole.result.lag_s == pytest.approx(half.result.lag_s, abs=0.002)
    lines = [c.name for c in whole.output.budget.contributions]
    assert lines == [c.name for c in half.output.budget.contributions]


def test_what_the_other_way_of_averaging_makes_is_the_same(whole: Analysis, half: Analysis) -> None:
    def limit_v(analysis: Analysis) -> float:
        assert analysis.output is not None
        lines = {c.name: c.output_uncertainty for c in analysis.output.budget.contributions}
        return lines["how the tach averages"]

    assert half.output is not None
    difference = abs(limit_v(whole) - limit_v(half))
    assert difference < 3e-4 * half.output.budget.standard_uncertainty


def test_one_false_reading_among_very_many_is_kept_out(whole: Analysis) -> None:
    kept_out = np.flatnonzero(whole.rows.mark)
    assert SPIKE_AT in kept_out
    assert len(kept_out) < 20


def test_volts_that_fell_away_for_some_seconds_are_found_among_hours() -> None:
    result = analyse(run_between(0, COUNT, fell=50)).result
    assert result.verdict != "pass"
    assert any("fell away" in reason for reason in result.reasons)
