"""What was handed over is asked onto the disk, time never runs back, and a file that was put back is its writer's.

The calls of the system are real ones; what spies on them only notes that they came, for the power can't be cut here.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from daq.errors import OutputError, RecordingError
from daq.locking import writer_alive
from daq.output import replacing
from daq.recording.follow import FileFollower
from daq.recording.lines import MAX_LINE_BYTES
from daq.recording.reader import read_recording
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, raw, readings

Calls = list[tuple[str, int, int]]


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Calls:
    """Each fsync and replace, in order: what, and inode and size of the file that it was called for."""
    seen: Calls = []
    fsync, replace = os.fsync, os.replace

    def spied_fsync(fd: int) -> None:
        fsync(fd)
        seen.append(("fsync", os.fstat(fd).st_ino, os.fstat(fd).st_size))

    def spied_replace(source: Path, target: Path) -> None:
        seen.append(("replace", source.stat().st_ino, source.stat().st_size))
        replace(source, target)

    monkeypatch.setattr(os, "fsync", spied_fsync)
    monkeypatch.setattr(os, "replace", spied_replace)
    return seen


def test_what_was_flushed_is_asked_onto_the_disk_by_sync_and_by_close(tmp_path: Path, calls: Calls) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        writer.write([VOLTS, SPEED, *readings(3)])
        writer.flush()
        calls.clear()
        writer.sync()
        assert calls == [("fsync", path.stat().st_ino, path.stat().st_size)]
        writer.write(readings(9)[3:])
        writer.close(9, "end")
        assert calls[1:] == [("fsync", path.stat().st_ino, path.stat().st_size)]
    assert b'"entry":"close"' in path.read_bytes()


def test_a_finished_file_is_on_the_disk_before_it_takes_its_name(tmp_path: Path, calls: Calls) -> None:
    """Otherwise a cut of the power leaves an empty file where an older one stood."""
    target = tmp_path / "out.csv"
    target.write_text("old")
    with replacing(target, force=True) as draft:
        draft.write_text("all the rows")
    inode, size = target.stat().st_ino, target.stat().st_size
    assert size == len("all the rows")
    assert calls == [("fsync", inode, size), ("replace", inode, size)]


def test_time_that_ran_back_from_one_poll_to_the_next_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_bytes(raw(b"[0,5,1,0]", b"[1,7,3600,0]"))
    with FileFollower(path) as follower, path.open("ab") as file:
        assert follower.poll().value.tolist() == [1.0, 3600.0]
        file.write(b"[0,4,2,0]\n[0,6,3,0]\n[1,6,3601,0]\n")
        file.flush()
        assert follower.poll().value.tolist() == [3.0]
        assert follower.problems[0].startswith("2 readings are left out")


def test_time_that_ran_back_from_one_block_to_the_next_is_left_out(tmp_path: Path) -> None:
    long = b'{"entry":"mark","t_ns":1,"text":"%b"}' % (b"x" * (MAX_LINE_BYTES - 100))
    path = tmp_path / "run.jsonl"
    path.write_bytes(raw(b"[0,5,1,0]", *[long] * 5, b"[0,4,2,0]", b"[0,6,3,0]"))
    recording = read_recording(path)
    assert recording.columns(0).value.tolist() == [1.0, 3.0]
    assert "left out" in recording.problems[0]


def test_a_file_that_was_put_back_is_its_writers(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer:
        path.unlink()
        assert writer.go_on_if_changed() is not None
        assert writer_alive(path)
        with pytest.raises(OutputError, match=r"Another run is writing run\.jsonl"):
            RecordingWriter.create(path, SESSION, force=True)
        with (
            pytest.raises(OutputError, match=r"Another run is writing run\.jsonl"),
            replacing(path, force=True),
        ):
            pytest.fail("the body may not run")
        writer.write([VOLTS, SPEED, *readings(4)])
        writer.close(9, "end")
    assert read_recording(path).readings == 4


@pytest.mark.parametrize("at", ["beginning", "end"])
def test_another_file_in_the_place_of_a_removed_one_is_not_read_on(tmp_path: Path, at: str) -> None:
    """Not even where it is like it nearly throughout."""
    path = tmp_path / "run.jsonl"
    whole = raw(*readings(20_000))
    assert len(whole) > 400_000
    path.write_bytes(whole)
    other = whole.replace(b"[0,0,20.5,0]", b"[0,0,20.6,0]") if at == "beginning" else whole[:-3] + b"1]\n"
    assert other != whole
    assert len(other) == len(whole)
    with FileFollower(path) as follower:
        while not follower.at_end:
            follower.poll()
        path.unlink()
        path.write_bytes(other + b"[0,9000000000,21,0]\n")
        with pytest.raises(RecordingError, match="removed or replaced"):
            follower.poll()
    path.write_bytes(whole)
    with FileFollower(path) as follower:
        while not follower.at_end:
            follower.poll()
        path.unlink()
        path.write_bytes(whole + b"[0,9000000000,21,0]\n")
        assert follower.poll().value.tolist() == [21.0]
