"""Instruments that are unplugged and plugged in again, that send junk, too fast, or stop in mid-line."""

from __future__ import annotations

import contextlib
import os
import pty
import random
import threading
import time
import tty
from pathlib import Path
from typing import NamedTuple, Self

import numpy as np

from daq.capture.launch import CaptureProcess
from daq.model.reading import Quality
from daq.recording.reader import read_recording
from tests.daq.capture.runs import events, spec
from tests.faults.port import drained
from tests.faults.rig import Figure, counted, wait_until

__all__ = ["FIRST_NUMBER", "Flooded", "Plug", "Replugged", "figures", "flood", "held_by", "replug"]

FIRST_NUMBER = 10_000
"""All numbers have five digits, so that half of one is never one of them."""
_WAIT_S = 15.0
_SPOILT = 4
"""Numbers: a line in which it halted, and the one after it, or two halves of them."""


class Plug:
    """An instrument whose plug can be pulled; its port keeps its name, as ports do that are named by their place.

    It goes on counting while it is unplugged. Use as a context manager.
    """

    def __init__(self, name: Path, period_s: float = 0.01) -> None:
        self.name = name
        self._period_s = period_s
        self._number = FIRST_NUMBER
        self._master = self._slave = -1
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, daemon=True)

    @property
    def next_number(self) -> int:
        """The number that its next line will carry."""
        return self._number

    def plug_in(self) -> None:
        """Come back, on whatever pseudo-terminal the system gives."""
        with self._lock:
            self._master, self._slave = pty.openpty()
            tty.setraw(self._slave)
            os.set_blocking(self._master, False)
            self.name.symlink_to(os.ttyname(self._slave))

    def pull(self, last_words: bytes = b"") -> None:
        """Go away, perhaps in the middle of a line; what was sent has been read by then, if anybody reads."""
        with self._lock:
            if last_words:
                self._say(last_words)
            drained(self._slave)
            self.name.unlink()
            os.close(self._slave)
            os.close(self._master)
            self._master = -1

    def halt(self, last_words: bytes, seconds: float) -> None:
        """Stop in the middle of a line, and begin anew after a while."""
        with self._lock:
            self._say(last_words)
            time.sleep(seconds)

    def say(self, data: bytes) -> None:
        """Send bytes by hand."""
        with self._lock:
            self._say(data)

    def __enter__(self) -> Self:
        self.plug_in()
        self._thread.start()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._stop.set()
        self._thread.join(5)
        if self._master >= 0:
            self.pull()

    def _say(self, data: bytes) -> int:
        try:
            return os.write(self._master, data)
        except BlockingIOError:
            return 0

    def _work(self) -> None:
        rest = b""
        while not self._stop.wait(self._period_s):
            with self._lock:
                if not rest:
                    rest, self._number = b"AC %d V\r\n" % self._number, self._number + 1
                rest = rest[self._say(rest) :] if self._master >= 0 else b""


class Replugged(NamedTuple):
    """What became of a run."""

    times: int
    false: int
    """Values that were never sent."""
    disorder: int
    """Values doubled or out of order."""
    holes: int
    """Numbers that are missing while the plug was in and the port open, but for those that a halt spoils."""
    reopened_s: float
    """The longest from a plug put back to the first reading of it."""
    told: tuple[int, int]
    """Events of a link lost, and of a link that is back."""
    descriptors: tuple[int, int]
    """Open files of the capture before and after."""
    threads: tuple[int, int]
    grown_mb: float
    """Growth of the capture's memory."""


