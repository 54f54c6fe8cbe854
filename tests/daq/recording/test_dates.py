"""The dates of a recording as it is read: where its clock entries stand among what else there is."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

from daq.model.clock import ManualClock
from daq.recording.entries import ClockEntry
from daq.recording.lines import encode_lines
from daq.recording.reader import Recording, read_recording
from daq.recording.replay import Replay
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, is_finished, raw, readings

SECOND = 1_000_000_000
SLEPT = ClockEntry(t_ns=2 * SECOND, utc="2026-03-01T09:30:02Z")
UNSET = msgspec.structs.replace(SESSION, started_utc="1970-01-01T00:00:23.5Z")


def read(path: Path, data: bytes) -> Recording:
    path.write_bytes(data)
    return read_recording(path)


def test_a_recording_cut_off_after_a_sleep_ends_when_it_did(tmp_path: Path) -> None:
    recording = read(tmp_path / "run.jsonl", raw(*readings(20), SLEPT, *readings(31)[20:]))
    assert recording.problems == [
        "The recording was cut off: it has no closing line. Its last whole line is line 35, at 3.000 s "
        "(2026-03-01 09:30:03 UTC). What came after that is missing."
    ]
    assert recording.start == datetime(2026, 3, 1, 8, tzinfo=UTC)
    assert recording.wall_clock.utc(SECOND) == datetime(2026, 3, 1, 8, 0, 1, tzinfo=UTC)


def test_a_replay_says_the_same_of_its_end(tmp_path: Path) -> None:
    recording = read(tmp_path / "run.jsonl", raw(*readings(20), SLEPT, *readings(31)[20:]))
    with Replay(recording.path, ManualClock(), 0) as replay:
        while not is_finished(replay):
            replay.poll()
        assert replay.problems == recording.problems


@pytest.mark.parametrize(("set_later", "told"), [(True, " (2026-03-01 08:00:03 UTC)"), (False, "")])
def test_a_cut_off_recording_that_began_in_1970_names_no_day_in_it(
    tmp_path: Path, set_later: bool, told: str
) -> None:
    looks = [ClockEntry(t_ns=2 * SECOND, utc="2026-03-01T08:00:02Z")] if set_later else []
    data = encode_lines([UNSET, VOLTS, SPEED, *readings(20), *looks, *readings(31)[20:]])
    recording = read(tmp_path / "run.jsonl", data)
    (problem,) = recording.problems
    assert f"at 3.000 s{told}. What came after" in problem
    assert recording.start_known is set_later
    assert recording.start.year == (2026 if set_later else 1970)


def test_looks_that_make_no_sense_are_left_out_counted_and_told(tmp_path: Path) -> None:
    odd = [
        ClockEntry(t_ns=SECOND, utc="half past nine"),
        ClockEntry(t_ns=-1, utc="2026-03-01T10:00:00Z"),
        ClockEntry(t_ns=5 * 10**18, utc="2026-03-01T10:00:00Z"),
        SLEPT,
        ClockEntry(t_ns=SECOND, utc="2026-03-02T08:00:01Z"),
    ]
    recording = read(tmp_path / "run.jsonl", raw(*readings(31), *odd))
    assert recording.problems[0] == "4 entries are left out, the first in line 35: its utc is no time."
    assert [entry.t_ns for entry in recording.clocks] == [2 * SECOND]
    assert recording.wall_clock.utc(SECOND) == datetime(2026, 3, 1, 8, 0, 1, tzinfo=UTC)
    assert recording.wall_clock.utc(3 * SECOND) == datetime(2026, 3, 1, 9, 30, 3, tzinfo=UTC)
    assert not recording.complete


def test_a_look_at_a_clock_without_a_date_is_no_fault_of_the_recording(tmp_path: Path) -> None:
    beyond = ClockEntry(t_ns=2 * SECOND, utc="2201-03-01T08:00:02Z")
    recording = read(tmp_path / "run.jsonl", raw(*readings(31), beyond))
    assert len(recording.problems) == 1, "that it was cut off"
    assert "at 3.000 s (2026-03-01 08:00:03 UTC)" in recording.problems[0]


def test_what_stands_behind_the_closing_line_moves_no_date(tmp_path: Path) -> None:
    closing = b'{"entry":"close","t_ns":3000000000,"reason":"stopped","readings":31,"digest":"none"}'
    recording = read(tmp_path / "run.jsonl", raw(*readings(31), closing, SLEPT))
    assert recording.wall_clock.utc(3 * SECOND) == datetime(2026, 3, 1, 8, 0, 3, tzinfo=UTC)
