"""A job: stopped at any point, picked up with another meter, edited by hand into nonsense, repaired, proven."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from daq.cards.instrument import parse_instrument_card
from daq.errors import JobError, UsageError
from daq.job.comparison import compare_rounds, compare_runs
from daq.job.evidence.trouble import TroubleKind
from daq.job.job import Job
from daq.job.sheet.steps import AFTER_REPAIR
from daq.job.summary import summarise
from daq.model.clock import ManualClock
from daq.run.recorded import open_recording
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.conftest import DoneJobs
from tests.daq.job.whole_job import STEPS, do_step, start_job

OTHER_METER = """
name = "other-meter"
title = "another meter"
protocol = "keyboard"
[[channel]]
quantity = "dc_voltage"
accuracy = { percent_of_reading = 0.05, counts = 1 }
"""


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return start_job(tmp_path)


def copied(job: Job, folder: Path) -> Job:
    """The same job with its recordings in another folder."""
    shutil.copytree(job.path.parent, folder)
    return Job.open(folder / job.path.name, ManualClock())


def typed(job: Job, step: str, **readings: str) -> None:
    for slot, text in readings.items():
        job.type_reading(step, slot, text)


def test_a_new_job_begins_with_the_first_test(job: Job) -> None:
    status = job.status()
    assert status.next_step is not None
    assert status.next_step.name == "battery_rest"
    assert {each.state for each in status.steps} == {"open", "does_not_apply"}
    answer = summarise(status, ManualClock().utc()).answer
    assert answer.fault_sentence == "Nothing was tested yet."
    assert not answer.complete


def test_typed_readings_are_judged_and_the_next_test_is_told(job: Job) -> None:
    job.type_reading("battery_rest", "rest_voltage", "12.61 V")
    status = job.status()
    assert status.step("battery_rest").state == "pass"
    assert status.next_step is not None
    assert status.next_step.name == "loads"
    job.type_reading("loads", "load_current", "6.1")
    assert job.status().step("loads").state == "partial"
    assert [slot.name for slot in job.status().step("loads").missing] == ["loaded_voltage"]
    assert job.status().next_reason == "It is begun and not finished."


def test_stopped_at_any_point_it_is_picked_up_with_all_that_was_done(
    done_jobs: DoneJobs, tmp_path: Path
) -> None:
    done = done_jobs["weak_magnets"].job
    lines = done.path.read_bytes().splitlines(keepends=True)
    folder = tmp_path / "job"
    shutil.copytree(done.path.parent, folder)
    path = folder / "job.jsonl"
    for count in range(2, len(lines) + 1, 3):
        path.write_bytes(b"".join(lines[:count]))
        status = Job.open(path, ManualClock()).status()
        kept = sum(len(round_.readings) + len(round_.earlier) for round_ in status.state.rounds)
        assert kept == sum(b'"entry":"reading"' in line for line in lines[:count])
        assert status.troubles == ()
    assert status.diagnosis.leading is not None
    assert status.diagnosis.leading.name == "weak_magnets"


def test_picked_up_days_later_with_another_meter(job: Job) -> None:
    typed(job, "battery_rest", rest_voltage="12.61")
    clock = ManualClock()
    clock.advance(5 * 86_400)
    again = Job.open(job.path, clock)
    meter = parse_instrument_card(OTHER_METER, origin="x")
    again.type_reading("battery_rest", "rest_voltage", "12.598", meter)
    kept = again.status().state.current
    assert kept.readings["rest_voltage"].observed.value == 12.598
    assert kept.readings["rest_voltage"].instrument == "other-meter"
    assert [each.observed.value for each in kept.earlier] == [12.61]
    summary = summarise(again.status(), clock.utc())
    assert any(each.name == "other-meter" and "0.05 %" in each.accuracy for each in summary.instruments)
    assert summary.made_utc.startswith("2026-01-06")


def test_a_test_is_skipped_with_a_reason_only(job: Job) -> None:
    with pytest.raises(UsageError, match="with a reason only"):
        job.skip("wiggle", "  ")
    job.skip("wiggle", "plug can't be reached")
    assert job.status().step("wiggle").state == "skipped"
    left_out = summarise(job.status(), ManualClock().utc()).not_tested
    assert any(each.title == "Wiggle test" and "plug can't be reached" in each.reason for each in left_out)
    typed(job, "wiggle", wiggle_count="0")
    assert job.status().step("wiggle").state == "pass"


def test_a_reading_in_the_wrong_test_is_refused_with_the_right_one(job: Job) -> None:
    with pytest.raises(UsageError, match="belongs to the test battery_rest"):
        job.type_reading("charging", "rest_voltage", "12.6")
    with pytest.raises(UsageError, match="has no reading 'volts'"):
        job.type_reading("charging", "volts", "12.6")
    with pytest.raises(UsageError, match="There is no test 'gremlins'"):
        job.skip("gremlins", "why not")


def test_what_can_not_be_true_is_kept_named_and_not_judged(job: Job) -> None:
    status = job.type_reading("battery_rest", "rest_voltage", "40")
    assert status.state == "not_judged"
    assert "at a 12 V battery can't be true" in status.judgement.lines[0].sentence  # type: ignore[union-attr]  # judged: it has a reading
    assert Job.open(job.path, ManualClock()).status().step("battery_rest").observed[0].value == 40.0
    leading = job.status().diagnosis.leading
    assert leading is not None
    assert leading.name == "instrument_error"
    (why,) = leading.supports
    assert why.startswith("40 V for battery volts at rest at a 12 V battery can't be true: check the dial")
    assert why.count("can't be true") == 1


def test_a_recording_that_fits_nowhere_is_kept_with_its_trouble(job: Job, done_jobs: DoneJobs) -> None:
    amps = next(done_jobs["healthy"].job.path.parent.glob("*-rectifier_current-dc_current.jsonl"))
    status = job.attach_recording("battery_rest", amps)
    assert status.state == "not_judged"
    assert status.observed[0].troubles[0].kind is TroubleKind.WRONG_FUNCTION


def test_which_reading_a_recording_is_for_is_asked_where_it_can_not_be_told(
    job: Job, done_jobs: DoneJobs
) -> None:
    ohms = next(done_jobs["healthy"].job.path.parent.glob("*-shorted-resistance.jsonl"))
    with pytest.raises(UsageError, match="could be lead_resistance or winding_resistance"):
        job.attach_recording("winding_resistance", ohms)
    assert job.status().step("winding_resistance").state == "open"


def edit(path: Path, change: Callable[[dict[str, Any]], None], *, slot: str) -> None:
    """Change the line of a slot's reading as a hand would."""
    lines = path.read_text().splitlines()
    for i, line in enumerate(lines):
        entry = json.loads(line)
        if entry.get("slot") == slot:
            change(entry)
            lines[i] = json.dumps(entry)
    path.write_text("\n".join(lines) + "\n")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda e: e.update(step="charging"), "where it does not belong"),
        (lambda e: e.update(step="gremlins"), "names a test that there isn't"),
        (lambda e: e.update(round=7), "is for round 7, but only 0 repairs came before it"),
        (lambda e: e.update(utc="yesterday"), "has a time that can't be"),
        (lambda e: e.update(typed="14.2"), "was changed by hand"),
        (lambda e: e["observed"].update(value=14.2), "was changed by hand"),
        (lambda e: e["observed"].update(quantity="resistance"), "another kind"),
        (lambda e: e["observed"].update(scatter_u=-1.0), "can't be under 0"),
        (lambda e: e["observed"].update(value="lots"), "can't be understood"),
        (lambda e: e.update(typed=None), "neither what was typed nor which recording"),
        (lambda e: e.update(slot="gremlin"), "where it does not belong"),
    ],
)
def test_hand_edited_nonsense_is_named_kept_and_not_judged(
    change: Callable[[dict[str, Any]], None], said: str, job: Job
) -> None:
    typed(job, "battery_rest", rest_voltage="12.61")
    edit(job.path, change, slot="rest_voltage")
    before = job.path.read_bytes()
    status = Job.open(job.path, ManualClock()).status()
    assert any(said in trouble and "not judged" in trouble for trouble in status.troubles)
    assert status.step("battery_rest").state == "open"
    assert job.path.read_bytes() == before


