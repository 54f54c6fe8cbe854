"""A recording whose middle something else changes just before its end is compared once more before it is closed."""

from __future__ import annotations

import asyncio
from pathlib import Path

from daq.capture.sink import Sink
from daq.recording.entries import MarkEntry
from daq.recording.moved import Moved
from daq.recording.pieces import PIECE_BYTES
from daq.recording.reader import read_recording
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, readings

_JUNK = b"XXXXXXXXXXXXXXXXXXXXXX"


def test_a_middle_that_was_changed_just_before_the_end_is_filled_in_from_memory(tmp_path: Path) -> None:
    path, own = tmp_path / "run.jsonl", tmp_path / "run-2.jsonl"
    moves: list[Moved] = []

    async def run() -> int:
        writer = RecordingWriter.create(path, SESSION, force=False)
        writer.write([VOLTS, SPEED])
        for reading in readings(100):
            writer.write([reading, MarkEntry(t_ns=reading.t_ns, text="x" * 60_000)])
            writer.flush()
        sink = Sink(writer, print, print, moves.append, lambda: 10**10)
        with path.open("r+b") as file:
            file.seek(3 * PIECE_BYTES)  # a piece whose turn has not come
            file.write(_JUNK)
        return await sink.close("end")

    assert asyncio.run(run()) == 100
    assert [(move.path, move.whole) for move in moves] == [(own, True)]
    recording = read_recording(own)
    assert (recording.problems, recording.complete, recording.readings) == ([], True, 100)
    assert _JUNK in path.read_bytes()
    left = read_recording(path)
    assert left.close is None
    assert "changed after it was closed" not in " ".join(left.problems)
    assert left.problems[-1].endswith(
        "is in run-2.jsonl: something else had changed or replaced run.jsonl during the run."
    )
