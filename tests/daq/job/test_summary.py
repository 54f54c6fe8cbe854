"""The summary is whole, plain, and can be written as JSON."""

from __future__ import annotations

import hashlib
from pathlib import Path

import msgspec

from daq.catalog import machine_card
from daq.job.file.recordings import RecordingShelf
from daq.job.summary import JobSummary, summarise
from daq.job.summary_answer import answer_of
from daq.model.clock import ManualClock
from tests.daq.job.conftest import DoneJobs
from tests.daq.job.whole_job import start_job


def test_a_summary_goes_to_json_and_back(done_jobs: DoneJobs) -> None:
    summary = summarise(done_jobs["shorted_turns"].status, ManualClock().utc())
    assert msgspec.json.decode(msgspec.json.encode(summary), type=JobSummary) == summary


def test_everything_a_report_needs_is_there(done_jobs: DoneJobs) -> None:
    done = done_jobs["shorted_turns"]
    summary = summarise(done.status, ManualClock().utc())
    assert summary.answer.headline == "It does not carry its loads; likeliest fault: shorted turns."
    assert summary.answer.fault == "shorted_turns"
    assert summary.machine_title.startswith("Sprayer cart")
    assert all(fact.source for fact in summary.machine)
    assert [test.name for test in summary.tests] == [
        each.step.name for each in done.status.steps if each.judgement
    ]
    assert all(line.sentence for test in summary.tests for line in test.lines)
    assert summary.not_tested == ()
    assert summary.faults[0].supports
    assert summary.budget[0].startswith("At work speed it loses")
    assert {each.measured for each in summary.instruments} >= {"ac voltage", "resistance", "rotational speed"}
    assert summary.cautions[0].startswith("The machine's service manual")
    assert any("no test of its insulation" in each for each in summary.method)
    assert any("JCGM 106" in each for each in summary.sources)
    assert summary.open_points == ()


def test_recordings_come_with_digests_that_hold(done_jobs: DoneJobs) -> None:
    done = done_jobs["shorted_turns"]
    shelf = RecordingShelf(done.job.path)
    summary = summarise(done.status, ManualClock().utc())
    assert len(summary.recordings) == len({each.path for each in summary.recordings}) == 17
    for each in summary.recordings:
        data = shelf.path_of(each.path).read_bytes()
        assert each.digest == "sha256:" + hashlib.sha256(data).hexdigest()


def test_what_the_card_leaves_open_is_said(done_jobs: DoneJobs) -> None:
    state = done_jobs["healthy"].status
    assert summarise(state, ManualClock().utc()).open_points == ()


def test_without_a_duty_the_answer_is_for_work_alone(tmp_path: Path) -> None:
    card = msgspec.structs.replace(machine_card("nursery-sprayer"), duty=None)
    job = start_job(tmp_path, card=card)
    job.type_reading("loads", "load_current", "6.1")
    job.type_reading("charging", "current_work", "3.1")
    assert answer_of(job.status()).headline.startswith("It carries its loads at work speed; ")
