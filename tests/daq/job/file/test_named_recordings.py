"""A job file names recordings, and a stranger's may name anything: what is read, how much of it, and what is told."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from daq.job.evidence.trouble import TroubleKind
from daq.job.job import Job
from daq.model.clock import ManualClock
from daq.report.recording_notes import job_notes

SAMPLE = Path(__file__).parents[4] / "recordings" / "jobs" / "too-many-loads"
NAME = "01-battery-dc_voltage.jsonl"
linux_only = pytest.mark.skipif(not Path("/proc/self/pagemap").exists(), reason="needs /proc as Linux has it")

Named = Callable[..., Job]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The job's folder, with the recording of its first reading."""
    folder = tmp_path / "a" / "job"
    folder.mkdir(parents=True)
    shutil.copy(SAMPLE / NAME, folder)
    return folder


@pytest.fixture
def named(folder: Path) -> Named:
    """A job whose first reading names that recording instead; several names: one reading for each."""

    def make(*names: str, digest: str = "") -> Job:
        head, card, reading, *_ = (SAMPLE / "job.jsonl").read_text("utf-8").splitlines()
        line: dict[str, Any] = json.loads(reading)
        lines = [head, card]
        for name in names:
            line["recording"] = {"path": name, "digest": digest or line["recording"]["digest"]}
            lines.append(json.dumps(line))
        file = folder / "job.jsonl"
        file.write_text("\n".join(lines) + "\n", "utf-8")
        return Job.open(file, ManualClock())

    return make


def told(job: Job) -> str:
    """All that is told of the recording: in the reading, and on the page."""
    kept = job.status().state.rounds[0].readings["rest_voltage"].observed
    page = job_notes(job)[1]
    texts = (*kept.notes, *(trouble.text for trouble in kept.troubles), page.badge.word, *page.sentences)
    return "\n".join(texts)


def test_beside_the_job_or_elsewhere_a_recording_is_read(named: Named, folder: Path) -> None:
    elsewhere = folder.parents[1] / "recordings"
    elsewhere.mkdir()
    shutil.copy(SAMPLE / NAME, elsewhere)
    for name in (NAME, f"./{NAME}", f"../../recordings/{NAME}"):
        assert told(named(name)).endswith("Whole"), name
    with (elsewhere / NAME).open("ab") as file:
        file.write(b"\n")
    assert "was changed since it was read. Kept, not judged." in told(named(f"../../recordings/{NAME}"))


@linux_only
@pytest.mark.parametrize("what", ["/proc/self/pagemap", "/proc/self/mem", "/dev/zero", "/proc/self/environ"])
def test_what_has_no_end_is_neither_read_nor_told_of(what: str, named: Named, folder: Path) -> None:
    gone = told(named("../gone"))
    assert "is not there; the reading is as it was written" in gone
    assert "It is not where it was" in gone
    way = os.path.relpath(what, folder)
    (folder / "link.jsonl").symlink_to(what)
    for name in (way, what, "link.jsonl"):
        assert told(named(name)).replace(name, "../gone") == gone


def test_no_other_file_is_told_of_either_nor_read(named: Named, folder: Path) -> None:
    """Neither a person's own file, nor a recording by a whole path, which the program never writes down."""
    gone = told(named("../gone"))
    secret = folder.parent / "secret"
    secret.write_bytes(b"a\n" * 1_000_000)
    (folder / "link.jsonl").symlink_to(secret)
    right = "sha256:" + hashlib.sha256(secret.read_bytes()).hexdigest()
    before = read_so_far()
    for name in ("../secret", str(secret), "link.jsonl", "..", str(folder / NAME), "../a\0b"):
        for digest in ("", right) if "secret" in name else ("",):
            assert told(named(name, digest=digest)).replace(name, "../gone") == gone, name
    assert read_so_far() - before < 16 * (1 << 20), "a megabyte of each, at most, to see that it is none"


def read_so_far() -> int:
    """Bytes that this process has read by now; 0 where the system does not tell: proc(5)."""
    try:
        return int(Path("/proc/self/io").read_text("ascii").split("rchar: ")[1].split()[0])
    except OSError:
        return 0


def test_a_file_that_took_the_recordings_place_is_a_change(named: Named, folder: Path) -> None:
    (folder / NAME).write_bytes(b"not a recording any more\n")
    job = named(NAME)
    assert "was changed since it was read. Kept, not judged." in told(job)
    assert job_notes(job)[1].digest.startswith("no recording now, sha256:")
    kept = job.status().state.rounds[0].readings["rest_voltage"].observed
    assert [trouble.kind for trouble in kept.troubles] == [TroubleKind.RECORDING_CHANGED]


@pytest.mark.skipif(sys.platform == "win32", reason="needs named pipes")
def test_one_in_the_folder_that_can_not_be_read_is_told_with_the_reason(named: Named, folder: Path) -> None:
    (folder / "sub").mkdir()
    os.mkfifo(folder / "pipe.jsonl")
    for name, why in (("sub", "Is a directory"), ("pipe.jsonl", "it is no ordinary file")):
        said = told(named(name))
        assert f"The recording {name} can't be read ({why}); the reading is as it was written" in said
        assert (
            f"Can't be read\nIt can't be read: {why}; what was read from it stands in the job file." in said
        )


@linux_only
def test_a_recording_is_read_once_however_often_and_by_whatever_name(named: Named, folder: Path) -> None:
    size = 1_000_000
    with (folder / NAME).open("ab") as file:
        file.write(b"\n" * size)
    right = "sha256:" + hashlib.sha256((folder / NAME).read_bytes()).hexdigest()
    for digest in ("sha256:other", right):
        before = read_so_far()
        job = named(*(f"{'./' * (n % 50)}{NAME}" for n in range(300)), digest=digest)
        assert job.status().step("battery_rest").observed
        job_notes(job)
        cost = read_so_far() - before
        assert cost < 8 * size, f"{cost / size:.0f} times its size was read"
