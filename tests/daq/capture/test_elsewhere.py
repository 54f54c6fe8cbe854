"""What a disk does not take at the end of a run: in which other files it is, and how much of it is lost."""

from __future__ import annotations

import asyncio
import os
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from daq.capture.elsewhere import told_of_rest
from daq.capture.sink import Sink
from daq.errors import OutputError
from daq.recording.lines import encode_lines
from daq.recording.pending import Chunk
from daq.recording.reader import read_recording
from daq.recording.rest import write_rest
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, readings

_COUNT = 700
_CLOSED = """
    import asyncio, resource, sys
    from pathlib import Path
    from daq.capture import elsewhere, sink as sinks
    from daq.capture.sink import Sink
    from daq.errors import OutputError
    from daq.recording.writer import RecordingWriter
    from tests.daq.recording.builders import SESSION, SPEED, VOLTS, readings

    async def run(path, limit_bytes, most_files):
        elsewhere._MOST_FILES, sinks._CLOSE_AGAIN_S = most_files, 0.01
        writer = RecordingWriter.create(path, SESSION, force=False)
        writer.write([VOLTS, SPEED])
        writer.flush()
        limit_bytes = limit_bytes or path.stat().st_size
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, resource.RLIM_INFINITY))
        sink = Sink(writer, *[lambda told: None] * 3, lambda: 10**12)
        lines = readings(700)
        for start in range(0, 700, 70):
            sink.put(lines[start : start + 70])
        try:
            await sink.close("end")
        except OutputError as error:
            print(error)

    asyncio.run(run(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])))
"""
_FULL = "run.jsonl has reached the greatest size that is allowed for a file. What stands in it is whole. "


def _closed(folder: Path, limit_bytes: int, *, most_files: int = 99) -> str:
    """What a capture says whose files may not be larger; the homes are subfolders."""
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            textwrap.dedent(_CLOSED),
            folder / "run.jsonl",
            str(limit_bytes),
            str(most_files),
        ],
        env=os.environ | {"HOME": str(folder / "home"), "TMPDIR": str(folder / "temp")},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr == ""
    return done.stdout.strip()


def _in_row(*paths: Path) -> int:
    """How many of the readings, from the first on, stand in these files together; no file lacks its closing line."""
    recordings = [read_recording(path) for path in paths]
    assert all(recording.complete for recording in recordings[1:])
    times = sorted(t for one in recordings for n in (0, 1) for t in one.columns(n).t_ns.tolist())
    assert times == [reading.t_ns for reading in readings(_COUNT)[: len(times)]]
    return len(times)


def test_a_rest_that_does_not_fit_into_one_file_goes_into_several(tmp_path: Path) -> None:
    (tmp_path / "home").mkdir()
    told = _closed(tmp_path, 4096)
    files = [tmp_path / "home" / f"run-rest{number}.jsonl" for number in ("", "-2", "-3", "-4", "-5")]
    files = [path for path in files if path.exists()]
    assert len(files) > 2
    assert all(path.stat().st_size <= 4096 for path in files)
    assert _in_row(tmp_path / "run.jsonl", *files) == _COUNT
    saved = _COUNT - read_recording(tmp_path / "run.jsonl").readings
    assert told == (
        f"{_FULL}The {saved} readings that it did not take are in {files[0]} to {files[-1].name} "
        f"({len(files)} files)."
    )


def test_where_there_is_no_home_folder_the_rest_is_in_the_temporary_one(tmp_path: Path) -> None:
    (tmp_path / "temp").mkdir()
    told = _closed(tmp_path, 12_000)
    rest = tmp_path / "temp" / "run-rest.jsonl"
    assert _in_row(tmp_path / "run.jsonl", rest) == _COUNT
    assert told.endswith(f"readings that it did not take are in {rest}.")


