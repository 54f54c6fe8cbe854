"""A recording whose file something else changes under its writer, in all the ways that it can be changed."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from daq.errors import OutputError
from daq.model.reading import Reading
from daq.recording.entries import MarkEntry
from daq.recording.kept import KeptLines
from daq.recording.pending import Chunk
from daq.recording.reader import read_recording
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, raw, readings


def _same_length(path: Path) -> None:
    data = path.read_bytes()
    path.write_bytes(b"x" * len(data))


def _start_changed(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(b"hello")


def _appended(path: Path) -> None:
    with path.open("ab") as file:
        file.write(b"hello\n")


def _middle_changed(path: Path) -> None:
    with path.open("r+b") as file:
        file.seek(path.stat().st_size // 2)
        file.write(b"XXXXXXXXXXXXXXXXXXXXXX")


CHANGES: list[Callable[[Path], object]] = [
    lambda path: os.truncate(path, 0),
    lambda path: os.truncate(path, 300),
    lambda path: path.write_text("hello\n"),
    lambda path: path.write_bytes(raw(*readings(500))),
    _appended,
    _same_length,
    _start_changed,
    _middle_changed,
]


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_file_is_left_as_it_is_and_its_recording_goes_on_whole(
    tmp_path: Path, change: Callable[[Path], object]
) -> None:
    path, own = tmp_path / "run.jsonl", tmp_path / "run-2.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.write([VOLTS, SPEED, *readings(50)])
        writer.flush()
        assert writer.go_on_if_changed() is None
        change(path)
        changed = path.read_bytes()
        moved = writer.go_on_if_changed()
        assert moved is not None
        assert (moved.was, moved.path, moved.whole) == (path, own, True)
        assert writer.go_on_if_changed() is None
        writer.write(readings(80)[50:])
        writer.close(9_000_000_000, "end")
    assert path.read_bytes() == changed
    recording = read_recording(own)
    assert recording.problems == []
    assert recording.readings == 80


def test_nothing_is_written_into_a_changed_file_and_what_waits_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.write([VOLTS, SPEED, *readings(5)])
        writer.flush()
        path.write_text("hello\n")
        writer.write(readings(9)[5:])
        with pytest.raises(OutputError, match=r"run\.jsonl was changed by something else"):
            writer.flush()
        assert path.read_text() == "hello\n"
        assert writer.go_on_if_changed(thorough=False) is not None
        writer.close(9, "end")
    assert read_recording(tmp_path / "run-2.jsonl").readings == 9


def test_a_head_that_is_half_written_is_not_doubled(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.write([VOLTS, SPEED])
        writer.flush()
        writer.write([MarkEntry(t_ns=1, text="before the first reading")])
        os.truncate(path, 0)
        moved = writer.go_on_if_changed()
        assert moved is not None
        assert moved.whole
        writer.write(readings(4))
        writer.close(9, "end")
    assert moved.path.read_text().count("before the first reading") == 1
    recording = read_recording(moved.path)
    assert (recording.problems, recording.readings) == ([], 4)


def test_what_is_too_old_to_be_kept_is_told(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.write([VOLTS, SPEED])
        for second in range(0, 400, 10):
            writer.write([Reading(0, second * 10**9, 20.5)])
            writer.flush()
        os.truncate(path, 0)
        moved = writer.go_on_if_changed()
        assert moved is not None
        assert not moved.whole
        assert moved.text.endswith(
            "goes on in run-2.jsonl, which begins at 90.0 s; the 9 readings before that stood in run.jsonl alone."
        )
        writer.close(400 * 10**9, "end")
    recording = read_recording(moved.path)
    assert recording.problems == []
    assert [entry.instrument for entry in recording.channels] == [VOLTS.instrument, SPEED.instrument]
    assert recording.columns(0).t_ns.tolist() == [second * 10**9 for second in range(90, 400, 10)]


def _hurt(path: Path, at_byte: int) -> None:
    """Overwrite some bytes, as something else would."""
    with path.open("r+b") as file:
        file.seek(at_byte)
        file.write(b"XXXXXXXXXXXXXXXXXXXXXX")


def _long(writer: RecordingWriter, seconds: int) -> None:
    """A reading each second, with marks so that there are some pieces; the last 300 s stay in memory."""
    writer.write([VOLTS])
    for second in range(seconds):
        writer.write([Reading(0, second * 10**9, 20.5), MarkEntry(t_ns=second * 10**9, text="x" * 10_000)])
        writer.flush()


@pytest.mark.parametrize("at_s", [110, 200, 380])
def test_a_changed_middle_is_found_before_the_end_and_filled_in_from_memory(
    tmp_path: Path, at_s: int
) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        _long(writer, 400)
        _hurt(path, at_s * 10_000)
        changed = path.read_bytes()
        writer.compare(lambda: False)
        with pytest.raises(OutputError, match="was changed by something else"):
            writer.close(400 * 10**9, "end")
        moved = writer.go_on_if_changed()
        assert moved is not None
        assert (moved.path, moved.whole) == (tmp_path / "run-2.jsonl", True)
        assert writer.go_on_if_changed() is None
        writer.compare(lambda: False)
        writer.close(400 * 10**9, "end")
    assert path.read_bytes() == changed
    recording = read_recording(moved.path)
    assert (recording.problems, recording.readings) == ([], 400)


def test_a_changed_middle_that_is_no_more_in_memory_is_told(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        _long(writer, 400)
        _hurt(path, 50 * 10_000)
        writer.compare(lambda: False)
        moved = writer.go_on_if_changed()
        assert moved is not None
        assert moved.text.endswith(
            "which begins at 99.0 s; the 99 readings before that stood in run.jsonl alone."
        )
        writer.close(400 * 10**9, "end")
    recording = read_recording(moved.path)
    assert (recording.problems, recording.readings) == ([], 301)


@pytest.mark.parametrize("at_s", [10, 150, 390])
def test_each_piece_comes_in_turn_during_the_run(tmp_path: Path, at_s: int) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        _long(writer, 400)
        assert all(writer.go_on_if_changed() is None for _ in range(20))
        _hurt(path, at_s * 10_000)
        assert any(writer.go_on_if_changed() is not None for _ in range(8))


def test_the_comparing_ends_when_it_is_enough_and_begins_with_the_newest(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        _long(writer, 400)
        _hurt(path, 200 * 10_000)
        answers = iter([False, True])
        writer.compare(lambda: next(answers))
        assert next(answers, None) is None
        writer.flush()
        writer.compare(lambda: False)
        with pytest.raises(OutputError, match="was changed by something else"):
            writer.flush()


@pytest.mark.parametrize("backup", [False, True])
def test_a_long_recording_that_is_replaced_goes_on_whole_from_its_open_file(
    tmp_path: Path, backup: bool
) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.write([VOLTS])
        for second in range(0, 4000, 10):
            writer.write([Reading(0, second * 10**9, 20.5)])
            writer.flush()
        if backup:
            (tmp_path / "backup.jsonl").hardlink_to(path)
        (tmp_path / "other").write_text("precious\n")
        (tmp_path / "other").rename(path)
        moved = writer.go_on_if_changed()
        writer.close(4000 * 10**9, "end")
    assert path.read_text() == "precious\n"
    assert moved is not None
    assert (moved.whole, read_recording(moved.path).readings) == (True, 400)


def test_a_recording_that_is_discarded_takes_nobody_elses_file_with_it(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        path.unlink()
        path.write_text("precious\n")
        writer.remove()
    assert path.read_text() == "precious\n"
    path.unlink()
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.remove()
    assert not path.exists()


def test_what_is_kept_is_bounded_in_bytes_and_in_time() -> None:
    kept = KeptLines(limit_bytes=100, limit_ns=50)
    for t_ns in range(0, 200, 10):
        kept.add(Chunk(b"x" * 10, 1, t_ns, t_ns))
    assert [chunk.first_t_ns for chunk in kept.chunks()] == [140, 150, 160, 170, 180, 190]
    assert (kept.first_t_ns, kept.lost_readings, kept.whole) == (140, 14, False)
    kept.add(Chunk(b"mark"))
    kept.add(Chunk(b"x" * 90, 3, 200, 220))
    assert [len(chunk.data) for chunk in kept.chunks()] == [4, 90]
    kept.add(Chunk(b"x" * 101, 3, 220, 220))
    assert (kept.chunks(), kept.lost_readings) == ([], 26)
