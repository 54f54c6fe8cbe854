"""An output reckoned from far away is stated and not judged; one that moved across its limit is never passed."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from daq.job.evidence.recorded_output import rated_found
from daq.rated.drift import Drift
from daq.rated.line_fit import LineFit
from daq.rated.proportion import Proportion
from daq.report.from_runs import _headline
from daq.verdict.judge import Rule, judge, what_would_decide
from daq.verdict.result import Result
from tests.daq.verdict.builders import evidence_of, output_of
from tui.resulttext import result_lines

RULES: list[Rule] = ["guarded", "simple"]
SEEN = Proportion(line=LineFit(0.0, 0.05, 0.0057, 0.0001, -0.9, 0.01, 0.999, 50))


def far(value: float, *, rule: Rule = "guarded", away: float = 0.46, shape: Proportion = SEEN) -> Result:
    output = output_of(value, 1.4, near=False, nearest_share=away, proportion=shape)
    return judge(output, evidence_of(minimum_v=20.0), rule=rule)


@pytest.mark.parametrize("rule", RULES)
def test_twice_the_limit_from_far_away_is_not_too_close_to_it(rule: Rule) -> None:
    result = far(41.2, rule=rule)
    assert result.verdict == "not_enough_data"
    assert result.conformance_probability is None
    assert result.rated_voltage_V == 41.2
    assert result.standard_uncertainty_V == pytest.approx(1.4)
    assert "46 % away" in result.reasons[0]
    assert "too far from rated speed to judge" in result.reasons[0]
    assert result.reasons[0].endswith("to decide it.")
    said = " ".join(result_lines(result))
    assert "reaches across" not in said
    assert "chance that the output meets it" not in said
    assert "NOT ENOUGH DATA near rated speed" in said
    assert "41.2" in said


def test_what_is_near_the_limit_is_too_close_from_far_away_too_and_what_is_under_it_fails() -> None:
    assert far(20.5).verdict == "too_close"
    assert far(15.0).verdict == "fail"


def test_how_far_is_too_far() -> None:
    assert [far(41.2, away=share).verdict for share in (0.29, 0.31)] == ["pass", "not_enough_data"]
    one_speed = [far(41.2, away=share, shape=Proportion()).verdict for share in (0.11, 0.13)]
    assert one_speed == ["pass", "not_enough_data"]


def test_the_report_says_why_nothing_is_held_against_the_limit() -> None:
    assert "too far from rated speed" in _headline([None], far(41.2))  # type: ignore[list-item] # one run: not looked at
    nothing = replace(far(41.2), rated_voltage_V=None)
    assert "No AC output at rated speed can be stated" in _headline([None], nothing)  # type: ignore[list-item] # the same


def test_a_job_passes_nothing_that_was_reckoned_from_far_away() -> None:
    import numpy as np

    from daq.run.analysis import analyse
    from tests.daq.run.builders import held

    data = held(2400.0, 20.0)

    class Run:
        def analysis(self) -> object:
            return analyse(data)

    assert data.machine is not None
    found = rated_found(Run(), data.machine)  # type: ignore[arg-type] # what it looks at of a recorded run
    assert found.rated_voltage_v is None
    assert "too far from rated speed" in found.reasons[0]
    assert np.isfinite(found.highest_speed_rpm or np.nan)


def moved(begin_v: float, end_v: float) -> Drift:
    return Drift(begin_v, end_v, 0.01, 1.0, None, 0.0, 60.0, (-0.02, 0.0), 0.0)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize(("begin_v", "end_v"), [(22.0, 19.9), (19.9, 22.0)])
def test_an_output_that_moved_across_its_limit_passes_by_no_rule(
    rule: Rule, begin_v: float, end_v: float
) -> None:
    result = judge(output_of(21.0, 0.05, drift=moved(begin_v, end_v)), evidence_of(minimum_v=20.0), rule=rule)
    assert result.verdict == "too_close"
    assert f"from {begin_v:.2f} V at the beginning to {end_v:.2f} V at the end" in result.reasons[0]
    assert ("falls" if begin_v > end_v else "rises") in result.reasons[0]
    assert result.reasons[1].endswith("to decide it.")


def test_an_output_that_moved_above_its_limit_passes_and_under_it_fails() -> None:
    assert judge(output_of(21.0, 0.1, drift=moved(21.4, 20.6)), evidence_of(minimum_v=20.0)).verdict == "pass"
    assert judge(output_of(19.0, 0.1, drift=moved(19.4, 18.6)), evidence_of(minimum_v=20.0)).verdict == "fail"


def test_the_advice_for_what_moves_is_to_wait() -> None:
    said = what_would_decide(output_of(20.1, 0.5, drift=moved(20.5, 20.0)), 20.0)
    assert said == "Let it run until the volts hold still, and measure there, to decide it."
