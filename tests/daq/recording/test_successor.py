"""An emptied recording is found again by what the next one says of it."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from daq.recording.entries import EventEntry, Line
from daq.recording.lines import MAX_LINE_BYTES, encode_lines
from daq.recording.moved import MOVED_ON, Moved
from daq.recording.reader import read_recording
from daq.recording.successor import successor_by_event, went_on_in
from tests.daq.recording.builders import SESSION, VOLTS, readings


def recorded(path: Path, *more: Line, junk: bytes = b"") -> Path:
    path.write_bytes(encode_lines([SESSION, VOLTS, *readings(50)]) + junk + encode_lines(more))
    return path


def moved(folder: Path, was: str, path: str) -> EventEntry:
    return EventEntry(t_ns=6, kind="note", text=Moved(folder / was, folder / path).text)


def test_the_newest_that_names_it_is_the_one(tmp_path: Path) -> None:
    second, third = tmp_path / "run-2.jsonl", tmp_path / "run-3.jsonl"
    first = moved(tmp_path, "run.jsonl", "run-2.jsonl")
    recorded(second, first)
    assert successor_by_event(tmp_path / "run.jsonl") == second
    recorded(third, first, moved(tmp_path, "run-2.jsonl", "run-3.jsonl"))
    assert successor_by_event(tmp_path / "run.jsonl") == third
    recorded(tmp_path / "run-4.jsonl")
    assert successor_by_event(tmp_path / "run.jsonl") == third
    assert successor_by_event(third) is None


def test_another_runs_recording_is_none_whatever_it_says(tmp_path: Path) -> None:
    path = tmp_path / "run-2.jsonl"
    assert successor_by_event(tmp_path / "run.jsonl") is None
    recorded(
        path, moved(tmp_path, "other.jsonl", "run-2.jsonl"), EventEntry(t_ns=7, kind="note", text="run.jsonl")
    )
    assert successor_by_event(tmp_path / "run.jsonl") is None
    path.write_text(f'run.jsonl{MOVED_ON}\n{{"entry":"event","text":"run.jsonl{MOVED_ON}"}}\n')
    assert successor_by_event(tmp_path / "run.jsonl") is None


def test_it_is_found_behind_a_line_longer_than_any_and_across_blocks(tmp_path: Path) -> None:
    event = moved(tmp_path, "run.jsonl", "run-2.jsonl")
    for junk_bytes in (2**20 - 3000, 2**20 - 2500, MAX_LINE_BYTES + 2**21):
        path = recorded(tmp_path / "run-2.jsonl", event, junk=b"x" * junk_bytes + b"\n")
        assert successor_by_event(tmp_path / "run.jsonl") == path


def test_a_recording_that_was_left_in_mid_run_says_where_its_run_went_on(tmp_path: Path) -> None:
    path, second = recorded(tmp_path / "run.jsonl"), tmp_path / "run-2.jsonl"
    assert read_recording(path).problems[-1].endswith("What came after that is missing.")
    recorded(second)
    assert went_on_in(path, SESSION) is None, "a copy that somebody made"
    recorded(second, moved(tmp_path, "run.jsonl", "run-2.jsonl"))
    told = read_recording(path).problems[-1]
    assert told.startswith("The recording was cut off: it has no closing line.")
    assert told.endswith(
        "What came after that is in run-2.jsonl: something else had changed or replaced run.jsonl during the run."
    )
    assert not read_recording(path).complete
    other = msgspec.structs.replace(SESSION, started_utc="2025-03-01T08:00:00Z")
    assert went_on_in(path, other) is None, "an older run under that name"


@pytest.mark.skipif(not Path("/proc/self/pagemap").exists(), reason="needs /proc as Linux has it")
def test_beside_it_only_recordings_are_looked_into(tmp_path: Path) -> None:
    """The second has no end, and the third none in sight: 8 TiB of nothing, which take no room."""
    (tmp_path / "run-2.jsonl").symlink_to("/proc/self/pagemap")
    with (tmp_path / "run-3.jsonl").open("wb") as file:
        file.truncate(1 << 43)
    recorded(tmp_path / "run-4.jsonl", moved(tmp_path, "run.jsonl", "run-4.jsonl"))
    assert successor_by_event(tmp_path / "run.jsonl") == tmp_path / "run-4.jsonl"
    assert went_on_in(tmp_path / "run.jsonl", SESSION) == tmp_path / "run-4.jsonl"
