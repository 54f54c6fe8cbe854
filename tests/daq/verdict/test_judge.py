"""From output and limit to a verdict, and what would decide a close one."""

from __future__ import annotations

import re

import pytest

from daq.align.lag import LagEstimate
from daq.rated.budget import Contribution, combine
from daq.rated.line_fit import LineFit
from daq.rated.output import RatedOutput
from daq.rated.proportion import Proportion
from daq.verdict.conformance import conformance_probability, guard_band
from daq.verdict.judge import judge, what_would_decide
from tests.daq.verdict.builders import SEEN_LAG, budget_of, evidence_of, output_of

LIMIT_V = 20.0
LINE = LineFit(0.05, 0.02, 0.0058, 1e-5, -0.9, 0.02, 0.999, 60)


def verdict_at(value: float, u: float = 0.1) -> str:
    return judge(output_of(value, u), evidence_of(minimum_v=LIMIT_V)).verdict


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (21.0, "pass"),
        (LIMIT_V + 0.1645, "pass"),
        (LIMIT_V + 0.1644, "too_close"),
        (LIMIT_V, "too_close"),
        (LIMIT_V - 0.1644, "too_close"),
        (LIMIT_V - 0.1645, "fail"),
        (12.0, "fail"),
    ],
)
def test_guarded_acceptance(value: float, verdict: str) -> None:
    """One guard band of 1.645 u on either side of the limit is neither pass nor fail."""
    assert verdict_at(value) == verdict


@pytest.mark.parametrize(("value", "verdict"), [(20.01, "pass"), (20.0, "pass"), (19.99, "fail")])
def test_plain_comparison(value: float, verdict: str) -> None:
    result = judge(output_of(value, 0.5), evidence_of(minimum_v=LIMIT_V), rule="simple")
    assert result.verdict == verdict
    assert "compared plainly" in result.reasons[0]
    assert result.conformance_probability == pytest.approx(conformance_probability(value, 0.5, LIMIT_V))


def test_few_readings_make_a_close_call_of_a_pass() -> None:
    few = combine([Contribution("scatter of the readings", 0.1, degrees_of_freedom=2.0)])
    assert verdict_at(20.2) == "pass"
    assert judge(output_of(20.2, budget=few), evidence_of(minimum_v=LIMIT_V)).verdict == "too_close"


def test_fields_of_a_pass() -> None:
    line = LineFit(0.05, 0.02, 0.0058, 1e-5, -0.9, 0.02, 0.999, 60)
    output = output_of(21.0, 0.2, proportion=Proportion(line=line, elasticity=1.0))
    result = judge(output, evidence_of(minimum_v=LIMIT_V, pole_pairs=6, rows=120, rows_rejected=7))
    assert result.rated_voltage_V == 21.0
    assert result.standard_uncertainty_V == pytest.approx(0.2)
    assert result.coverage_factor == pytest.approx(1.96, abs=1e-3)
    assert result.expanded_uncertainty_V == pytest.approx(0.392, abs=1e-3)
    assert result.coverage_probability == 0.95
    assert result.effective_degrees_of_freedom is None  # infinite
    assert (result.lag_s, result.lag_u_s) == (SEEN_LAG.lag_s, 0.005)
    assert result.volts_per_1000rpm == pytest.approx(21.0 / 3.6)
    assert (result.offset_V, result.offset_u_V) == (0.05, 0.02)
    assert (result.minimum_V, result.rated_speed_rpm, result.pole_pairs) == (20.0, 3600.0, 6)
    assert (result.rows, result.rows_rejected) == (120, 7)
    assert result.conformance_probability == pytest.approx(1.0, abs=1e-5)


def test_lag_that_is_not_seen_or_ambiguous_is_not_named() -> None:
    for lag in (
        None,
        LagEstimate(0.0, 0.6, determined=False),
        LagEstimate(0.3, 0.01, determined=True, rivals_s=(8.3,)),
    ):
        result = judge(output_of(21.0), evidence_of(lag=lag))
        assert result.lag_s is None
        assert result.lag_u_s is None
        assert result.verdict == "pass"


def test_without_a_limit_there_is_no_verdict() -> None:
    result = judge(output_of(21.0), evidence_of(minimum_v=None))
    assert result.verdict == "no_limit"
    assert result.conformance_probability is None
    assert result.rated_voltage_V == 21.0
    assert "service manual" in result.reasons[0]


@pytest.mark.parametrize(
    "changes",
    [
        {"output": None},
        {"output": output_of(21.0, scaled=False)},
        {"output": output_of(21.0), "load_current_a": 6.0},
    ],
)
def test_without_an_output_nothing_is_judged(changes: dict[str, object]) -> None:
    output = changes.pop("output")
    assert output is None or isinstance(output, RatedOutput)
    result = judge(output, evidence_of(**changes))
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert result.conformance_probability is None
    assert result.minimum_V == LIMIT_V
    assert result.reasons


def test_the_verdict_is_said_first() -> None:
    passed = judge(output_of(20.5), evidence_of(minimum_v=LIMIT_V, speed_gaps=2)).reasons
    assert passed[0].startswith("20.50 V ± 0.20 V at 3600 rpm meets the limit of 20.00 V")
    failed = judge(output_of(19.0), evidence_of(minimum_v=LIMIT_V)).reasons
    assert "is under the limit of 20.00 V (beyond doubt)" in failed[0]
    close = judge(output_of(20.05), evidence_of(minimum_v=LIMIT_V)).reasons
    assert "too close to the limit" in close[0]
    assert "69 %" in close[0]
    assert "would decide it" in close[1]


