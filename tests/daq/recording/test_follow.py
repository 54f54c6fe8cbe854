from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.errors import RecordingError
from daq.recording.batch import Batch, join_batches
from daq.recording.entries import CloseEntry, EventEntry, Line, MarkEntry
from daq.recording.follow import FileFollower
from daq.recording.follower import POLL_BYTES
from daq.recording.reader import read_recording
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, is_finished, raw, readings, record


def drain(follower: FileFollower) -> Batch:
    """Everything there is now, as one batch."""
    batches = [follower.poll()]
    while not follower.at_end:
        batches.append(follower.poll())
    return join_batches(batches)


def test_a_growing_recording_is_followed_to_its_close(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer, FileFollower(path) as follower:
        assert follower.poll().entries == [SESSION]
        assert not follower.poll()
        writer.write([VOLTS, SPEED, *readings(3)])
        assert not follower.poll()
        writer.flush()
        batch = follower.poll()
        assert (batch.entries, batch.entry_at) == ([VOLTS, SPEED], [0, 0])
        assert batch.value.tolist() == [20.5, 3601.0, 20.75]
        assert follower.being_written()
        assert not is_finished(follower)
        writer.write([MarkEntry(t_ns=1, text="x"), *readings(5)[3:], MarkEntry(t_ns=2, text="y")])
        writer.close(9, "end")
        batch = follower.poll()
        assert [type(entry) for entry in batch.entries] == [MarkEntry, MarkEntry, CloseEntry]
        assert batch.entry_at == [0, 2, 2]
        assert batch.t_ns.tolist() == [300_000_000, 400_000_000]
        assert is_finished(follower)
        assert follower.problems == []
        assert not follower.poll()


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(1, 400), min_size=1, max_size=8))
def test_chunks_of_any_size_give_the_same_as_the_whole(
    tmp_path_factory: pytest.TempPathFactory, sizes: list[int]
) -> None:
    folder = tmp_path_factory.mktemp("follow")
    data = record(
        folder / "whole.jsonl", [*readings(9), MarkEntry(t_ns=3, text="ü"), *readings(30)[9:]]
    ).read_bytes()
    path = folder / "growing.jsonl"
    path.touch()
    batches, done = [], 0
    with FileFollower(path) as follower, path.open("ab") as file:
        for size in [*sizes, len(data)]:
            file.write(data[done : done + size])
            file.flush()
            done += size
            batches.append(drain(follower))
        assert is_finished(follower)
    followed, whole = join_batches(batches), read_recording(folder / "whole.jsonl")
    assert np.array_equal(followed.value[followed.channel == 0], whole.columns(0).value)
    assert np.array_equal(followed.t_ns[followed.channel == 1], whole.columns(1).t_ns)
    assert len(followed.entries) == 5


def test_a_torn_line_is_taken_when_it_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_bytes(raw() + b"[0,1,2")
    with FileFollower(path) as follower, path.open("ab") as file:
        assert len(follower.poll().t_ns) == 0
        file.write(b"0.5,0]")
        file.flush()
        assert not follower.poll()
        file.write(b"\n")
        file.flush()
        assert follower.poll().value.tolist() == [20.5]