def test_a_verdict_changed_by_hand_is_told_and_the_readings_count(job: Job) -> None:
    typed(job, "battery_rest", rest_voltage="11.70")
    job.path.write_text(job.path.read_text().replace('"verdict":"fail"', '"verdict":"pass"'))
    status = Job.open(job.path, ManualClock()).status()
    assert status.step("battery_rest").state == "fail"
    assert any("says 'pass' for battery rest; its readings say 'fail'" in each for each in status.troubles)


def test_a_machine_card_edited_into_nonsense_ends_in_a_sentence(job: Job) -> None:
    job.path.write_text(job.path.read_text().replace('"rated_speed_rpm":3600.0', '"rated_speed_rpm":-1'))
    with pytest.raises(JobError, match="no machine card that can be used"):
        Job.open(job.path, ManualClock())


def test_a_recording_that_is_gone_leaves_the_reading_and_a_changed_one_does_not(
    done_jobs: DoneJobs, tmp_path: Path
) -> None:
    job = copied(done_jobs["healthy"].job, tmp_path / "job")
    rest = next(job.path.parent.glob("01-battery-*.jsonl"))
    amps = next(job.path.parent.glob("*-rectifier_current-*.jsonl"))
    rest.unlink()
    amps.write_bytes(amps.read_bytes().replace(b"[0,", b"[0, ", 1))
    status = Job.open(job.path, ManualClock()).status()
    assert status.step("battery_rest").state == "pass"
    assert any("is not there" in note for note in status.step("battery_rest").observed[0].notes)
    output = status.step("rectifier_output")
    assert output.state == "not_judged"
    assert output.observed[0].troubles[0].kind is TroubleKind.RECORDING_CHANGED


