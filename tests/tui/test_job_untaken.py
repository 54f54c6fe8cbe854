"""`spinvolt job next -i ...` where something fails after the recording began: what lies where, and what to do next."""

from __future__ import annotations

import contextlib
import fcntl
import os
import shlex
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Callable
from io import FileIO
from pathlib import Path

import pytest

from daq.errors import OutputError, RecordingError, SpinvoltError
from daq.job.job import Job
from daq.job.plan import RecordingPlan, plan_recording
from daq.model.clock import ManualClock
from daq.model.quantity import Quantity
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.file.test_no_room import no_file_larger
from tests.daq.job.whole_job import start_job
from tests.faults.rig import counted, wait_until
from tests.tui.program import Ran, interrupt, spinvolt_here, start
from tests.tui.test_terminal import descendants
from tests.tui.text_meter import text_meter
from tui.jobleft import with_what_is_left

NAME = "job-ac_output-output.jsonl"
COMMAND = "spinvolt job next job.jsonl --step ac_output output=job-ac_output-output.jsonl"

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="ends and stops one process alone"
)


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return start_job(tmp_path)


def recorded(folder: Path, then: Callable[[subprocess.Popen[str], int], None]) -> Ran:
    """Record a reading; ``then`` is called with the program and its capture's id once there are some."""
    with (
        text_meter(b"AC 27.50 V") as address,
        start(
            *("job", "next", "job.jsonl", "--step", "ac_output", "-i", f"text-volts@{address}"), folder=folder
        ) as process,
    ):
        try:
            assert process.stdout is not None
            while "27.5 V" not in process.stdout.readline():
                assert process.poll() is None, "nothing was recorded"
            then(process, descendants(str(process.pid))[1])
            out, err = process.communicate(timeout=40.0)
        except BaseException:
            process.kill()
            raise
    return Ran(process.returncode, out, " ".join(err.split()), folder)


def killed(process: subprocess.Popen[str], capture: int) -> None:
    path = process_folder(process) / NAME
    wait_until(lambda: counted(path, 0) > 5, "some readings")
    os.kill(capture, signal.SIGKILL)


def interrupted_twice(process: subprocess.Popen[str], capture: int) -> None:
    """The second one comes while the program waits for its capture, which is halted, to close the recording."""
    os.kill(capture, signal.SIGSTOP)
    wait_until(lambda: _halted(capture), "every thread of the capture is halted")
    orders = Path(f"/proc/{capture}/fd/0")
    pipe = orders.readlink()
    with orders.open("rb", buffering=0) as unread:
        before = _waiting_bytes(unread)
        interrupt(process)
        wait_until(lambda: _waiting_bytes(unread) > before, "the capture is asked to close the recording")
    while _holds(process, pipe):  # those that come too soon count as the first
        interrupt(process)
        time.sleep(0.05)
    os.kill(capture, signal.SIGCONT)


def _halted(pid: int) -> bool:
    """Threads halt one after the other, and those of a busy machine not at once: see proc(5) for the letter."""
    states = [
        (task / "stat").read_text().rpartition(") ")[2][0] for task in Path(f"/proc/{pid}/task").iterdir()
    ]
    return set(states) == {"T"}


def _waiting_bytes(pipe: FileIO) -> int:
    """What was written into a pipe and not read."""
    count = fcntl.ioctl(pipe, termios.FIONREAD, bytes(4))
    return int.from_bytes(count, sys.byteorder)


def _holds(process: subprocess.Popen[str], pipe: Path) -> bool:
    """Whether the program has not let go of a pipe: it does where it waits no longer, and at its end."""
    if process.poll() is not None:
        return False
    held = []
    for link in Path(f"/proc/{process.pid}/fd").iterdir():
        with contextlib.suppress(FileNotFoundError):  # closed since it was listed
            held.append(link.readlink())
    return pipe in held


