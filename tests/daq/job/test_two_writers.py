"""Two programs on one job file, and programs that are killed: real processes, nothing imitated."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from daq.errors import OutputError
from daq.job.file.hold import Hold
from daq.job.job import Job
from daq.model.clock import ManualClock
from tests.daq.job.whole_job import start_job

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="such locks and signals are tested here")

HOLD = """
import sys, time
from pathlib import Path
from daq.job.file.hold import Hold
with Hold(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""
TYPE_ON = """
import sys
from daq.job.job import Job
from daq.model.clock import SystemClock
job = Job.open(sys.argv[1], SystemClock())
print("begun", flush=True)
for number in range(10_000):
    job.note(f"note {number} " + "x" * 300)
    job.type_reading("battery_rest", "rest_voltage", f"12.{number % 60:02d}")
"""


@contextmanager
def holder(path: Path) -> Iterator[subprocess.Popen[str]]:
    pipe = subprocess.PIPE
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)], stdin=pipe, stdout=pipe, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        try:
            yield process
        finally:
            process.kill()


def test_a_second_writer_is_told_who_has_the_file_and_adds_nothing(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    before = job.path.read_bytes()
    with holder(job.path) as process:
        with pytest.raises(OutputError, match=r"job.jsonl is being written by another program") as told:
            Hold(job.path, tries=2)
        if Path("/proc/locks").exists():
            assert f"process {process.pid}" in str(told.value)
        # Reading needs no hold.
        assert Job.open(job.path, ManualClock()).status().troubles == ()
        with pytest.raises(OutputError, match="being written by"):
            Job.create(job.path, job.machine, ManualClock(), force=True)
    assert job.path.read_bytes() == before
    # The lock went with the process.
    job.note("later")
    assert [note.text for note in job.status().state.notes] == ["later"]


def test_what_another_program_added_is_taken_in_before_the_next_change(tmp_path: Path) -> None:
    one = start_job(tmp_path)
    other = Job.open(one.path, ManualClock())
    assert other.status().state.round == 1
    one.type_reading("ac_output", "output", "16.5 3600")
    one.repaired("new flywheel")
    other.type_reading("ac_output", "output", "27.5 3600")
    assert other.status().state.round == 2
    step = Job.open(one.path, ManualClock()).status().step("ac_output")
    assert (step.round, step.state) == (2, "pass")


def test_held_around_several_changes_and_nested(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    with job.held():
        job.note("one")
        with job.held():
            job.note("two")
        with pytest.raises(OutputError):
            Hold(job.path, tries=1)
    Hold(job.path, tries=1).close()
    assert [note.text for note in job.status().state.notes] == ["one", "two"]


def test_killed_at_any_moment_the_file_is_whole_and_goes_on(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    moments = random.Random(7)
    for kill in range(1, 6):
        with subprocess.Popen(
            [sys.executable, "-c", TYPE_ON, str(job.path)], stdout=subprocess.PIPE, text=True
        ) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == "begun\n"
            time.sleep(moments.uniform(0.0, 0.15))
            process.send_signal(signal.SIGKILL)
        again = Job.open(job.path, ManualClock())
        # Each kill may tear one line, no more: it is named, and the next one is whole.
        assert len(again.status().troubles) <= kill
        assert not any("readings say" in trouble for trouble in again.status().troubles)
        again.type_reading("battery_rest", "rest_voltage", "12.61")
        assert again.status().step("battery_rest").observed[0].value == 12.61
