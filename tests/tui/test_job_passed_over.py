"""Readings that a test could do without: told once it is done, and asked for again when all else is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec

from daq.job.job import Job
from daq.job.summary import summarise
from daq.model.clock import ManualClock
from daq.report.from_job import job_page
from tests.daq.job.test_sample_jobs import JOBS
from tests.daq.job.whole_job import STEPS, start_job
from tests.daq.report.conftest import NOON
from tui.jobtext import judged_lines, next_lines, summary_lines
from tui.view.job import job_view


def type_winding(job: Job) -> None:
    job.type_reading("winding_resistance", "lead_resistance", "0.02")
    job.type_reading("winding_resistance", "winding_resistance", "0.27")


def test_what_was_passed_over_is_told_with_the_way_to_add_it(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    job.type_reading("winding_resistance", "lead_resistance", "0.02")
    assert job.status().step("winding_resistance").passed_over == ()  # it is not done yet
    job.type_reading("winding_resistance", "winding_resistance", "0.27")
    step = job.status().step("winding_resistance")
    assert [slot.name for slot in step.passed_over] == ["winding_temperature"]
    assert (
        "  passed over: winding_temperature; to add it later: job next FILE --step winding_resistance NAME=VALUE"
        in judged_lines(step)
    )
    job.type_reading("winding_resistance", "winding_temperature", "20")
    assert job.status().step("winding_resistance").passed_over == ()


def test_a_test_that_was_cut_short_is_done_again_as_a_whole(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    type_winding(job)
    step = job.status().step("winding_resistance")
    assert replace(step, state="cut_short").passed_over == ()


def test_it_is_asked_for_once_more_when_all_else_is_done(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    type_winding(job)
    asked = "  temperature of the winding: spinvolt job next j --step winding_resistance winding_temperature=VALUE"
    assert asked not in next_lines(job.status(), "j")
    for name in STEPS:
        if name != "winding_resistance":
            job.skip(name, "not today")
    said = list(next_lines(job.status(), "j"))
    assert said[:2] == ["Passed over so far, each may still be taken:", asked]
    job.type_reading("winding_resistance", "winding_temperature", "20")
    assert not any("Passed over" in line for line in next_lines(job.status(), "j"))


def test_it_stands_in_the_report_on_the_page_and_on_the_screen(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    type_winding(job)
    summary = summarise(job.status(), NOON)
    said = list(summary_lines(summary))
    assert "  passed over: temperature of the winding" in said
    test = next(each for each in job_page(job, NOON).tests if each.title.startswith("Winding resistance"))
    assert "Passed over, and can still be taken: temperature of the winding." in test.notes
    found = job_view(job.status(), set()).found
    assert found[-1].title == "Passed over, can still be taken"
    assert [each.text for each in found[-1].sentences] == ["Winding resistance: temperature of the winding"]


def test_rows_that_were_kept_out_are_told_where_the_run_is() -> None:
    job = Job.open(JOBS / "too-many-loads" / "job.jsonl", ManualClock())
    kept_out = "1 row was kept out: resting on false tach readings."
    assert f"  {kept_out}" in list(summary_lines(summarise(job.status(), NOON)))
    shown = job_view(job.status(), set(), chosen="ac_output").step
    assert kept_out in [sentence.text for section in shown for sentence in section.sentences]
    test = next(each for each in job_page(job, NOON).tests if each.title.startswith("AC output"))
    assert kept_out in test.reasons
    assert not any("meets the limit" in reason for reason in test.reasons), "the verdict is told above"


def test_notes_that_repeat_are_counted_in_the_text(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    type_winding(job)
    summary = summarise(job.status(), NOON)
    (winding,) = [test for test in summary.tests if test.name == "winding_resistance"]
    reading = msgspec.structs.replace(winding.readings[0], notes=("A gap of 2.0 s.", "A gap of 2.0 s."))
    test = msgspec.structs.replace(winding, readings=(reading, reading))
    said = list(summary_lines(msgspec.structs.replace(summary, tests=(test,))))
    assert [line for line in said if "A gap" in line] == ["  A gap of 2.0 s. (4 times)"]
