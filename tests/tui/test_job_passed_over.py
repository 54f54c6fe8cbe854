"""Readings that a test could do without: told once it is done, and asked for again when all else is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from daq.job.job import Job
from tests.daq.job.whole_job import STEPS, start_job
from tui.jobtext import judged_lines, next_lines


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
