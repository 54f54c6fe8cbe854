"""What Enter and the other keys of the job screen do at its rarer moments; the job file is a real one."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from textual.pilot import Pilot

from daq.catalog import machine_card
from daq.errors import JobError
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.job import Job
from daq.job.streams.stopping import STOP_CAUSES, EngineStop
from daq.model.clock import ManualClock
from tests.tui.screen_text import screen_name, screen_text, shown_screen, wait_until
from tests.tui.test_job_screen import SAMPLES
from tests.tui.test_job_view import finished, weak, words
from tui.dashboard.app import Dashboard
from tui.dashboard.job_screen import JobScreen
from tui.view.job import job_view
from tui.view.job_step import step_sections


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Job:
    monkeypatch.setenv("SPINVOLT_CONFIG", str(tmp_path / "config"))
    return Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), ManualClock())


def leave_beside(job: Job, name: str) -> Path:
    """A recording beside the job file."""
    path = job.path.with_name(name)
    shutil.copy(SAMPLES / "weak-magnets-hunting.jsonl", path)
    return path


async def test_after_the_tests_enter_asks_what_was_repaired(job: Job) -> None:
    async with shown_screen(JobScreen(finished(job)), (120, 40)) as (app, pilot):
        assert "When it is repaired: Enter, and say what was done." in screen_text(app)
        await pilot.press("enter")
        leading = job.status().diagnosis.leading
        assert leading is not None
        assert leading.remedy[:40] in " ".join(screen_text(app).split())
        await pilot.press(*"new rotor", "enter")
        await pilot.pause()
        assert "Enter, then type" in screen_text(app)
    assert [each.text for each in Job.open(job.path, ManualClock()).status().state.repairs] == ["new rotor"]


async def test_when_all_is_done_enter_writes_the_report(job: Job) -> None:
    for each in job.status().steps:
        if each.state != "does_not_apply" and each.step.slot:
            job.skip(each.step.name, "not today")
    async with shown_screen(JobScreen(job), (120, 40)) as (app, pilot):
        await pilot.press("enter")
        await wait_until(app, pilot, "cart.html")
    assert "not today" in job.path.with_suffix(".html").read_text()


async def test_a_left_over_recording_that_is_gone_again_is_passed_over(job: Job) -> None:
    path = leave_beside(job, "cart-ac_output-output.jsonl")
    async with shown_screen(JobScreen(job)) as (app, pilot):
        assert "Enter takes in cart-ac_output-output.jsonl" in screen_text(app)
        path.unlink()
        await pilot.press("enter")
        await wait_until(app, pilot, "Enter, then type battery volts at rest.")


async def test_a_recording_of_a_reading_that_is_not_the_next_is_taken_in_as_that_reading(job: Job) -> None:
    leave_beside(job, "cart-charging-voltage_work.jsonl")
    job.type_reading("charging", "voltage_idle", "12.9")
    job.type_reading("charging", "voltage_work", "13.9")
    async with shown_screen(JobScreen(job)) as (app, pilot):
        await pilot.press("enter")
        await wait_until(app, pilot, "Enter, then type")
    taken = {each.slot: each for each in Job.open(job.path, ManualClock()).status().step("charging").observed}
    assert taken["voltage_work"].origin != taken["voltage_idle"].origin, (
        "the recording replaced what was typed"
    )


async def test_what_a_person_counts_is_never_taken_from_a_file(job: Job) -> None:
    leave_beside(job, "cart-wiggle-wiggle_count.jsonl")
    async with shown_screen(JobScreen(job)) as (app, pilot):
        assert "takes in" not in screen_text(app)
        await pilot.press("enter")
        await wait_until(app, pilot, "Type battery volts at rest")


async def test_a_job_file_that_was_replaced_by_nonsense_ends_the_screen_with_its_sentence(job: Job) -> None:
    async with shown_screen(JobScreen(job), (120, 40)) as (app, pilot):
        job.path.write_text("no job at all\n")  # noqa: ASYNC240 - a line
        await pilot.press("n", *"flat twice", "enter")
        await pilot.pause()
        assert not app.is_running
    assert isinstance(app.failure, JobError)


async def choose_keyboard(app: Dashboard, pilot: Pilot[None]) -> None:
    """Go down to the last place, past whatever ports this computer has."""
    await wait_until(app, pilot, "keyboard")
    for _ in range(200):
        if "Enter takes the keyboard" in screen_text(app):
            return
        await pilot.press("down")
        await pilot.pause(0.05)
    pytest.fail(f"the keyboard was not reached; the screen is:\n{screen_text(app)}")


async def test_the_instruments_are_chosen_on_a_screen_of_their_own(job: Job) -> None:
    async with shown_screen(JobScreen(job), (120, 40)) as (app, pilot):
        await pilot.press("c")
        await choose_keyboard(app, pilot)
        assert screen_name(app) == "connect"
        await pilot.press("escape")
        await wait_until(app, pilot, "0 of 9 tests done")
        await pilot.press("c")
        await choose_keyboard(app, pilot)
        await pilot.press("enter")
        await wait_until(app, pilot, "Enter goes back with them: keyboard-pair.")
        await pilot.press("enter")
        await wait_until(app, pilot, "Enter, then type battery volts at rest.")


async def test_the_findings_are_read_on_where_they_are_longer_than_the_screen(job: Job) -> None:
    async with shown_screen(JobScreen(weak(job))) as (app, pilot):
        await pilot.press("t")
        await pilot.pause()
        first = screen_text(app)
        assert "more rows below" in first
        assert "Leading faults" in first
        await pilot.press("pagedown")
        await pilot.pause()
        assert "Leading faults" not in screen_text(app)


async def test_a_click_below_the_last_test_chooses_nothing(job: Job) -> None:
    async with shown_screen(JobScreen(job), (120, 40)) as (app, pilot):
        before = screen_text(app)
        await pilot.click("#steps", offset=(3, 25))
        await pilot.pause()
        assert screen_text(app) == before


def test_a_reading_over_range_and_a_count_are_told_in_words(job: Job) -> None:
    job.type_reading("winding_to_ground", "ground_resistance", "OL")
    job.type_reading("wiggle", "wiggle_count", "3")
    status = job.status()
    assert ": over range" in words(job_view(status, (), "winding_to_ground").step)
    assert ": 3 times" in words(job_view(status, (), "wiggle").step)


def test_a_recording_without_the_reading_is_told_with_its_trouble(job: Job) -> None:
    path = leave_beside(job, "any.jsonl")
    job.attach_recording("battery_rest", path, ["rest_voltage"])
    told = words(job_view(job.status(), (), "battery_rest").step)
    assert "? battery volts at rest: no reading" in told
    assert "? " in told.split("What it says", 1)[1].split("Readings", 1)[0]


def test_an_engine_that_stopped_by_itself_is_told_with_its_usual_causes(job: Job) -> None:
    job.type_reading("ac_output", "output", "24.6 3590")
    status = job.status()
    each = status.step("ac_output")
    stopped = msgspec.structs.replace(
        each.observed[0],
        stop=EngineStop(8.5, 3590.0),
        troubles=(Trouble(TroubleKind.CUT_SHORT, "The engine stopped by itself at 8.5 s, from 3590 rpm."),),
        notes=("Left out: 3 readings.",),
    )
    cut = replace(each, state="cut_short", judgement=None, observed=(stopped,))
    told = words(step_sections(status, cut, job_view(status, (), "ac_output").next))
    assert "? The engine stopped by itself at 8.5 s, from 3590 rpm." in told
    assert "Left out: 3 readings." in told
    assert all(f"! {cause.cause}: " in told for cause in STOP_CAUSES)
    untroubled = replace(each, observed=(msgspec.structs.replace(stopped, troubles=()),))
    assert "Usual causes" not in words(step_sections(status, untroubled, job_view(status, ()).next))
