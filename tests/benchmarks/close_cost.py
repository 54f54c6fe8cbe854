"""What it costs to compare a recording with what was written into it: a piece each second, and all of it at the end.

Run as ``python -m tests.benchmarks.close_cost [MEGABYTES ...]``; a day of usual instruments is 80 MB. Prints the
time of each beside a plain reading of the same file, out of the system's memory and (Linux) from the disk, and that
of putting the recording into a new file where something has changed its middle.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from daq.model.reading import Reading
from daq.recording.entries import SessionEntry
from daq.recording.writer import RecordingWriter

_BATCH = 20_000
_LOOKS = 30
_READ_BYTES = 1024 * 1024


def _write(writer: RecordingWriter, megabytes: int) -> None:
    number = 0
    while writer.path.stat().st_size < megabytes * 1_000_000:
        writer.write(
            [Reading(i % 2, i * 1_000_000, 20.5 + i % 800 / 8) for i in range(number, number + _BATCH)]
        )
        writer.flush()
        number += _BATCH
    writer.sync()


def _plain(path: Path) -> None:
    with path.open("rb") as file:
        while file.read(_READ_BYTES):
            pass


def _s(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _forget(path: Path) -> None:
    """Have the system read the file from the disk next time."""
    with path.open("rb") as file:
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def measure(folder: Path, megabytes: int) -> None:
    """Print one recording's figures."""
    session = SessionEntry(program="benchmark", started_utc="2026-03-01T08:00:00Z", source="run")
    with RecordingWriter.create(folder / f"{megabytes}.jsonl", session, force=True) as writer:
        _write(writer, megabytes)
        look_s = sum(_s(writer.go_on_if_changed) for _ in range(_LOOKS)) / _LOOKS
        print(f"{megabytes} MB: a look each second {look_s * 1e3:.2f} ms")
        for where in ("in memory", "on the disk"):
            times = []
            for work in (lambda: writer.compare(lambda: False), lambda: _plain(writer.path)):
                if where == "on the disk":
                    _forget(writer.path)
                times.append(_s(work))
            print(f"  {where}: compared {times[0]:.3f} s, {times[0] / times[1]:.1f} times a plain reading")
        with writer.path.open("r+b") as file:
            file.seek(megabytes * 500_000)
            file.write(b"changed")
        writer.compare(lambda: False)
        print(f"  spoilt: in a new file after {_s(writer.go_on_if_changed):.3f} s")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        for size in map(int, sys.argv[1:] or ["1", "80"]):
            measure(Path(made), size)
