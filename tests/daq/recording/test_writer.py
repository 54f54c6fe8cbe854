from __future__ import annotations

import hashlib
import json
import os
import resource
import signal
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import pytest

from daq.errors import OutputError
from daq.model.reading import Quality, Reading
from daq.recording.entries import CloseEntry, MarkEntry
from daq.recording.lines import decode_entry
from daq.recording.reader import read_recording
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, readings


def new(path: Path, *, force: bool = False, buffer_limit_bytes: int = 1 << 20) -> RecordingWriter:
    writer = RecordingWriter.create(path, SESSION, force=force, buffer_limit_bytes=buffer_limit_bytes)
    writer.write([VOLTS, SPEED])
    return writer


def test_a_file_that_exists_is_not_touched_without_force(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_text("precious")
    with pytest.raises(OutputError, match=r"^run\.jsonl exists already; add --force to replace it\.$"):
        new(path)
    assert path.read_text() == "precious"
    with new(path, force=True) as writer:
        writer.close(0, "end")
    assert read_recording(path).complete


def test_two_runs_can_not_share_a_file(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with new(path) as writer:
        with pytest.raises(OutputError, match=r"Another run is writing run\.jsonl"):
            new(path, force=True)
        writer.close(0, "end")
    new(path, force=True).abandon()


def test_no_folder_and_no_permission_and_no_ordinary_file_are_told(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="There is no folder"):
        new(tmp_path / "gone" / "run.jsonl")
    with pytest.raises(OutputError, match="no ordinary file"):
        new(tmp_path, force=True)
    with pytest.raises(OutputError, match="exists already"):
        new(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OutputError, match="no ordinary file"):
        new(tmp_path / "pipe", force=True)
    with pytest.raises(OutputError, match="can't be written"):
        new(tmp_path / ("a" * 300))


def test_the_session_line_is_in_the_file_at_once(tmp_path: Path) -> None:
    with new(tmp_path / "run.jsonl"):
        first = (tmp_path / "run.jsonl").read_bytes()
    assert decode_entry(first[:-1]) == SESSION


def test_nothing_reaches_the_file_before_flush(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with new(path) as writer:
        writer.flush()
        size = path.stat().st_size
        writer.write(readings(3))
        assert path.stat().st_size == size
        assert writer.pending_bytes > 0
        writer.flush()
        writer.sync()
        assert writer.pending_bytes == 0
        assert writer.readings == 3
        assert path.read_bytes()[size:].count(b"\n") == 3


def test_the_close_counts_the_readings_and_digests_what_stands_before(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with new(path) as writer:
        writer.write([*readings(4), MarkEntry(t_ns=5, text="ö"), *readings(3)])
        writer.close(12, "stopped with q")
        assert writer.closed
        with pytest.raises(ValueError, match="closed"):
            writer.write(readings(1))
        with pytest.raises(ValueError, match="closed"):
            writer.flush()
    body, _, last = path.read_bytes()[:-1].rpartition(b"\n")
    close = decode_entry(last)
    assert isinstance(close, CloseEntry)
    assert close.digest == "sha256:" + hashlib.sha256(body + b"\n").hexdigest()
    assert (close.readings, close.t_ns, close.reason) == (7, 12, "stopped with q")


def test_abandoning_leaves_what_was_flushed(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    writer = new(path)
    writer.write(readings(2))
    writer.flush()
    writer.write(readings(2))
    writer.abandon()
    writer.abandon()
    recording = read_recording(path)
    assert recording.readings == 2
    assert "cut off" in recording.problems[0]


def test_while_it_is_written_a_reader_says_so(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with new(path) as writer:
        writer.write(readings(3))
        writer.flush()
        recording = read_recording(path)
    assert recording.problems == [
        "The recording is still being written; it was read up to line 6, at 0.200 s (2026-03-01 08:00:00 UTC)."
    ]


def test_readings_that_find_no_room_in_memory_become_a_loss_in_the_recording(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with new(path, buffer_limit_bytes=2000) as writer:
        for reading in readings(400):
            writer.write([reading])
        assert writer.pending_bytes <= 2000
        writer.close(40_000_000_000, "end")
    recording = read_recording(path)
    assert recording.complete
    assert [entry.channel for entry in recording.channels] == [0, 1]
    kept = recording.readings
    assert 50 < kept < 100
    (event,) = recording.events
    assert event.kind == "loss"
    assert event.text.startswith(f"{400 - kept} readings from 0.0 s to {(399 - kept) / 10:.1f} s were lost")
    assert recording.columns(1).value[-1] == 3600.0 + 399


def test_writing_and_flushing_from_two_threads_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with new(path, buffer_limit_bytes=1 << 26) as writer:
        done = threading.Event()

        def flush_on() -> None:
            while not done.is_set():
                writer.flush()

        thread = threading.Thread(target=flush_on)
        thread.start()
        for start in range(0, 30_000, 3):
            writer.write([Reading(0, start + i, float(start + i)) for i in range(3)])
        done.set()
        thread.join()
        writer.close(30_000, "end")
    assert read_recording(path).columns(0).value.tolist() == [float(i) for i in range(30_000)]


def child(code: str, *arguments: object) -> subprocess.Popen[str]:
    """A Python process of its own that runs the code; ``path`` is its first argument."""
    head = """
        import os, resource, sys, time
        from pathlib import Path
        from daq.errors import OutputError
        from tests.daq.recording.builders import SESSION, SPEED, VOLTS, readings
        from daq.recording.writer import RecordingWriter
        path = Path(sys.argv[1])
    """
    return subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(head) + textwrap.dedent(code), *map(str, arguments)],
        stdout=subprocess.PIPE,
        text=True,
    )


FULL = """
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), resource.RLIM_INFINITY))
    writer = RecordingWriter.create(path, SESSION, force=False)
    writer.write([VOLTS, SPEED])
    failures = []
    lines = readings(2000)
    for start in range(0, 2000, 17):
        writer.write(lines[start : start + 17])
        if start % 34 == 0:
            try:
                writer.flush()
            except OutputError as error:
                failures.append(str(error))
                assert path.read_bytes().endswith(b"\\n")
                assert writer.readings == path.read_bytes().count(b"\\n[")
    waiting, standing = writer.pending_bytes, path.stat().st_size
    try:
        writer.close(1, "too early")
    except OutputError:
        pass
    size = path.stat().st_size
    assert size == standing <= int(sys.argv[2])
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    writer.close(200_000_000_000, "end")
    print(waiting, failures[0])
"""


@pytest.mark.parametrize("limit_bytes", [20_000, 20_001, 20_013, 20_021, 20_028])
def test_a_file_that_may_not_grow_stays_whole_and_goes_on_when_there_is_room(
    tmp_path: Path, limit_bytes: int
) -> None:
    """A real limit of the operating system, in a process of its own."""
    path = tmp_path / "run.jsonl"
    with child(FULL, path, limit_bytes) as process:
        out = process.communicate(timeout=60)[0]
    assert process.returncode == 0
    waiting, _, sentence = out.partition(" ")
    assert int(waiting) > 20_000
    assert sentence == (
        "run.jsonl has reached the greatest size that is allowed for a file. What stands in it is whole.\n"
    ), "how much waits changes while the sentence stands, and an import has nothing that waits"
    recording = read_recording(path)
    assert recording.problems == []
    assert recording.readings == 2000
    assert recording.columns(0).t_ns.tolist() == [r.t_ns for r in readings(2000) if r.channel == 0]


def test_a_closing_line_that_finds_no_room_is_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    code = """
        writer = RecordingWriter.create(path, SESSION, force=False)
        writer.write([VOLTS, SPEED, *readings(10)])
        writer.flush()
        whole = path.read_bytes()
        resource.setrlimit(resource.RLIMIT_FSIZE, (len(whole) + 40, resource.RLIM_INFINITY))
        try:
            writer.close(1, "too early")
        except OutputError as error:
            print(error)
        assert path.read_bytes() == whole
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        writer.write(readings(20)[10:])
        writer.close(2_000_000_000, "end")
    """
    with child(code, path) as process:
        assert "greatest size" in process.communicate(timeout=60)[0]
    recording = read_recording(path)
    assert recording.problems == []
    assert recording.readings == 20
    assert recording.close is not None
    assert recording.close.reason == "end"


def test_no_room_for_the_first_line_leaves_nothing_behind(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    code = """
        resource.setrlimit(resource.RLIMIT_FSIZE, (50, resource.RLIM_INFINITY))
        try:
            RecordingWriter.create(path, SESSION, force=False)
        except OutputError as error:
            print(error)
    """
    with child(code, path) as process:
        out = process.communicate(timeout=60)[0]
    assert "greatest size" in out
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def small_disk(tmp_path: Path) -> object:
    """A file system of 64 kB."""
    where = tmp_path / "disk"
    where.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(where)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("mounting a small file system is not allowed here; the size limit tests cover the writer")
    yield where
    subprocess.run(["umount", str(where)], check=True)


def test_a_full_disk_is_told_and_left_whole_until_there_is_room(small_disk: Path) -> None:
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(40_000))
    path = small_disk / "run.jsonl"
    with new(path) as writer:
        with pytest.raises(OutputError, match="The disk is full: run.jsonl can't grow.*make room"):  # noqa: PT012 - it fails at the flush that finds no room
            for reading in readings(2000):
                writer.write([reading])
                writer.flush()
        assert path.read_bytes().endswith(b"\n")
        before = read_recording(path).readings
        writer.write(readings(2000)[before + 1 :])
        ballast.unlink()
        writer.close(200_000_000_000, "end")
    recording = read_recording(path)
    assert recording.complete
    assert recording.readings == 2000


KILLED = """
    writer = RecordingWriter.create(path, SESSION, force=False)
    writer.write([VOLTS, SPEED])
    for start in range(0, 2_000_000, 7):
        writer.write(readings(start + 7)[start:] if start < 70 else
                     [type(r)(r.channel, start * 10**8 + r.t_ns, r.value) for r in readings(7)])
        writer.flush()
        print(writer.readings, flush=True)
"""


@pytest.mark.parametrize("batches", [1, 3, 40, 171])
def test_a_writer_that_is_killed_leaves_every_flushed_reading(tmp_path: Path, batches: int) -> None:
    path = tmp_path / "run.jsonl"
    with child(KILLED, path) as process:
        assert process.stdout is not None
        for _ in range(batches):
            told = int(process.stdout.readline())
        process.send_signal(signal.SIGKILL)
        told = max([told, *(int(line) for line in process.stdout if line.endswith("\n"))])
    recording = read_recording(path)
    assert told <= recording.readings <= told + 7  # one flush may have been done and not yet told
    assert "cut off" in recording.problems[-1]


def test_missing_and_odd_values_are_written_as_null(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with new(path) as writer:
        writer.write([Reading(0, 1000, float("nan")), Reading(0, 2999, float("inf"), Quality.OVERLOAD)])
        writer.close(3, "end")
    rows = [json.loads(line) for line in path.read_text().splitlines() if line.startswith("[")]
    assert rows == [[0, 1, None, 2], [0, 2, None, 1]]


def test_the_limit_of_this_process_is_untouched() -> None:
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
