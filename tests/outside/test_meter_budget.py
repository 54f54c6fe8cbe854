"""The budget of a multimeter's reading against EA-4/02 M, and its coverage factor against a Monte Carlo.

EA-4/02 takes the result as one rectangle and has k = 1.65. The project takes the mixture that the inputs
really make and has k = 1.71: both come to 0.05 V, and 1.65 is not asserted of the mixture.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import trapezoid

from daq.rated.budget import Contribution, UncertaintyBudget, combine, student_factor
from daq.verdict.judge import judge
from tests.daq.verdict.builders import evidence_of, output_of
from tests.outside.published import held_against


def hand_meter_at_100_volts(probability: float = 0.95) -> UncertaintyBudget:
    """S9: a source of 0.002 V at k = 2; a last digit of 0.1 V; other effects of the source, ±0.011 V."""
    return combine(
        [
            Contribution("source", 0.001, sensitivity=-1.0),
            Contribution.from_limits("last digit of the meter", 0.05),
            Contribution.from_limits("other effects of the source", 0.011, sensitivity=-1.0),
        ],
        probability,
    )


@held_against("E1")
def test_standard_uncertainties_of_the_meter_budget() -> None:
    budget = hand_meter_at_100_volts()
    single = [c.standard_uncertainty for c in budget.contributions]
    assert single == pytest.approx([0.001, 0.0288675, 0.0063509], abs=1e-7)
    assert round(budget.standard_uncertainty, 3) == 0.030
    assert budget.standard_uncertainty == pytest.approx(0.0295748, abs=1e-7)
    assert round(budget.expanded_uncertainty, 2) == 0.05
    assert budget.largest is not None
    assert budget.largest.name == "last digit of the meter"


@held_against("E2")
def test_the_result_line_of_the_meter() -> None:
    """S9: 100.1 V indicated where 100.0 V were applied: 0.10 V too much, ± 0.05 V.

    The project states a value with its doubt and judges it against a limit: what was applied is the limit.
    """
    output = replace(output_of(100.1), budget=hand_meter_at_100_volts())
    result = judge(output, evidence_of(minimum_v=100.0))
    assert result.rated_voltage_V is not None
    assert result.minimum_V is not None
    assert result.expanded_uncertainty_V is not None
    assert round(result.rated_voltage_V - result.minimum_V, 2) == 0.10
    assert round(result.expanded_uncertainty_V, 2) == 0.05
    assert result.reasons[0].startswith("100.100 V ± 0.051 V at 3600 rpm meets the limit of 100.00 V")
    # An error of 0.04 V is within the doubt: nothing is shown.
    near = replace(output, rated_voltage_v=100.04)
    assert judge(near, evidence_of(minimum_v=100.0)).verdict == "too_close"


@held_against("E3")
def test_factor_of_one_dominant_rectangle() -> None:
    budget = combine([Contribution.from_limits("limit", 1.0)])
    assert budget.coverage_factor == pytest.approx(0.95 * 3.0**0.5, rel=1e-12)
    assert round(budget.coverage_factor, 3) == 1.645


@held_against("E4")
def test_factor_of_the_mixture_against_a_monte_carlo() -> None:
    rng = np.random.default_rng(20260101)
    draws = 2_000_000
    error = (
        rng.normal(0.0, 0.001, draws) + rng.uniform(-0.05, 0.05, draws) + rng.uniform(-0.011, 0.011, draws)
    )
    half_95, half_9545 = np.quantile(np.abs(error), [0.95, 0.9545])
    budget = hand_meter_at_100_volts()
    assert budget.coverage_factor == pytest.approx(1.710, abs=0.001)
    assert budget.expanded_uncertainty == pytest.approx(0.0506, abs=5e-5)
    assert budget.expanded_uncertainty == pytest.approx(half_95, abs=5e-5)
    # Half a printed digit, and what four million draws leave open (about 2e-5).
    assert hand_meter_at_100_volts(0.9545).expanded_uncertainty == pytest.approx(0.0511, abs=7e-5)
    assert hand_meter_at_100_volts(0.9545).expanded_uncertainty == pytest.approx(half_9545, abs=5e-5)
    assert budget.standard_uncertainty == pytest.approx(float(np.std(error)), rel=2e-3)


@held_against("E5")
def test_factor_of_two_dominant_rectangles() -> None:
    """The calliper of S10, in micrometres: two rectangles of 15 and 29 rule, a trapezoid."""
    budget = combine(
        [
            Contribution("gauge", 0.46),
            Contribution("temperature", 1.15, sensitivity=1.70),
            Contribution("resolution", 15.0, "rectangular"),
            Contribution("mechanical effects", 29.0, "rectangular"),
        ]
    )
    assert round(budget.standard_uncertainty) == 33
    assert budget.coverage_factor == pytest.approx(1.83, abs=0.015)
    assert round(budget.expanded_uncertainty, -1) == 60
    # The two rectangles alone against scipy's own trapezoid on ±(a + b) with a plateau of ±(b - a).
    a, b = 15.0 * 3.0**0.5, 29.0 * 3.0**0.5
    rise = a / (a + b)
    peer = trapezoid(rise, 1.0 - rise, loc=-(a + b), scale=2.0 * (a + b))
    alone = combine(
        [Contribution("a", 15.0, "rectangular"), Contribution("b", 29.0, "rectangular")],
    )
    assert alone.expanded_uncertainty == pytest.approx(peer.ppf(0.975), rel=1e-6)


@held_against("E6")
def test_factor_of_few_readings() -> None:
    parts = [Contribution("few readings", 6.0e-4, degrees_of_freedom=2.0), Contribution("rest", 6.8e-4)]
    budget = combine(parts, 0.9545)
    assert round(budget.standard_uncertainty, 5) == 9.1e-4
    freedom = budget.effective_degrees_of_freedom
    assert round(student_factor(float(int(freedom)), 0.9545), 2) == 2.28
    # The project keeps the fraction of the freedom, 10.5 instead of 10, so the factor is a little smaller.
    assert budget.coverage_factor == pytest.approx(2.28, abs=0.02)
    assert budget.expanded_uncertainty == pytest.approx(2.0e-3, abs=1e-4)


@pytest.mark.parametrize("share", [0.1, 0.5, 2.0])
@pytest.mark.parametrize("shape", ["rectangular", "triangular", "arcsine"])
def test_mixture_of_a_limit_and_a_normal_against_draws(shape: str, share: float) -> None:
    rng = np.random.default_rng(5)
    draws = 1_000_000
    limit = {
        "rectangular": rng.uniform(-1.0, 1.0, draws),
        "triangular": rng.triangular(-1.0, 0.0, 1.0, draws),
        "arcsine": np.sin(rng.uniform(-np.pi, np.pi, draws)),
    }[shape]
    half = float(np.quantile(np.abs(limit + share * rng.normal(size=draws)), 0.95))
    parts = [
        Contribution.from_limits("limit", 1.0, shape),  # type: ignore[arg-type]  # the parameter's strings
        Contribution("normal", share),
    ]
    assert combine(parts).expanded_uncertainty == pytest.approx(half, rel=3e-3)