def test_a_value_changed_by_hand_yields_to_its_recording(done_jobs: DoneJobs, tmp_path: Path) -> None:
    job = copied(done_jobs["healthy"].job, tmp_path / "job")
    edit(job.path, lambda e: e["observed"].update(value=99.0), slot="load_current")
    found = Job.open(job.path, ManualClock()).status().step("loads").observed[0]
    assert found.value == pytest.approx(5.8, abs=0.3)
    assert any("held another value" in note for note in found.notes)


def test_a_job_file_that_points_at_a_device_does_not_hang(done_jobs: DoneJobs, tmp_path: Path) -> None:
    job = copied(done_jobs["healthy"].job, tmp_path / "job")
    edit(job.path, lambda e: e["recording"].update(path="/dev/zero"), slot="load_current")
    notes = Job.open(job.path, ManualClock()).status().step("loads").observed[0].notes
    assert any("is not there" in note for note in notes)


def test_found_repaired_and_proven(done_jobs: DoneJobs, tmp_path: Path) -> None:
    """An intermittent joint: found, remade, and every test that failed passes."""
    done = done_jobs["intermittent_joint"]
    job = copied(done.job, tmp_path / "job")
    before = job.status()
    assert before.diagnosis.leading is not None
    assert before.next_step is not None
    assert before.next_step.name == AFTER_REPAIR
    job.repaired("stator connector cleaned and crimped anew")
    due = {each.step.name for each in job.status().steps if each.open}
    assert {"charging", "ac_output", "wiggle", AFTER_REPAIR} <= due
    assert "winding_to_ground" not in due
    bench = BenchJob(job.path.parent / "after", "healthy", seed=11)
    bench.folder.mkdir()
    for name in STEPS:
        if name in due:
            do_step(name, job, bench)
    status = job.status()
    assert status.step(AFTER_REPAIR).state == "pass"
    assert status.diagnosis.leading is None
    summary = summarise(status, ManualClock().utc())
    assert summary.answer.proven == "yes"
    assert summary.answer.headline.startswith("The repair is proven")
    assert [each.text for each in summary.repairs] == ["stator connector cleaned and crimped anew"]
    changes = {change.slot: change for change in compare_rounds(status.before, status.steps)}
    assert changes["wiggle_watch"].significant
    assert changes["wiggle_watch"].limit_now_met
    assert changes["output"].verdict_before == "fail"
    assert {test.name for test in summary.tests_before} >= {"wiggle", "ac_output"}


