"""Two results compared."""

from __future__ import annotations

import pytest

from daq.verdict.change import compare_results
from daq.verdict.result import Result, Verdict


def stated(
    value_v: float,
    u_v: float,
    freedom: float | None = None,
    verdict: Verdict = "pass",
    rated_rpm: float = 3600,
) -> Result:
    return Result(
        rated_speed_rpm=rated_rpm,
        rated_voltage_V=value_v,
        standard_uncertainty_V=u_v,
        effective_degrees_of_freedom=freedom,
        verdict=verdict,
    )


def test_a_repair_that_shows() -> None:
    change = compare_results(stated(16.0, 0.3, verdict="fail"), stated(24.0, 0.4))
    assert change.change_V == pytest.approx(8.0)
    assert change.change_percent == pytest.approx(50.0)
    assert change.standard_uncertainty_V == pytest.approx(0.5)  # 3-4-5
    assert change.coverage_factor == pytest.approx(1.95996, abs=1e-5)  # JCGM 100:2008, table G.2, infinite
    assert change.effective_degrees_of_freedom is None
    assert change.significant is True
    assert change.reasons == [
        "The rated output rose by 8.00 V ± 0.98 V: the change is significant.",
        "The verdict went from fail to pass.",
    ]


def test_a_difference_within_the_uncertainty_shows_nothing() -> None:
    change = compare_results(stated(24.0, 0.3), stated(23.5, 0.4))
    assert change.significant is False
    assert change.change_V == pytest.approx(-0.5)
    assert change.reasons[0].startswith("The rated output changed by 0.50 V ± 0.98 V: no more than")


def test_few_readings_widen_the_interval() -> None:
    # Welch-Satterthwaite (JCGM 100:2008, G.4.1) with two equal parts of 5 degrees of freedom gives 10,
    # and table G.2 gives 2.23 for it.
    change = compare_results(stated(24.0, 0.3, 5), stated(25.0, 0.3, 5))
    assert change.effective_degrees_of_freedom == pytest.approx(10.0)
    assert change.coverage_factor == pytest.approx(2.23, abs=0.005)


def test_what_cannot_be_compared_says_why() -> None:
    nothing = compare_results(stated(24.0, 0.3), Result())
    assert (nothing.change_V, nothing.significant) == (None, None)
    assert nothing.reasons == [
        "The run after states no rated output, the run before does: there is no change to state."
    ]
    neither = compare_results(Result(), Result())
    assert neither.reasons == ["Neither run states a rated output, so there is no change to state."]
    apart = compare_results(stated(24.0, 0.3), stated(24.0, 0.3, rated_rpm=3000))
    assert apart.change_V is None
    assert "3600 rpm before and 3000 rpm after" in apart.reasons[0]
