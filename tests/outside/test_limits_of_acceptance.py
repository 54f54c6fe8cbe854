"""Judging against a limit: JCGM 106:2012 and ILAC-G8:09/2019."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import gamma, norm
from scipy.stats import t as student

from daq.verdict.conformance import conformance_probability, guard_band, interval_probability
from daq.verdict.judge import judge
from tests.daq.verdict.builders import evidence_of, output_of
from tests.outside.published import held_against

BEARING = gamma(a=4, scale=0.25)
"""J3: radial errors of the bearings made, micrometres."""
BEARING_LIMIT, BEARING_U = 2.0, 0.25


def accepted(true_value: float, acceptance_limit: float) -> float:
    """Chance that a bearing measures at or under the acceptance limit: a lower limit with its sign turned."""
    return conformance_probability(-true_value, BEARING_U, -acceptance_limit)


def consumers_risk(acceptance_limit: float) -> float:
    return float(
        quad(lambda x: BEARING.pdf(x) * accepted(x, acceptance_limit), BEARING_LIMIT, 20.0, epsabs=1e-12)[0]
    )


def producers_risk(acceptance_limit: float) -> float:
    return float(
        quad(
            lambda x: BEARING.pdf(x) * (1.0 - accepted(x, acceptance_limit)),
            0.0,
            BEARING_LIMIT,
            epsabs=1e-12,
        )[0]
    )


@held_against("J1")
def test_between_two_limits() -> None:
    assert interval_probability(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.66263, abs=5e-6)


@held_against("J2")
def test_one_limit() -> None:
    # -5.47 V against an upper limit of -5.40 V: the same as 5.47 V against a lower one.
    probability = conformance_probability(5.47, 0.05, 5.40)
    assert round(probability, 2) == 0.92
    assert probability == pytest.approx(0.9192, abs=5e-5)


@held_against("J3")
def test_risks_of_accepting_at_the_limit() -> None:
    assert BEARING.sf(BEARING_LIMIT) == pytest.approx(0.0423801, abs=5e-8)
    assert consumers_risk(BEARING_LIMIT) == pytest.approx(0.0080191, abs=5e-8)
    assert producers_risk(BEARING_LIMIT) == pytest.approx(0.0174446, abs=5e-8)


@held_against("J4")
def test_guard_that_brings_the_risk_to_a_thousandth() -> None:
    acceptance = brentq(lambda limit: consumers_risk(limit) - 0.001, 1.0, 2.0, xtol=1e-10)
    assert acceptance == pytest.approx(1.67183, abs=5e-6)
    assert producers_risk(acceptance) == pytest.approx(0.0754939, abs=5e-7)
    guard = BEARING_LIMIT - acceptance
    assert guard == pytest.approx(0.32817, abs=5e-6)
    # The same guard as a multiple of u by the project's own band.
    assert guard_band(BEARING_U, float(norm.cdf(guard / BEARING_U))) == pytest.approx(guard, rel=1e-9)


@pytest.mark.parametrize(
    ("probability", "z"), [(0.90, 1.2816), (0.95, 1.6449), (0.975, 1.9600), (0.99, 2.3263)]
)
@held_against("J5")
def test_one_sided_multipliers(probability: float, z: float) -> None:
    assert round(guard_band(1.0, probability), 4) == z
    assert guard_band(0.25, probability) == pytest.approx(0.25 * guard_band(1.0, probability))
    assert conformance_probability(10.0 + guard_band(0.3, probability), 0.3, 10.0) == pytest.approx(
        probability
    )


@held_against("J5")
def test_rounded_multipliers() -> None:
    assert round(conformance_probability(1.64, 1.0, 0.0), 4) == 0.9495
    assert round(conformance_probability(1.65, 1.0, 0.0), 4) == 0.9505


@pytest.mark.parametrize(
    ("share", "risk", "digits"), [(0.0, 0.5, 3), (0.83, 0.048, 3), (1.0, 0.0228, 4), (1.5, 0.00135, 5)]
)
@held_against("J6")
def test_worst_false_accept_risk_of_a_guard(share: float, risk: float, digits: int) -> None:
    u = 0.4
    guard = share * 2.0 * u
    # Worst is a true value just under the limit: how often does it measure past limit and guard?
    worst = 1.0 - conformance_probability(guard, u, 0.0)
    assert round(worst, digits) == pytest.approx(risk, abs=10.0**-digits / 2)
    assert guard_band(u, 1.0 - worst) == pytest.approx(guard, abs=1e-9)


@held_against("J6")
def test_guarded_acceptance_passes_one_in_twenty_of_the_worst_kind() -> None:
    """The verdict itself: an output just on the limit, measured again and again, passes in 5 %."""
    rng = np.random.default_rng(7)
    measured = 20.0 + 0.1 * rng.normal(size=1500)
    verdicts = [judge(output_of(v, u=0.1), evidence_of(minimum_v=20.0)).verdict for v in measured]
    passed = np.mean([v == "pass" for v in verdicts])
    failed = np.mean([v == "fail" for v in verdicts])
    # Three standard deviations of a share of 5 % in 1500.
    assert abs(passed - 0.05) < 0.017
    assert abs(failed - 0.05) < 0.017


@held_against("J7")
def test_exactly_on_the_limit() -> None:
    assert conformance_probability(20.0, 0.1, 20.0) == 0.5
    assert judge(output_of(20.0, u=0.1), evidence_of(minimum_v=20.0)).verdict == "too_close"
    assert judge(output_of(20.0, u=0.1), evidence_of(minimum_v=20.0), rule="simple").verdict == "pass"


@pytest.mark.parametrize("freedom", [1.0, 5.0, 40.0])
def test_few_readings_widen_the_doubt(freedom: float) -> None:
    doubtful = conformance_probability(20.2, 0.1, 20.0, freedom)
    assert doubtful == pytest.approx(float(student.cdf(2.0, freedom)), rel=1e-9)
    assert doubtful < conformance_probability(20.2, 0.1, 20.0) - 1e-3
    assert conformance_probability(19.8, 0.1, 20.0, freedom) == pytest.approx(1.0 - doubtful, rel=1e-12)


def test_without_uncertainty_the_comparison_is_plain() -> None:
    assert conformance_probability(20.0, 0.0, 20.0) == 1.0
    assert conformance_probability(19.999, 0.0, 20.0) == 0.0
