"""A wall clock that jumps under a real capture: the process alone sees another time, through libfaketime.

Nothing touches the computer's own clock. The monotonic clock is left alone, as a jump of the wall clock leaves it.
"""

from __future__ import annotations

import contextlib
import os
import signal
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from daq.locking import writer_alive
from daq.recording.reader import Recording, read_recording
from tests.faults.rig import (
    Counter,
    Figure,
    counted,
    counters,
    readings_lost,
    seen_in,
    start_capture,
    wait_until,
)

__all__ = [
    "WHY_NOT",
    "Jumped",
    "SetLate",
    "fake_time_library",
    "figures",
    "jump_the_clock",
    "set_the_clock_late",
]

WHY_NOT = "this needs libfaketime (Debian package libfaketime)"
_DAY_S = 86_400


def fake_time_library() -> Path | None:
    """Where libfaketime is, or None."""
    return next(iter(sorted(Path("/usr/lib").glob("*/faketime/libfaketime.so.1"))), None)


class Jumped(NamedTuple):
    """What became of a run."""

    lost: int
    """Readings lost, doubled or out of order."""
    widest_gap_s: float
    """Between two neighbours of one channel, by their stamps."""
    words: list[str]
    """What the recording says of its clocks."""
    off_s: list[float]
    """Wall clock less the run's own at each place where both were noted, from the first."""


def jump_the_clock(folder: Path, by_s: int) -> Jumped:
    """Set the wall clock by that much in the middle of a run, and back again."""
    path, offset = folder / "jump.jsonl", folder / "offset"
    _set(offset, 0)
    with counters(folder) as instruments:
        with _fake_time(offset):
            capture = start_capture(path, *instruments)
        with capture:
            wait_until(lambda: counted(path, 1) > 20, "first readings")
            for seconds, words in ((by_s, 1), (0, 2)):
                _set(offset, seconds)
                wait_until(lambda words=words: len(_words(path)) >= words, "its word")  # type: ignore[misc]  # bound now
                time.sleep(0.2)
            capture.stop()
            capture.wait(30)
    seen = [seen_in(path, channel) for channel in (0, 1)]
    gap_s = max(float(np.diff(one.t_ns).max()) for one in seen) / 1e9
    return Jumped(sum(map(readings_lost, seen)), gap_s, _words(path), _offsets(read_recording(path)))


class SetLate(NamedTuple):
    """What became of a run that began in 1970 and was killed after the clock was set."""

    began: datetime
    """By the clock that was right all the while."""
    words: list[str]
    """What the recording says of its clocks."""
    recording: Recording


def set_the_clock_late(folder: Path) -> SetLate:
    """Begin a run under a clock that shows 1970, set it right, and kill the capture."""
    path, offset = folder / "late.jsonl", folder / "offset"
    _set(offset, 5 - int(time.time()))
    with Counter("text-volts", folder) as meter:
        with _fake_time(offset):
            began = datetime.now(UTC)
            capture = start_capture(path, meter)
        with capture:
            wait_until(lambda: counted(path, 0) > 20, "first readings")
            _set(offset, 0)
            wait_until(lambda: len(_words(path)) > 0, "its word")
            before = counted(path, 0)
            wait_until(lambda: counted(path, 0) > before, "readings after it")
            os.kill(capture.pid, signal.SIGKILL)
            wait_until(lambda: not writer_alive(path), "the end of the capture")
    return SetLate(began, _words(path), read_recording(path))


def _set(offset: Path, seconds: int) -> None:
    draft = offset.with_suffix(".new")
    draft.write_text(f"{seconds:+d}\n")
    draft.replace(offset)


@contextlib.contextmanager
def _fake_time(offset: Path) -> Iterator[None]:
    """What is started in the block takes its wall clock's offset from that file."""
    library = fake_time_library()
    assert library is not None
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LD_PRELOAD", str(library))
        patch.setenv("FAKETIME_TIMESTAMP_FILE", str(offset))
        patch.setenv("FAKETIME_NO_CACHE", "1")
        patch.setenv("FAKETIME_DONT_FAKE_MONOTONIC", "1")
        yield


def _words(path: Path) -> list[str]:
    return [event.text for event in read_recording(path).events if "clock" in event.text]


def _offsets(recording: Recording) -> list[float]:
    return [
        (datetime.fromisoformat(entry.utc) - recording.start).total_seconds() - entry.t_ns / 1e9
        for entry in recording.clocks
    ]


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    del long  # a jump is a jump
    if fake_time_library() is None:
        return [Figure("wall clock set by a day", "0 lost", f"not tried: {WHY_NOT}", False)]
    assert "LD_PRELOAD" not in os.environ
    found = jump_the_clock(folder, _DAY_S)
    return [
        Figure(
            "wall clock set forward by a day and back: readings lost; widest gap of stamps at 100 readings a second",
            "0; 0.1 s",
            f"{found.lost}; {found.widest_gap_s:.3f} s",
            found.lost == 0 and found.widest_gap_s < 0.1,
        ),
        Figure("the same: jumps told in the recording", "2", str(len(found.words)), len(found.words) == 2),
    ]
