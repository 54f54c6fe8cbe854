"""One run has one ±: what the job says of a recorded AC output is what ``result`` says of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.job.evidence.recorded_output import rated_found
from daq.job.judging.ac_output import judge_ac_output
from daq.job.words import with_wide
from daq.run.recorded import open_recording
from tests.daq.job.builders import CART, given, rated
from tui.resulttext import result_lines
from tui.view.job_step import reading_words

HEALTHY = Path(__file__).parents[4] / "recordings" / "healthy-sweep.jsonl"
UNKNOWN = "The tach's accuracy is unknown, so the uncertainty holds nothing of it."


def test_the_job_states_the_same_figure_as_the_result() -> None:
    run = open_recording(HEALTHY, machine=CART)
    found, result = rated_found(run, CART), run.result()
    assert found.wide_v == pytest.approx(result.expanded_uncertainty_V)
    assert result.coverage_factor is not None
    assert found.wide_v < 1.8 * found.u_rated_voltage_v, "else this run could not tell k from 2"
    assert "Rated output: 27.58 V ± 0.13 V at 3600 rpm, unloaded (95 % coverage, k = 1.68)." in result_lines(
        result
    )
    assert found.full_words == "27.58 ± 0.13 V (k = 1.68)"
    reading = rated(found.rated_voltage_v, found.u_rated_voltage_v, coverage_factor=found.coverage_factor)
    (line, *_) = judge_ac_output(given(reading)).lines
    assert line.reading == "27.58 ± 0.13 V (k = 1.68)"
    assert line.sentence.startswith("27.58 ± 0.13 V: ")
    assert reading_words(reading) == "27.58 ± 0.13 V (k = 1.68) at 3600 rpm"


def test_what_was_typed_keeps_twice_its_standard_uncertainty() -> None:
    (line, *_) = judge_ac_output(given(rated(27.58, 0.075))).lines
    assert line.reading == "27.58 ± 0.15 V"


def test_a_lower_bound_is_called_one() -> None:
    reading = rated(27.58, 0.075, coverage_factor=1.7, reasons=(UNKNOWN,))
    judgement = judge_ac_output(given(reading))
    assert judgement.lines[0].reading == "27.58 ± 0.13 V at least (k = 1.70)"
    assert judgement.lines[0].sentence.startswith("27.58 ± 0.13 V at least: ")
    assert judgement.findings[-1].text.startswith("27.58 ± 0.13 V at least, AC at rated speed")


@pytest.mark.parametrize(
    ("wide", "words"),
    [
        (0.1285, "27.58 ± 0.13 V"),
        (0.0996, "27.58 ± 0.10 V"),
        (0.31, "27.58 ± 0.31 V"),
        (3.14, "27.6 ± 3.1 V"),
    ],
)
def test_an_uncertainty_has_two_digits(wide: float, words: str) -> None:
    assert with_wide(27.58, wide, "V") == words