def test_what_no_place_takes_is_counted(tmp_path: Path) -> None:
    (tmp_path / "home").mkdir()
    (tmp_path / "temp").mkdir()
    told = _closed(tmp_path, 3000, most_files=2)
    files = [
        tmp_path / folder / name
        for folder in ("home", "temp")
        for name in ("run-rest.jsonl", "run-rest-2.jsonl")
    ]
    there = _in_row(tmp_path / "run.jsonl", *files)
    in_run = read_recording(tmp_path / "run.jsonl").readings
    assert told == (
        f"{_FULL}Of the {_COUNT - in_run} readings that it did not take the first {there - in_run} are in "
        f"{files[0]} to run-rest-2.jsonl (2 files) and {files[2]} to run-rest-2.jsonl (2 files). No place took more: "
        f"{_COUNT - there} readings after that are lost."
    )


def test_where_no_place_takes_any_all_are_counted(tmp_path: Path) -> None:
    (tmp_path / "home").mkdir()
    assert _closed(tmp_path, 0) == f"{_FULL}No other place took the rest either: {_COUNT} readings are lost."
    assert list((tmp_path / "home").iterdir()) == []


def test_a_recording_that_has_no_place_at_all_is_told_as_lost_and_asks_for_nothing_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    monkeypatch.setattr("daq.capture.elsewhere._MOST_FILES", 0)
    monkeypatch.setattr("daq.capture.sink._CLOSE_AGAIN_S", 0.01)

    async def run() -> str:
        writer = RecordingWriter.create(folder / "run.jsonl", SESSION, force=False)
        writer.write([VOLTS, SPEED, *readings(_COUNT)])
        writer.flush()
        sink = Sink(writer, print, print, print, lambda: 10**12)
        sink.put(readings(_COUNT + 9)[_COUNT:])
        shutil.rmtree(folder)
        folder.write_text("precious")
        with pytest.raises(OutputError) as told:
            await sink.close("end")
        return str(told.value)

    told = asyncio.run(run())
    assert told == (
        f"run.jsonl was removed or changed while it was written, and can't be put back into {folder} (File exists). "
        f"No other place took the rest either: {_COUNT + 9} readings are lost."
    )


@pytest.fixture
def mounted(tmp_path: Path) -> object:
    """A file system of 12 kB."""
    where = tmp_path / "disk"
    where.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=12k", "tmpfs", str(where)], capture_output=True, check=False
    )
    if made.returncode != 0:
        pytest.skip("mounting a small file system is not allowed here; the size limit tests cover the rest")
    yield where
    subprocess.run(["umount", str(where)], check=True)


def test_a_full_disk_gets_as_much_of_the_rest_as_it_takes(mounted: Path) -> None:
    head = [Chunk(encode_lines([line])) for line in (SESSION, VOLTS, SPEED)]
    waiting = [Chunk(encode_lines([one]), 1, one.t_ns, one.t_ns) for one in readings(_COUNT)]
    path = mounted / "run-rest.jsonl"
    left = write_rest(path, head, [*head, *waiting], 9, "end")
    recording = read_recording(path)
    assert recording.complete
    assert recording.readings > 300
    assert left == waiting[recording.readings :]
    assert path.stat().st_size > 12_288 - 100
    with pytest.raises(OutputError, match="No space left"):
        write_rest(mounted / "run-rest-2.jsonl", head, left, 9, "end")
    assert [one.name for one in mounted.iterdir()] == ["run-rest.jsonl"]


@pytest.mark.parametrize(
    ("saved", "lost", "told"),
    [
        (1, 0, "The 1 reading that it did not take is in a.jsonl."),
        (0, 0, "What it did not take is in a.jsonl."),
        (
            1,
            1,
            "Of the 2 readings that it did not take the first one is in a.jsonl. No place took more: 1 reading after",
        ),
    ],
)
def test_few_readings_are_told_in_their_own_words(saved: int, lost: int, told: str) -> None:
    assert told_of_rest([Path("a.jsonl")], saved, lost).startswith(told)
