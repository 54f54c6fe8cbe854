"""How much a writer really holds in memory, against what the README and the developers' document promise."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec

from daq.model.reading import Reading
from daq.recording.entries import MarkEntry
from daq.recording.reader import read_recording
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import SESSION, SPEED, VOLTS

_MB = 1_000_000
_BATCH = 2000
_STEP_NS = 100_000


def _batch(number: int) -> list[Reading]:
    """Long lines, so that fewer of them fill a memory; much quicker after each other than any instrument's."""
    of_all = range(number * _BATCH, (number + 1) * _BATCH)
    return [Reading(0, i * _STEP_NS, 3600.123456789012) for i in of_all]


def _marks(count: int, size: int) -> list[MarkEntry]:
    return [MarkEntry(t_ns=0, text="x" * size)] * count


def test_of_a_spoilt_recording_the_last_five_minutes_are_kept_at_usual_rates(tmp_path: Path) -> None:
    """Two instruments with ten readings a second each, six minutes long."""
    with RecordingWriter.create(tmp_path / "run.jsonl", SESSION, force=False) as writer:
        writer.write([VOLTS, SPEED])
        for second in range(360):
            times_ns = [second * 10**9 + tenth * 10**8 for tenth in range(10)]
            writer.write([Reading(channel, t_ns, 3600.25) for t_ns in times_ns for channel in (0, 1)])
            writer.flush()
        os.truncate(writer.path, 0)
        moved = writer.go_on_if_changed()
        writer.close(360 * 10**9, "end")
    assert moved is not None
    recording = read_recording(moved.path)
    assert recording.problems == []
    first_s = round(recording.columns(0).t_ns[0] / 1e9)
    assert 58 <= first_s <= 60
    assert (recording.readings, moved.lost_readings) == (20 * (360 - first_s), 20 * first_s)


def test_of_a_spoilt_recording_the_last_8_mb_are_kept_at_high_rates(tmp_path: Path) -> None:
    with RecordingWriter.create(tmp_path / "run.jsonl", SESSION, force=False) as writer:
        writer.write([VOLTS])
        batches = 0
        while writer.path.stat().st_size < 10 * _MB:
            writer.write([*_batch(batches), *_marks(1, 200_000)])
            writer.flush()
            batches += 1
        stood = writer.path.read_bytes()
        os.truncate(writer.path, 0)
        moved = writer.go_on_if_changed()
        assert moved is not None
        now = moved.path.read_bytes()
    kept = now[now.index(b"\n[") + 1 :]
    assert stood.endswith(kept)
    assert 8 * _MB < len(kept) < 8.5 * _MB
    assert moved.lost_readings + now.count(b"\n[") == batches * _BATCH
    assert moved.lost_readings > 0


def test_64_mb_wait_while_the_disk_takes_nothing_and_beyond_that_the_oldest_readings_go(
    tmp_path: Path,
) -> None:
    with RecordingWriter.create(tmp_path / "run.jsonl", SESSION, force=False) as writer:
        writer.write([VOLTS, *_marks(63, _MB)])  # no mark ever goes
        batches = 0
        while batches * _BATCH * 30 < 5 * _MB:
            writer.write(_batch(batches))
            batches += 1
        assert 64 * _MB < writer.pending_bytes < 68 * _MB
        writer.flush()
        data = writer.path.read_bytes()
    lines = data.split(b"\n")
    rows = msgspec.json.decode(b"[" + b",".join(line for line in lines if line.startswith(b"[")) + b"]")
    told = [msgspec.json.decode(line)["text"] for line in lines if b'"loss"' in line[:200]]
    lost = batches * _BATCH - len(rows)
    assert [row[1] * 1000 for row in rows] == [i * _STEP_NS for i in range(lost, batches * _BATCH)]
    assert lost > 0
    assert len(told) == 1
    assert told[0].startswith(f"{lost} readings from 0.0 s to {(lost - 1) * _STEP_NS / 1e9:.1f} s were lost")