def contributions(**u: float) -> list[Contribution]:
    names = {
        "scatter": "scatter of the readings",
        "meter": "accuracy of the meter",
        "tach": "accuracy of the tach",
        "lag": "lag between the streams",
        "departure": "departure from proportion",
        "window": "how long the meter averages",
        "shift": "which shift is right",
    }
    return [Contribution(names[k], v) for k, v in u.items()]


def decided_by(**u: float) -> str:
    return what_would_decide(output_of(20.1, budget=combine(contributions(**u))), LIMIT_V)


def test_advice_names_what_rules() -> None:
    assert "Hold the engine near rated speed" in decided_by(scatter=0.2, meter=0.02)
    assert "A meter with limits" in decided_by(meter=0.2, tach=0.02)
    assert "A tach good to" in decided_by(tach=0.2, meter=0.02)
    assert "steady speed" in decided_by(lag=0.2, meter=0.02)
    assert "nearer to 3600 rpm" in decided_by(departure=0.2, meter=0.02)
    assert "A card for the meter that says over which time it averages" in decided_by(window=0.2, meter=0.02)
    assert "does not repeat itself" in decided_by(shift=0.2, meter=0.02)


def test_advice_admits_where_no_single_thing_helps() -> None:
    assert "less than these instruments can tell apart" in decided_by(meter=0.2, tach=0.15)
    on_it = what_would_decide(output_of(LIMIT_V, budget=combine([])), LIMIT_V)
    assert "no measurement decides it" in on_it


def test_following_the_advice_decides() -> None:
    """A meter as good as advised brings the verdict out of the grey zone, a slightly worse one does not."""
    parts = contributions(meter=0.2, tach=0.03)
    sentence = what_would_decide(output_of(20.1, budget=combine(parts)), LIMIT_V)
    found = re.search(r"±([0-9.]+) V", sentence)
    assert found is not None
    limit = float(found.group(1))
    verdicts = []
    for share in (0.97, 1.1):
        better = [Contribution("accuracy of the meter", share * limit / 3.0**0.5), parts[1]]
        verdicts.append(judge(output_of(20.1, budget=combine(better)), evidence_of()).verdict)
    assert verdicts == ["pass", "too_close"]


def test_holding_as_long_as_advised_decides() -> None:
    parts = contributions(scatter=0.1, meter=0.02)
    output = output_of(20.1, budget=combine(parts), span_s=30.0)
    found = re.search(r"about (\d+) s more", what_would_decide(output, LIMIT_V))
    assert found is not None
    longer = 30.0 + float(found.group(1))
    shrunk = 0.1 * (30.0 / longer) ** 0.5
    needed = 0.1 / guard_band(1.0, 0.95)
    assert (shrunk**2 + 0.02**2) ** 0.5 == pytest.approx(needed, rel=0.02)


def test_fine_advice_keeps_its_digits() -> None:
    """A tach good to ±0 rpm would be no advice."""
    budget = budget_of(0.2, "accuracy of the tach", sensitivity=-0.5)
    sentence = what_would_decide(output_of(20.1, budget=budget), LIMIT_V)
    assert "±0.21 rpm" in sentence


@pytest.mark.parametrize(
    ("value", "shape", "words"),
    [
        (18.0, Proportion(), "from one steady speed"),
        (20.0, Proportion(), "from one steady speed"),
        (18.0, Proportion(line=LINE, sag=0.06, u_sag=0.01), "bend away from proportion"),
        (20.0, Proportion(line=LINE, sag=0.06, u_sag=0.01), "bend away from proportion"),
        (18.0, Proportion(line=LINE, sag=0.06, u_sag=0.03), "a lamp on the AC leads"),
        (18.0, Proportion(line=LINE, sag=0.02, u_sag=0.001), "a lamp on the AC leads"),
        (18.0, Proportion(line=LINE), "a lamp on the AC leads"),
        (0.05, Proportion(line=LINE, sag=0.5, u_sag=0.01), "Nothing comes out"),
        (0.05, Proportion(), "Nothing comes out"),
    ],
)
def test_what_else_may_hold_the_volts_down_is_told_before_anything_is_taken_apart(
    value: float, shape: Proportion, words: str
) -> None:
    reasons = judge(output_of(value, proportion=shape), evidence_of(minimum_v=LIMIT_V)).reasons
    assert any(words in reason for reason in reasons[1:3])
    resting = judge(
        output_of(value, proportion=shape), evidence_of(minimum_v=LIMIT_V, battery_v=12.6)
    ).reasons
    assert not any(words in reason for reason in resting)


@pytest.mark.parametrize("shape", [Proportion(), Proportion(line=LINE, sag=0.06, u_sag=0.01)])
def test_a_pass_needs_no_such_word(shape: Proportion) -> None:
    reasons = judge(output_of(24.0, proportion=shape), evidence_of(minimum_v=LIMIT_V)).reasons
    assert not any("taken apart" in reason or "one steady speed" in reason for reason in reasons)
