"""What every fault is tried on: counting instruments in processes of their own, and a capture that records them."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from daq.capture.launch import CaptureProcess
from daq.recording.reader import read_recording
from tests.daq.capture.runs import lines, of_channel, spec
from tests.faults.sender import RECORD
from tests.tui.program import start

__all__ = [
    "Counter",
    "Figure",
    "Seen",
    "counted",
    "counters",
    "program_recording",
    "readings_lost",
    "seen_in",
    "start_capture",
    "wait_until",
]

Int64 = NDArray[np.int64]
_TEMPLATES = {"text-volts": "AC %d V", "text-speed": "%d rpm"}


class Figure(NamedTuple):
    """A row of the table of figures."""

    what: str
    wanted: str
    measured: str
    met: bool

    def row(self) -> str:
        """The row as text."""
        return f"{self.what} | {self.wanted} | {self.measured}{'' if self.met else '  <- NOT MET'}"


class Counter:
    """A counting instrument; see :mod:`tests.faults.sender`. Use as a context manager.

    Args:
        card: text-volts or text-speed.
        folder: where its log goes.
        period_s: from line to line.
    """

    def __init__(self, card: str, folder: Path, period_s: float = 0.01) -> None:
        self.card = card
        self._log = folder / f"sent-{card}-{time.monotonic_ns()}.bin"
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.sender", _TEMPLATES[card], str(period_s), str(self._log)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._process.stdout is not None
        self.address = self._process.stdout.readline().strip()

    def sent(self) -> tuple[Int64, Int64]:
        """Numbers sent so far, and when, in monotonic nanoseconds."""
        data = self._log.read_bytes()
        whole = np.frombuffer(data[: len(data) // RECORD.size * RECORD.size], "<i8").reshape(-1, 2)
        return whole[:, 0], whole[:, 1]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(30)
        self._process.stdout.close()


@contextlib.contextmanager
def counters(folder: Path, period_s: float = 0.01) -> Iterator[tuple[Counter, Counter]]:
    """A meter and a tach that count."""
    with Counter("text-volts", folder, period_s) as meter, Counter("text-speed", folder, period_s) as tach:
        yield meter, tach


@contextlib.contextmanager
def program_recording(folder: Path, path: Path, least: int) -> Iterator[subprocess.Popen[str]]:
    """The program recording two counting instruments without a terminal, once it has so many readings."""
    with counters(folder) as instruments:
        named = [word for one in instruments for word in ("-i", f"{one.card}@{one.address}")]
        with start("run", *named, "--headless", "--out", str(path), folder=folder) as process:
            assert process.stdout is not None
            assert process.stdout.readline(), "the program follows its recording"
            wait_until(lambda: counted(path, 1) > least, "first readings")
            yield process


def start_capture(path: Path, *instruments: Counter, **more: object) -> CaptureProcess:
    """Start recording them."""
    return CaptureProcess.start(spec(path, *((one.card, one.address) for one in instruments), **more))


class Seen(NamedTuple):
    """What a recording holds of a counting instrument."""

    numbers: Int64
    t_ns: Int64
    """From the session's start."""


def seen_in(path: Path, channel: int) -> Seen:
    """The readings of a channel that have a value."""
    column = read_recording(path).columns(channel)
    known = ~np.isnan(column.value)
    return Seen(column.value[known].astype(np.int64), column.t_ns[known])


def counted(path: Path, channel: int) -> int:
    """How many readings of a channel there are."""
    return len(of_channel(path, channel)) if path.exists() else 0


def readings_lost(seen: Seen) -> int:
    """How many numbers are missing, doubled or out of order between the first and the last."""
    if len(seen.numbers) < 2:
        return 0
    return int(np.abs(np.diff(seen.numbers) - 1).sum())


def wait_until(condition: Callable[[], bool], what: str, within_s: float = 40.0) -> None:
    """Wait for another process; AssertionError when it does not come about."""
    end_s = time.monotonic() + within_s
    while not condition():
        assert time.monotonic() < end_s, f"in vain: {what}"
        time.sleep(0.02)


def last_line(path: Path) -> object:
    """The last whole line."""
    return lines(path)[-1]
