"""Recordings in short, from real files and by the real process that works them out."""

from __future__ import annotations

import os
import shutil
import signal
import time
from collections.abc import Iterator
from datetime import timedelta, timezone
from pathlib import Path

import pytest

from daq.recording.entries import SessionEntry
from daq.recording.writer import RecordingWriter
from tui.shelf.folder import list_folder
from tui.shelf.summary import Summary, summarise
from tui.shelf.worker import SummaryProcess
from tui.view.shelf import listing_line

SAMPLES = Path(__file__).parents[3] / "recordings"
SWEEP = SAMPLES / "healthy-sweep.jsonl"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a good run, one cut off, one changed, one that is none."""
    shutil.copy(SWEEP, tmp_path / "good.jsonl")
    data = SWEEP.read_bytes()
    (tmp_path / "cut.jsonl").write_bytes(data[: len(data) * 2 // 3])
    (tmp_path / "changed.jsonl").write_bytes(data.replace(b"Sprayer", b"SPRAYER", 1))
    (tmp_path / "diary.jsonl").write_text("a diary\n")
    (tmp_path / "notes.txt").write_text("none\n")
    (tmp_path / ".hidden.jsonl").write_bytes(data)
    return tmp_path


@pytest.mark.parametrize(
    ("name", "state"),
    [
        ("good", "closed"),
        ("cut", "cut_off"),
        ("changed", "changed"),
        ("diary", "unreadable"),
        ("gone", "unreadable"),
    ],
)
def test_how_whole_a_recording_is(folder: Path, name: str, state: str) -> None:
    told = summarise(folder / f"{name}.jsonl")
    assert told.state == state
    assert bool(told.problems) is (state != "closed")


def test_a_summary_has_the_results_own_numbers(folder: Path) -> None:
    from daq import open_recording

    told, result = summarise(folder / "good.jsonl"), open_recording(folder / "good.jsonl").result()
    assert told.rated_voltage_V == result.rated_voltage_V
    assert told.expanded_uncertainty_V == result.expanded_uncertainty_V
    assert (told.verdict, told.minimum_V) == (result.verdict, result.minimum_V)
    assert told.length_s == pytest.approx(45.0, abs=0.1)
    assert told.machine.startswith("Sprayer cart")


def test_a_run_that_is_being_recorded_says_so(tmp_path: Path) -> None:
    path = tmp_path / "now.jsonl"
    session = SessionEntry(program="test", started_utc="2026-03-14T09:00:00Z", source="run")
    with RecordingWriter.create(path, session, force=False) as writer:
        writer.flush()
        assert summarise(path).state == "going_on"
        writer.close(10**9, "done")


def test_a_run_that_began_before_the_clock_was_set_stands_at_its_own_date(folder: Path) -> None:
    head, rest = SWEEP.read_bytes().split(b"\n", 1)
    unset = folder / "unset.jsonl"
    unset.write_bytes(head.replace(b"2026-03-14T09:00:00Z", b"1970-01-01T00:00:23Z") + b"\n" + rest)
    os.utime(unset, (4 * 10**9, 4 * 10**9))
    assert summarise(unset).started_s is None, "no clock entry dates it"
    assert list_folder(folder)[0].path == unset, "so it stands where its file's date puts it"
    look = b'{"entry":"clock","t_ns":1000000000,"utc":"2026-03-14T11:00:01Z"}\n'
    unset.write_bytes(head.replace(b"2026-03-14T09:00:00Z", b"1970-01-01T00:00:23Z") + b"\n" + look + rest)
    (found,) = [one for one in list_folder(folder) if one.path == unset]
    line = listing_line(found, summarise(unset), zone=timezone(timedelta(hours=2)))
    assert line.startswith("2026-03-14 13:00, "), "local time"


def test_the_newest_run_comes_first_and_only_recordings_count(folder: Path) -> None:
    """By when the run was, not by when its file was copied; a file that tells no time has that of the file."""
    later = SWEEP.read_bytes().replace(b"2026-03-14T09:00:00Z", b"2026-03-15T09:00:00Z", 1)
    (folder / "good.jsonl").write_bytes(later)
    os.utime(folder / "good.jsonl", (10**9, 10**9))
    os.utime(folder / "cut.jsonl", (2 * 10**9, 2 * 10**9))
    os.utime(folder / "diary.jsonl", (10**9, 10**9))
    names = [found.path.name for found in list_folder(folder)]
    assert names[0] == "good.jsonl"
    assert names[-1] == "diary.jsonl"
    assert sorted(names) == ["changed.jsonl", "cut.jsonl", "diary.jsonl", "good.jsonl"]
    assert list_folder(folder / "nowhere") == []


def test_a_link_that_leads_to_itself_hides_no_other_recording(folder: Path) -> None:
    before = {found.path.name for found in list_folder(folder)}
    (folder / "loop.jsonl").symlink_to(folder / "loop.jsonl")
    assert {found.path.name for found in list_folder(folder)} == before | {"loop.jsonl"}


@pytest.fixture
def process() -> Iterator[SummaryProcess]:
    process = SummaryProcess()
    yield process
    process.close()


def taken(process: SummaryProcess, count: int) -> dict[str, Summary]:
    found: dict[str, Summary] = {}
    end_s = time.monotonic() + 60
    while len(found) < count:
        assert time.monotonic() < end_s, found
        found |= {Path(one.path).name: one for one in process.take()}
        time.sleep(0.02)
    return found


def test_the_process_gives_what_is_asked_for(folder: Path, process: SummaryProcess) -> None:
    assert process.busy()[0] == 0
    for name in ("good.jsonl", "diary.jsonl"):
        process.want(folder / name)
    assert process.busy()[0] == 2
    found = taken(process, 2)
    assert found["good.jsonl"] == summarise(folder / "good.jsonl")
    assert list((Path(os.environ["SPINVOLT_CACHE"]) / "results").iterdir()), "kept for the next opening"
    assert found["diary.jsonl"].state == "unreadable"
    assert process.busy()[0] == 0
    process.close()
    process.close()


def test_a_process_that_dies_costs_one_recording_and_not_the_list(
    folder: Path, process: SummaryProcess
) -> None:
    process.want(folder / "good.jsonl")
    assert process._process is not None
    os.kill(process._process.pid, signal.SIGKILL)
    process.want(folder / "cut.jsonl")
    found = taken(process, 2)
    assert found["good.jsonl"].problems == [
        "good.jsonl could not be worked out: the process that did so ended."
    ]
    assert found["cut.jsonl"].state == "cut_off"