def test_a_repair_that_did_not_help_is_not_proven(job: Job) -> None:
    typed(job, "ac_output", output="15.0 3600")
    job.repaired("cleaned the connector")
    assert job.status().step(AFTER_REPAIR).state == "open"
    typed(job, "ac_output", output="15.1 3600")
    typed(
        job, "charging", governed_speed="3600", voltage_work="12.4", current_work="-3.0", current_idle="-6.0"
    )
    job.skip("battery_rest", "done before")
    for name in (
        "loads",
        "winding_resistance",
        "wiggle",
        "winding_to_ground",
        "rectifier_output",
        "wiring_drop",
    ):
        job.skip(name, "not needed")
    status = job.status()
    assert status.step(AFTER_REPAIR).state == "fail"
    summary = summarise(status, ManualClock().utc())
    assert summary.answer.proven == "no"
    (change,) = [each for each in summary.changes if each.slot == "output"]
    assert change.significant is False
    assert not change.limit_now_met


def test_what_failed_and_is_left_out_after_the_repair_is_neither_proven_nor_forgotten(job: Job) -> None:
    def repeat() -> None:
        typed(job, "ac_output", output="27.6 3600")
        typed(
            job,
            "charging",
            governed_speed="3600",
            voltage_work="14.2",
            current_work="4.1",
            current_idle="-1.0",
        )

    typed(job, "wiggle", wiggle_count="3")
    assert job.status().step("wiggle").state == "fail"
    job.repaired("joint soldered")
    repeat()
    job.skip("wiggle", "can't reach it")
    status = job.status()
    assert status.step(AFTER_REPAIR).state == "not_judged"
    answer = summarise(status, ManualClock().utc()).answer
    assert "Wiggle test failed before it and was left out since" in answer.proven_sentence
    assert "may still be there" in answer.headline
    assert "no fault was found" not in answer.headline
    job.repaired("joint soldered again")
    assert job.status().step("wiggle").open


def test_two_runs_before_and_after(done_jobs: DoneJobs) -> None:
    def run(fault: str) -> Path:
        return next(done_jobs[fault].job.path.parent.glob("*-stator-ac_voltage.jsonl"))

    weak, sound = (
        open_recording(run(fault), machine=done_jobs["healthy"].job.machine)
        for fault in ("weak_magnets", "healthy")
    )
    found = compare_runs(weak, sound)
    assert found.change.significant
    assert found.limit_now_met is True
    assert "it was not before" in found.sentence
    assert compare_runs(sound, weak).limit_now_met is False
    same = compare_runs(sound, sound)
    assert same.change.significant is False
    assert "as it was before" in same.sentence


def test_the_engine_stopping_is_kept_as_cut_short_with_causes_and_cautions(job: Job) -> None:
    from daq.model.quantity import Quantity

    bench = BenchJob(job.path.parent)
    path = bench.record(Quantity.AC_VOLTAGE, "stator", "hold", 16.0, stop_at_s=8.0)
    status = job.attach_recording("ac_output", path)
    assert status.state == "cut_short"
    summary = summarise(job.status(), ManualClock().utc())
    (test,) = summary.tests
    assert test.state == "cut_short"
    assert [cause.split(":")[0] for cause in test.stop_causes] == [
        "Fuel",
        "Low-oil cut-out",
        "Stop lead touching ground",
        "Governor or throttle linkage",
    ]


def test_notes_are_kept(job: Job) -> None:
    job.note("rust on the flywheel", "ac_output")
    job.note("second visit")
    assert summarise(job.status(), ManualClock().utc()).notes == (
        "ac_output: rust on the flywheel",
        "second visit",
    )


@pytest.mark.parametrize("key", ["rated_voltage_v", "rated"])
def test_a_typed_ac_output_changed_by_hand_is_named(key: str, job: Job) -> None:
    typed(job, "ac_output", output="15.0 3600")

    def change(entry: dict[str, Any]) -> None:
        if key == "rated":
            entry["observed"]["rated"] = None
        else:
            entry["observed"]["rated"][key] = 25.0

    edit(job.path, change, slot="output")
    status = Job.open(job.path, ManualClock()).status()
    assert any("was changed by hand" in trouble for trouble in status.troubles)
    assert status.step("ac_output").state == "open"