def test_a_capture_that_is_killed_and_the_command_that_takes_in_what_it_left(
    job: Job, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = job.path.parent
    ran = recorded(folder, killed)
    assert ran.status == 1
    assert ran.err == (
        "The part of the program that records was ended from outside (signal 9). What was recorded is in "
        f"{NAME}, and output was not taken from it. Record it again, or take it from that file: {COMMAND}"
    )
    assert Job.open(job.path, ManualClock()).status().step("ac_output").observed == ()
    again = spinvolt_here(*shlex.split(COMMAND)[1:], folder=folder, capsys=capsys)
    assert again.status == 0
    (observed,) = Job.open(job.path, ManualClock()).status().step("ac_output").observed
    assert observed.origin == NAME
    assert observed.readings > 5


def test_interrupted_while_the_recording_is_closed(job: Job) -> None:
    ran = recorded(job.path.parent, interrupted_twice)
    assert ran.status == 1
    assert ran.err == (
        f"Stopped before it was done. What was recorded is in {NAME}, and output was not taken from it. Record it "
        f"again, or take it from that file: {COMMAND}"
    )


def listened_to_no_more(process: subprocess.Popen[str], _: int) -> None:
    assert process.stdout is not None
    process.stdout.close()


def test_nobody_reads_what_is_said_while_it_records(job: Job) -> None:
    ran = recorded(job.path.parent, listened_to_no_more)
    assert ran.status == 1
    assert ran.err == (
        "The output could not be written: nobody reads it any more. What was recorded is in "
        f"{NAME}, and output was not taken from it. Record it again, or take it from that file: {COMMAND}"
    )
    assert b'"close"' in (job.path.parent / NAME).read_bytes().splitlines()[-1]


def emptied_by_another(process: subprocess.Popen[str], _: int) -> None:
    (process_folder(process) / NAME).write_bytes(b"")
    assert process.stdout is not None
    while "goes on in" not in process.stdout.readline():
        assert process.poll() is None, "it did not go on in another file"
    process.send_signal(signal.SIGINT)


def process_folder(process: subprocess.Popen[str]) -> Path:
    return Path(f"/proc/{process.pid}/cwd").resolve()


def test_a_recording_that_something_else_emptied_is_named_with_the_reason(job: Job) -> None:
    ran = recorded(job.path.parent, emptied_by_another)
    assert (ran.status, ran.err) == (0, "")
    assert f"Recording: job-ac_output-output-2.jsonl (something else changed or replaced {NAME})" in ran.out
    (observed,) = Job.open(job.path, ManualClock()).status().step("ac_output").observed
    assert observed.origin == "job-ac_output-output-2.jsonl"


def renamed_by_another(process: subprocess.Popen[str], _: int) -> None:
    folder = process_folder(process)
    (folder / NAME).rename(folder / "cart at noon.jsonl")
    process.send_signal(signal.SIGINT)


def test_a_recording_that_was_renamed_meanwhile_is_taken_in_under_its_new_name(job: Job) -> None:
    ran = recorded(job.path.parent, renamed_by_another)
    assert (ran.status, ran.err) == (0, "")
    (observed,) = Job.open(job.path, ManualClock()).status().step("ac_output").observed
    assert observed.origin == "cart at noon.jsonl"


@pytest.fixture
def plan(job: Job) -> RecordingPlan:
    return plan_recording(job.status().step("battery_rest"), {Quantity.DC_VOLTAGE})


@pytest.fixture
def rest(job: Job) -> Path:
    """A recording of the battery's volts, whose name is two words."""
    made = BenchJob(job.path.parent).record(Quantity.DC_VOLTAGE, "battery", "stopped", 3.0)
    return made.rename(made.with_name("at rest.jsonl"))


def refused(job: Job, plan: RecordingPlan, path: Path, room: int) -> SpinvoltError:
    """What is said where the job file may grow by no more than so many bytes."""
    with no_file_larger(job.path.stat().st_size + room), pytest.raises(OutputError) as told:
        job.take_planned(plan, path)
    return told.value


def test_a_job_file_that_can_not_grow_leaves_the_recording(job: Job, plan: RecordingPlan, rest: Path) -> None:
    said = with_what_is_left(refused(job, plan, rest, 100), job, plan, rest)
    assert isinstance(said, OutputError)
    assert str(said).startswith(
        "The file would be larger than one may be here: the reading rest_voltage was not"
    )
    assert str(said).endswith(
        f"What was recorded is in {rest}, and rest_voltage was not taken from it. Record it again, or take it from "
        f'that file: spinvolt job next {job.path} --step battery_rest rest_voltage="{rest}"'
    )


def test_where_the_reading_was_taken_nothing_else_is_said(job: Job, plan: RecordingPlan, rest: Path) -> None:
    size = job.path.stat().st_size
    job.take_planned(plan, rest)
    lines = job.path.read_bytes()[size:].splitlines(keepends=True)
    os.truncate(job.path, size)
    again = Job.open(job.path, ManualClock())
    error = refused(again, plan, rest, len(lines[0]) + 5)
    assert "the verdict on battery_rest was not added" in str(error)
    assert with_what_is_left(error, again, plan, rest) is error


def test_a_recording_that_can_not_be_read_is_not_offered_again(job: Job, plan: RecordingPlan) -> None:
    path = job.path.with_name("job-battery_rest-rest_voltage.jsonl")
    path.write_text("no recording\n")
    with pytest.raises(RecordingError) as told:
        job.take_planned(plan, path)
    said = str(with_what_is_left(told.value, job, plan, path))
    assert said.endswith(
        f"What was recorded is in {path}, and rest_voltage was not taken from it. Record it again."
    )


def test_without_a_recording_there_is_nothing_to_take_from(job: Job, plan: RecordingPlan) -> None:
    error = SpinvoltError("It did not answer any more.")
    assert with_what_is_left(error, job, plan, job.path.with_name("none.jsonl")) is error


def test_several_readings_of_one_recording_are_told_apart_by_it(job: Job, rest: Path) -> None:
    plan = plan_recording(job.status().step("charging"), {Quantity.DC_VOLTAGE})
    said = str(with_what_is_left(SpinvoltError("It did not answer any more."), job, plan, rest))
    assert "and voltage_idle and voltage_work were not taken from it" in said
    assert said.endswith(f'spinvolt job next {job.path} --step charging "{rest}"')
