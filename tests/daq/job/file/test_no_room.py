"""A job file that can't grow: what could not be written whole is taken back, and the sentence says what to do."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from daq.errors import OutputError
from daq.job.file.adding import append_to, take_back
from daq.job.file.entries import NoteLine
from daq.job.job import Job
from daq.model.clock import ManualClock
from tests.daq.job.whole_job import start_job
from tests.faults.drives import WHY_NOT, may_mount, small_drive

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="limits and seals of files are tested here"
)


@contextlib.contextmanager
def no_file_larger(size: int) -> Iterator[None]:
    """The operating system's own limit on a file's size; Python ignores the signal that comes with it."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def refused(job: Job, room: int, what: str) -> str:
    """What is said where that is added to a job file that may grow by no more than so many bytes."""
    added: dict[str, Callable[[], object]] = {
        "note": lambda: job.note("x" * 500),
        "repair": lambda: job.repaired("y" * 500),
        "reading": lambda: job.type_reading("battery_rest", "rest_voltage", "12.61"),
    }
    with no_file_larger(job.path.stat().st_size + room), pytest.raises(OutputError) as told:
        added[what]()
    return str(told.value)


@pytest.mark.parametrize(
    ("what", "room", "named"),
    [
        ("note", 0, "the note"),
        ("note", 200, "the note"),
        ("repair", 200, "the repair"),
        ("reading", 100, "the reading rest_voltage"),
    ],
)
def test_half_a_line_is_taken_back_and_the_next_step_is_told(
    what: str, room: int, named: str, tmp_path: Path
) -> None:
    job = start_job(tmp_path)
    before = job.path.read_bytes()
    assert refused(job, room, what) == (
        f"The file would be larger than one may be here: {named} was not added to job.jsonl, which is as it was "
        "before. Put it where a larger one may be, then give it again."
    )
    assert job.path.read_bytes() == before
    again = Job.open(job.path, ManualClock())
    again.note("there is room again")
    assert again.status().troubles == ()


def test_a_line_that_a_crash_cut_off_stays_as_it_was(tmp_path: Path) -> None:
    job = start_job(tmp_path)
    torn = job.path.read_bytes() + b'{"entry":"note","utc"'
    job.path.write_bytes(torn)
    assert "the note was not added" in refused(job, 300, "note")
    assert job.path.read_bytes() == torn


def test_where_only_the_verdict_had_no_room_the_reading_is_kept_and_not_asked_for_again(
    tmp_path: Path,
) -> None:
    job = start_job(tmp_path)
    before = job.path.read_bytes()
    job.type_reading("battery_rest", "rest_voltage", "12.61")
    reading, verdict = job.path.read_bytes()[len(before) :].splitlines(keepends=True)
    assert b'"verdict"' in verdict
    job.path.write_bytes(before)
    said = refused(Job.open(job.path, ManualClock()), len(reading) + len(verdict) // 2, "reading")
    assert "the verdict on battery_rest was not added" in said
    assert said.endswith("nothing is to be given again, the verdict is worked out anew each time.")
    assert job.path.read_bytes() == before + reading
    status = Job.open(job.path, ManualClock()).status()
    assert status.troubles == ()
    assert status.step("battery_rest").observed[0].value == 12.61


def test_what_another_program_added_meanwhile_is_not_cut_off(tmp_path: Path) -> None:
    """Where a file system knows no locks, another one may have added a line right behind half of ours."""
    path = tmp_path / "job.jsonl"
    path.write_bytes(b"before\nhalfof their whole line\n")
    with path.open("r+b") as file:
        assert not take_back(file.fileno(), 7, 4)
        assert path.read_bytes() == b"before\nhalfof their whole line\n"
        file.truncate(11)
        assert take_back(file.fileno(), 7, 4)
    assert path.read_bytes() == b"before\n"


def test_half_a_line_that_can_not_be_taken_back_is_told() -> None:
    import fcntl

    fd = os.memfd_create("job", os.MFD_ALLOW_SEALING)
    try:
        os.write(fd, b"before\n")
        fcntl.fcntl(fd, fcntl.F_ADD_SEALS, fcntl.F_SEAL_SHRINK)
        note = NoteLine(utc="2026-03-02T09:05:00Z", text="x" * 500)
        with no_file_larger(40), pytest.raises(OutputError) as told:
            append_to(fd, Path("job.jsonl"), [note])
        assert os.fstat(fd).st_size == 40
    finally:
        os.close(fd)
    assert str(told.value) == (
        "The file would be larger than one may be here: the note was not added whole to job.jsonl, and the beginning "
        "can't be taken out again: it stays as a line that is named and not judged; all else is as it was before. "
        "Put it where a larger one may be, then give it again."
    )


def note_until_full(job: Job) -> tuple[int, str]:
    """The file's length before the first note that was refused, and what was said of it."""
    for _ in range(40):
        before = job.path.stat().st_size
        try:
            job.note("z" * 300)
        except OutputError as error:
            return before, str(error)
    raise AssertionError("the disk did not fill up")


@pytest.mark.skipif(not may_mount(), reason=WHY_NOT)
def test_a_full_disk_is_told_as_one_and_leaves_no_half_line(tmp_path: Path) -> None:
    with small_drive(tmp_path, 16) as place:
        job = start_job(place)
        with (place / "filler").open("wb", buffering=0) as filler, contextlib.suppress(OSError):
            while True:
                filler.write(b"x" * 512)
        before, told = note_until_full(job)
        assert job.path.stat().st_size == before
        assert before % 4096  # the last note had room for a part of itself
        assert told == (
            "The disk is full: the note was not added to job.jsonl, which is as it was before. Make room, then give it "
            "again."
        )
        (place / "filler").unlink()
        job.note("there is room again")
        assert job.status().troubles == ()
        assert job.status().state.notes[-1].text == "there is room again"
