"""Instruments that are unplugged and plugged in again, that send junk, too fast, or stop in mid-line."""

from __future__ import annotations

import contextlib
import os
import pty
import random
import threading
import time
import tty
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple, Self

import numpy as np

from daq.capture.launch import CaptureProcess
from daq.model.reading import Quality
from daq.recording.reader import read_recording
from tests.daq.capture.runs import spec
from tests.faults import capture_child
from tests.faults.adapters import Adapter
from tests.faults.rig import Figure, wait_until
from tests.faults.soak_judge import Judge

__all__ = ["Flooded", "Replugged", "Sender", "figures", "flood", "held_by", "replug"]

FIRST_NUMBER, _NUMBERS = 10_000, 90_000
"""All numbers have five digits, so that half of one is never one of them, and more volts can't be. After the last
comes the first again.
"""
REOPENED_WITHIN_S, MOST_GROWN_MB, CLOSED_WITHIN_S = 5.0, 5.0, 2.0
"""What is wanted of them."""


class Sender:
    """An instrument that counts, as fast as it is told to. Use as a context manager."""

    def __init__(self, name: Path, period_s: float) -> None:
        self.name = name
        self._period_s = period_s
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        name.symlink_to(os.ttyname(self._slave))
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._stop.set()
        self._thread.join(30)
        os.close(self._slave)
        os.close(self._master)

    def _say(self, data: bytes) -> int:
        try:
            return os.write(self._master, data)
        except BlockingIOError:
            return 0

    def _work(self) -> None:
        rest, number = b"", 0
        while not self._stop.wait(self._period_s):
            if not rest:
                rest = b"AC %d V\r\n" % (FIRST_NUMBER + number % _NUMBERS)
                number += 1
            rest = rest[self._say(rest) :]


class Replugged(NamedTuple):
    """What became of a run, as the judge of the soak sees it."""

    times: int
    readings: int
    false: int
    """Values that were never sent, or by another instrument."""
    doubled: int
    """Values doubled or out of order."""
    missing: int
    """Numbers at whose hole nothing is told, or more of them than what is told can have cost."""
    reopened_s: float
    """The longest from a plug put back to the first reading of it."""
    told: tuple[int, int]
    """Events of a link lost, and of a link that is back."""
    descriptors: tuple[int, int]
    """Open files of the capture before and after."""
    threads: tuple[int, int]
    grown_mb: float
    """Growth of the capture's memory."""
    faults: list[str]
    """What was found wrong, in words."""


def replug(folder: Path, times: int, ports: int, seed: int = 1) -> Replugged:
    """Pull and plug in again, so many times in all over so many ports of one run.

    All that an instrument sent has been read when its plug is pulled, so that nothing may be missing but what it
    says in the middle of a line.
    """
    path = folder / "plugs.jsonl"
    rng = random.Random(seed)
    for name in ("dev", "usb"):
        (folder / name).mkdir()
    with contextlib.ExitStack() as stack:
        adapters = [stack.enter_context(Adapter(folder, owner)) for owner in range(ports)]
        wanted = spec(path, *(("text-volts", str(folder / "dev" / a.name)) for a in adapters), patient=True)
        capture = stack.enter_context(CaptureProcess.start(wanted, command=capture_child.command(folder)))
        judge = Judge(path, adapters)
        _await_readings(judge, adapters)
        before = held_by(capture.pid)
        for _ in range(times // ports):
            _pull_all(adapters, rng)
            _await_readings(judge, adapters)
            adapters[rng.randrange(ports)].halt(rng.randint(1, 7), rng.choice((0.1, 0.7)), goes_on=False)
            _await_readings(judge, adapters)
        after = held_by(capture.pid)
        capture.stop()
        capture.wait(30)
        judge.look()
    return Replugged(
        times // ports * ports,
        judge.readings,
        judge.false,
        judge.doubled,
        judge.missing,
        judge.slowest_s,
        (judge.events["link_lost"], judge.events["connected"]),
        (before[0], after[0]),
        (before[1], after[1]),
        (after[2] - before[2]) / 1e6,
        judge.faults,
    )


def _pull_all(adapters: Sequence[Adapter], rng: random.Random) -> None:
    """Pull each plug, perhaps in the middle of a line, and put it back under the same name."""
    names = [adapter.name for adapter in adapters]
    for adapter in adapters:
        adapter.pull(rng.choice((b"", b"AC 1", b"AC 99", b"\xff\x00junk")), drain=True)
        assert adapter.pulls[-1].unread == 0, "the capture does not read it"
    time.sleep(rng.uniform(0.0, 0.3))
    for adapter, name in zip(adapters, names, strict=True):
        adapter.plug_in(name, rng.choice((b"", b"\x00\x80\r\n", b"9 V\r\n")))


def _await_readings(judge: Judge, adapters: Sequence[Adapter]) -> None:
    """Wait until all send as they should, and each has been read for a while since it was put back."""
    wait_until(lambda: all(adapter.idle for adapter in adapters), "all send")
    counts = [adapter.count for adapter in adapters]
    wait_until(
        lambda: judge.look() and all(map(judge.back_for_good, range(len(counts)), counts)),
        f"all are read up to {counts}",
    )


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
        Sender(folder / "fast", period_s=0.0) as fast,
        Sender(folder / "usual", period_s=0.01) as usual,
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
    steps = np.diff(column.value[good]) % _NUMBERS
    between = np.diff(good)
    rate_hz = len(good) / float(column.t_ns[-1] - column.t_ns[0]) * 1e9
    return Flooded(
        rate_hz,
        int(
            ((steps < 1) | (steps > _NUMBERS / 2) & (between == 1)).sum()
            + (column.value[good] < FIRST_NUMBER).sum()
        ),
        int(((steps > 1) & (between == 1)).sum()),
        int((np.diff(other) % _NUMBERS != 1).sum()),
        closed_after_s,
    )


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    found = replug(folder, 200 if long else 20, 4)
    wrong = found.false + found.doubled + found.missing
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
            f"{REOPENED_WITHIN_S:g} s",
            f"{found.reopened_s:.1f} s",
            found.reopened_s <= REOPENED_WITHIN_S,
        ),
        Figure(
            "the same: told lost and back",
            f"{found.times}, {found.times}",
            f"{found.told[0]}, {found.told[1]}",
            found.told == (found.times, found.times),
        ),
        Figure(
            "the same: open files, threads, memory of the capture grown by",
            f"0, 0, {MOST_GROWN_MB:g} MB",
            f"{found.descriptors[1] - found.descriptors[0]}, {found.threads[1] - found.threads[0]}, "
            f"{found.grown_mb:.1f} MB",
            found.descriptors[0] == found.descriptors[1]
            and found.threads[0] == found.threads[1]
            and found.grown_mb <= MOST_GROWN_MB,
        ),
        Figure(
            f"an instrument without pause ({fast.rate_hz:.0f} lines/s): disorder, holes not told; neighbour's loss",
            "0, 0; 0",
            f"{fast.disorder}, {fast.untold}; {fast.neighbour_lost}",
            fast.disorder + fast.untold + fast.neighbour_lost == 0,
        ),
        Figure(
            "the same: closed after it was asked to stop",
            f"{CLOSED_WITHIN_S:g} s",
            f"{fast.closed_after_s:.1f} s",
            fast.closed_after_s <= CLOSED_WITHIN_S,
        ),
    ]
