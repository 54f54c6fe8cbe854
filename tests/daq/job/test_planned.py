"""Recordings made for a planned reading, taken into the job; a test cut short comes again."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.job.evidence.trouble import TroubleKind
from daq.job.job import Job
from daq.job.plan import plan_recording
from daq.job.summary_answer import answer_of
from daq.model.quantity import Quantity
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.whole_job import STEPS, start_job


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return start_job(tmp_path)


def test_a_test_that_was_cut_short_is_done_again_at_the_end(job: Job, tmp_path: Path) -> None:
    bench = BenchJob(tmp_path / "engine")
    (tmp_path / "engine").mkdir()
    path = bench.record(Quantity.AC_VOLTAGE, "stator", "work", 13.0, stop_at_s=3.0)
    assert job.attach_recording("ac_output", path).state == "cut_short"
    for step in STEPS:
        if step != "ac_output":
            job.skip(step, "for another day")
    status = job.status()
    assert status.next_step is not None
    assert status.next_step.name == "ac_output"
    plan = plan_recording(status.step("ac_output"), {Quantity.AC_VOLTAGE})
    assert [slot.name for slot in plan.slots] == ["output"]
    again = job.take_planned(plan, bench.record(Quantity.AC_VOLTAGE, "stator", "work", 8.0))
    assert again.state == "pass"
    assert job.status().next_step is None


def test_a_planned_recording_that_holds_none_of_it_is_kept_with_the_reason(job: Job, tmp_path: Path) -> None:
    bench = BenchJob(tmp_path)
    plan = plan_recording(job.status().step("charging"), {Quantity.DC_CURRENT}, None)
    assert [slot.name for slot in plan.slots] == ["voltage_work"]
    wrong = bench.record(Quantity.DC_CURRENT, "battery_current", "work", 5.0)
    observed = job.take_planned(plan, wrong).observed
    assert [each.slot for each in observed] == ["voltage_work"]
    assert observed[0].troubles[0].kind is TroubleKind.WRONG_FUNCTION


def test_a_planned_recording_gives_what_it_holds_and_the_speed(job: Job, tmp_path: Path) -> None:
    bench = BenchJob(tmp_path)
    plan = plan_recording(job.status().step("charging"), {Quantity.DC_VOLTAGE})
    status = job.take_planned(plan, bench.record(Quantity.DC_VOLTAGE, "battery", "work", 5.0))
    # It never idled: that is still to be read, and no trouble.
    assert {each.slot for each in status.observed} == {"voltage_work", "governed_speed"}
    assert all(not each.troubles for each in status.observed)


def test_what_was_never_tested_is_no_part_of_a_repairs_proof(job: Job) -> None:
    job.type_reading("ac_output", "output", "16.6 3600")
    job.type_reading("charging", "current_work", "-2.00")
    job.repaired("new flywheel")
    assert answer_of(job.status()).proven == "open"
    assert "Winding" not in answer_of(job.status()).proven_sentence
    job.type_reading("ac_output", "output", "27.6 3600")
    for slot, text in (
        ("current_work", "3.00"),
        ("current_idle", "-3.00"),
        ("voltage_work", "13.9"),
        ("governed_speed", "3600"),
    ):
        job.type_reading("charging", slot, text)
    answer = answer_of(job.status())
    assert (answer.proven, answer.complete) == ("yes", False)