def replug(folder: Path, times: int, ports: int, seed: int = 1) -> Replugged:
    """Pull and plug in again, so many times in all over so many ports of one run."""
    path = folder / "plugs.jsonl"
    rng = random.Random(seed)
    with contextlib.ExitStack() as stack:
        plugs = [stack.enter_context(Plug(folder / f"port-{n}")) for n in range(ports)]
        wanted = spec(path, *(("text-volts", str(plug.name)) for plug in plugs), patient=True)
        capture = stack.enter_context(CaptureProcess.start(wanted))
        wait_until(lambda: all(counted(path, n) > 5 for n in range(ports)), "first readings")
        before = held_by(capture.pid)
        pulled: list[list[tuple[int, int]]] = [[] for _ in plugs]
        for _ in range(times // ports):
            for number, plug in enumerate(plugs):
                gone = plug.next_number
                plug.pull(rng.choice((b"", b"AC 1", b"AC 99", b"\xff\x00junk")))
                pulled[number].append((gone, 0))
            time.sleep(rng.uniform(0.0, 0.3))
            for number, plug in enumerate(plugs):
                plug.plug_in()
                plug.say(rng.choice((b"", b"\x00\x80\r\n", b"9 V\r\n")))
                pulled[number][-1] = (pulled[number][-1][0], plug.next_number)
            _await_readings(path, [gaps[-1][1] for gaps in pulled])
            plugs[rng.randrange(ports)].halt(b"AC 12", rng.choice((0.1, 0.7)))
        after = held_by(capture.pid)
        capture.stop()
        capture.wait(10)
    judged = [_judge(path, n, gaps) for n, gaps in enumerate(pulled)]
    false, disorder, holes = np.sum([each[:3] for each in judged], axis=0).tolist()
    told = (len(events(path, "link_lost")), len(events(path, "link_back")))
    return Replugged(
        times // ports * ports,
        false,
        disorder,
        holes,
        max(each[3] for each in judged) * 0.01,
        told,
        (before[0], after[0]),
        (before[1], after[1]),
        (after[2] - before[2]) / 1e6,
    )


def _await_readings(path: Path, back_from: list[int]) -> None:
    """Wait until each instrument has been read again for a while."""
    end_s = time.monotonic() + _WAIT_S
    while True:
        recording = read_recording(path)
        newest = [np.nanmax(recording.columns(n).value) for n in range(len(back_from))]
        if all(high >= first + 3 for high, first in zip(newest, back_from, strict=True)):
            return
        assert time.monotonic() < end_s, f"not read again: {newest} where {back_from} came back"
        time.sleep(0.05)


def _judge(path: Path, channel: int, pulled: list[tuple[int, int]]) -> tuple[int, int, int, int]:
    """Values that are false, that are out of order, and that are missing; and the most that opening a port cost."""
    column = read_recording(path).columns(channel)
    values = column.value[column.quality == int(Quality.GOOD)].astype(np.int64)
    false = int((values < FIRST_NUMBER).sum())
    values = values[values >= FIRST_NUMBER]
    disorder = int((np.diff(values) <= 0).sum())
    missing, longest, begin = 0, 0, int(values[0])
    for gone, back in [*pulled, (int(values[-1]) + 1, 0)]:
        inside = values[(values >= begin) & (values < gone)]
        missing += max(0, gone - _SPOILT - begin - len(inside))
        if back:
            begin = int(values[values >= back][0])
            longest = max(longest, begin - back)
    return false, disorder, missing, longest


def held_by(pid: int) -> tuple[int, int, int]:
    """Open files, threads, and bytes of resident memory of a process."""
    status = Path(f"/proc/{pid}/status").read_text()
    fields = dict(line.split(":", 1) for line in status.splitlines())
    return (
        len(os.listdir(f"/proc/{pid}/fd")),
        int(fields["Threads"]),
        int(fields["VmRSS"].split()[0]) * 1024,
    )


class Flooded(NamedTuple):
    """What became of an instrument that sends without pause, and of its neighbour."""

    rate_hz: float
    """Lines a second that were recorded."""
    disorder: int
    """Values never sent, doubled, or out of order."""
    untold: int
    """Holes among its values at which no loss is told."""
    neighbour_lost: int
    closed_after_s: float
    """From the wish to stop to the closed recording."""


def flood(folder: Path, seconds: float) -> Flooded:
    """One instrument sends as fast as the line takes it, the other as usual."""
    path = folder / "flood.jsonl"
    with (
        Plug(folder / "fast", period_s=0.0) as fast,
        Plug(folder / "usual", period_s=0.01) as usual,
        CaptureProcess.start(spec(path, *(("text-volts", str(p.name)) for p in (fast, usual)))) as capture,
    ):
        wait_until(lambda: path.exists() and path.stat().st_size > 100_000, "the first readings")
        time.sleep(seconds)
        stopped_s = time.monotonic()
        capture.stop()
        capture.wait(20)
        closed_after_s = time.monotonic() - stopped_s
    recording = read_recording(path)
    column, other = recording.columns(0), recording.columns(1).value
    good = np.flatnonzero(column.quality == int(Quality.GOOD))
    steps = np.diff(column.value[good])
    between = np.diff(good)
    rate_hz = len(good) / float(column.t_ns[-1] - column.t_ns[0]) * 1e9
    return Flooded(
        rate_hz,
        int((steps <= 0).sum() + (column.value[good] < FIRST_NUMBER).sum()),
        int(((steps > 1) & (between == 1)).sum()),
        int((np.diff(other) != 1).sum()),
        closed_after_s,
    )


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    found = replug(folder, 200 if long else 20, 4)
    wrong = found.false + found.disorder + found.holes
    fast = flood(folder, 60.0 if long else 2.0)
    return [
        Figure(
            f"{found.times} times unplugged, in mid-line and with junk: false, doubled, missing values",
            "0",
            str(wrong),
            wrong == 0,
        ),
        Figure(
            "the same: the longest from a plug put back to its first reading",
            "5 s",
            f"{found.reopened_s:.1f} s",
            found.reopened_s < 5.0,
        ),
        Figure(
            "the same: told lost and back",
            f"{found.times}, {found.times}",
            f"{found.told[0]}, {found.told[1]}",
            found.told == (found.times, found.times),
        ),
        Figure(
            "the same: open files, threads, memory of the capture grown by",
            "0, 0, 5 MB",
            f"{found.descriptors[1] - found.descriptors[0]}, {found.threads[1] - found.threads[0]}, "
            f"{found.grown_mb:.1f} MB",
            found.descriptors[0] == found.descriptors[1]
            and found.threads[0] == found.threads[1]
            and found.grown_mb < 5,
        ),
        Figure(
            f"an instrument without pause ({fast.rate_hz:.0f} lines/s): disorder, holes not told; neighbour's loss",
            "0, 0; 0",
            f"{fast.disorder}, {fast.untold}; {fast.neighbour_lost}",
            fast.disorder + fast.untold + fast.neighbour_lost == 0,
        ),
        Figure(
            "the same: closed after it was asked to stop",
            "2 s",
            f"{fast.closed_after_s:.1f} s",
            fast.closed_after_s < 2.0,
        ),
    ]