def test_a_torn_line_that_the_writer_takes_back_is_never_seen(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    whole = raw(b"[0,1,20.5,0]")
    path.write_bytes(whole + b"[0,2,99")
    with FileFollower(path) as follower:
        assert follower.poll().value.tolist() == [20.5]
        path.write_bytes(whole)
        assert not follower.poll()
        path.write_bytes(whole + b"[0,3,21.5,0]\n")
        assert follower.poll().value.tolist() == [21.5]


def test_a_file_that_is_cut_or_replaced_meanwhile_is_told(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_bytes(raw(*readings(5)))
    with FileFollower(path) as follower:
        follower.poll()
        path.write_bytes(raw())
        with pytest.raises(RecordingError, match="was cut while it was read"):
            follower.poll()
        path.write_bytes(raw(*readings(9)[4:]))
        with pytest.raises(RecordingError, match="was overwritten by something else"):
            follower.poll()
        path.write_bytes(raw(*readings(5)))
    with FileFollower(path) as follower:
        follower.poll()
        RecordingWriter.create(path, SESSION, force=True).abandon()
        with pytest.raises(RecordingError, match="removed or replaced"):
            follower.poll()
        path.unlink()
        with pytest.raises(RecordingError, match="removed or replaced"):
            follower.poll()


def test_a_recording_that_is_moved_is_read_on_under_its_new_name(tmp_path: Path) -> None:
    path, moved = tmp_path / "run.jsonl", tmp_path / "cart.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer, FileFollower(path) as follower:
        writer.write([VOLTS, SPEED, *readings(3)])
        writer.flush()
        assert len(follower.poll().t_ns) == 3
        path.rename(moved)
        path.write_bytes(raw(*readings(9)))  # somebody else's
        writer.write(readings(5)[3:])
        writer.close(9, "stopped by hand")
        assert len(follower.poll().t_ns) == 2
        assert follower.finished
        assert follower.path == moved


@pytest.mark.parametrize("copy", [False, True], ids=["alone", "another hard link"])
def test_a_recording_that_is_removed_is_read_on_and_where_it_was_put_back(tmp_path: Path, copy: bool) -> None:
    path = tmp_path / "run.jsonl"
    with RecordingWriter.create(path, SESSION, force=False) as writer, FileFollower(path) as follower:
        writer.write([VOLTS, SPEED, *readings(3)])
        writer.flush()
        assert len(follower.poll().t_ns) == 3
        if copy:
            (tmp_path / "backup.jsonl").hardlink_to(path)
        path.unlink()
        writer.write(readings(5)[3:])
        writer.flush()
        assert len(follower.poll().t_ns) == 2
        assert writer.go_on_if_changed() is not None
        writer.write(readings(9)[5:])
        writer.close(9, "stopped by hand")
        assert len(follower.poll().t_ns) == 4
        assert follower.finished
        assert follower.path == path
    assert read_recording(path).readings == 9


def test_an_empty_file_is_waited_for_but_not_when_it_is_all_there_will_be(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.touch()
    with FileFollower(path) as follower:
        assert not follower.poll()
        path.write_bytes(raw()[:40])
        assert not follower.poll()
        path.write_bytes(raw())
        assert len(follower.poll().entries) == 3
    path.write_bytes(b"")
    with FileFollower(path, until_end=True) as follower, pytest.raises(RecordingError, match="is empty"):
        follower.poll()
    path.write_bytes(raw()[:40])
    with FileFollower(path, until_end=True) as follower, pytest.raises(RecordingError, match="first line"):
        follower.poll()


@pytest.mark.parametrize("data", [b"junk\n", b"junk without end", b'{"entry":"session","version":3}\n'])
def test_what_can_not_become_a_recording_is_refused_at_once(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(data)
    with FileFollower(path) as follower, pytest.raises(RecordingError):
        follower.poll()
    with pytest.raises(RecordingError, match="There is no recording"):
        FileFollower(tmp_path / "gone.jsonl")


def test_a_recording_that_was_cut_off_ends_where_it_was_cut(tmp_path: Path) -> None:
    path = tmp_path / "cut.jsonl"
    path.write_bytes(raw(*readings(3)) + b"[0,5")
    with FileFollower(path) as follower:
        assert len(drain(follower).t_ns) == 3
        assert not is_finished(follower)
        assert not follower.being_written()
    with FileFollower(path, until_end=True) as follower:
        assert len(drain(follower).t_ns) == 3
        assert is_finished(follower)
        assert follower.problems == read_recording(path).problems


def test_hostile_lines_are_told_by_the_follower_as_by_the_reader(tmp_path: Path) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(raw(b"junk", b"[9,1,2,0]", *readings(4), b"[0,0,1,0]", b"[1,2]", b"x" * 9_000_000))
    with FileFollower(path, until_end=True) as follower:
        followed = drain(follower)
        assert follower.problems == read_recording(path).problems
    assert len(followed.t_ns) == 4
    assert len(follower.problems) == 4


def test_what_comes_after_an_endless_line_is_not_lost(tmp_path: Path) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(raw(b"x" * 4_500_000, *readings(4)))
    with FileFollower(path, until_end=True) as follower:
        assert len(drain(follower).t_ns) == 4
        assert is_finished(follower)


def test_an_entry_keeps_its_place_among_the_readings_that_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "odd.jsonl"
    mark = MarkEntry(t_ns=5, text="x")
    path.write_bytes(raw(b"[9,1,2,0]", b"[0,1,2,0]", b"[0,0,2,0]", mark, b"[9,1,2,0]", b"[0,7,3,0]", mark))
    with FileFollower(path) as follower:
        batch = follower.poll()
    assert batch.value.tolist() == [2.0, 3.0]
    assert (batch.entries[3:], batch.entry_at[3:]) == ([mark, mark], [1, 2])


def test_time_that_ran_back_is_measured_against_the_newest_before(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_bytes(raw(b"[0,5,1,0]", b"[0,3,2,0]"))
    with FileFollower(path) as follower, path.open("ab") as file:
        assert follower.poll().value.tolist() == [1.0]
        for line, kept in ((b"[0,4,3,0]\n", []), (b"[0,5,4,0]\n", [4.0])):
            file.write(line)
            file.flush()
            assert follower.poll().value.tolist() == kept
        assert follower.problems[0].startswith("2 readings are left out, the first in line 5")


def test_one_poll_reads_a_bounded_stretch_and_a_long_file_goes_in_bulk(tmp_path: Path) -> None:
    lines: list[Line] = list(readings(420_000, step_ns=1000))
    lines.insert(300_000, EventEntry(t_ns=0, kind="note", text="in between"))
    path = record(tmp_path / "big.jsonl", lines)
    assert path.stat().st_size > 2 * POLL_BYTES
    with FileFollower(path) as follower:
        batches = []
        while batch := follower.poll():
            batches.append(batch)
        assert is_finished(follower)
        assert follower.problems == []
    assert max(len(batch.t_ns) for batch in batches) < 420_000 / 2
    whole = join_batches(batches)
    assert np.array_equal(whole.t_ns, np.arange(420_000) * 1000)
    assert whole.entry_at == [0, 0, 0, 300_000, 420_000]


def test_following_a_small_file_does_not_load_pandas(tmp_path: Path) -> None:
    path = record(tmp_path / "run.jsonl", readings(500))
    code = (
        "import sys; from daq.recording.follow import FileFollower; from daq.recording.reader import read_recording\n"
        f"f = FileFollower({str(path)!r}); assert len(f.poll().t_ns) == 500; f.close()\n"
        f"assert read_recording({str(path)!r}).complete\n"
        "print([m for m in ('pandas', 'scipy', 'asyncio') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
