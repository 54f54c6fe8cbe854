"""What is read of a day's processes as it passes: memory, costs, and how far the recording has got."""

from __future__ import annotations

import math
import statistics
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import IO, NamedTuple

from daq.capture.launch import CaptureProcess
from tests.benchmarks.capture_cost import cpu_s
from tests.benchmarks.day_sender import INSTRUMENTS, PER_S
from tests.benchmarks.pace import Pace
from tests.benchmarks.screens import Terminal
from tests.faults.plugs import held_by

__all__ = ["CALM_S", "HEAD", "Day", "Follower"]

CALM_S = 180.0
"""How long a stretch at the computer's own pace lasts: longer by a minute than what a screen looks at."""
_LOOK_EVERY_S = 30.0
_CALMS_DOWN_S = 125.0
_TURNS = 100_000


class Look(NamedTuple):
    """One look of the follower."""

    session_s: float
    took_ms: float
    memory_mb: float


class Calm(NamedTuple):
    """What it cost at the computer's own pace."""

    dashboard: float
    """Share of a core."""
    capture: float
    look_ms: float
    yardstick_ms: float
    """Of a loop that is always the same: how slow the machine was just then."""

    def text(self) -> str:
        """As a line."""
        return (
            f"at the computer's pace: dashboard {100 * self.dashboard:.1f} %, capture {100 * self.capture:.1f} % of a "
            f"core, a look {self.look_ms:.2f} ms on the average, a yardstick {self.yardstick_ms:.2f} ms"
        )


class Hour(NamedTuple):
    """How things stood when an hour had passed; costs are those of that hour."""

    hour: float
    capture_mb: float
    capture_s: float
    follower_mb: float
    look_ms: float
    dashboard_mb: float
    dashboard_s: float
    size: int
    rows: int

    def text(self, before: Hour | None, sent: int) -> str:
        """As a row of the table."""
        size, rows = (before.size, before.rows) if before else (0, 0)
        return (
            f"{self.hour:6.2f}{self.capture_mb:12.1f}{self.capture_s:8.2f}{self.follower_mb:13.1f}{self.look_ms:12.1f}"
            f"{self.dashboard_mb:15.1f}{self.dashboard_s:8.2f}{(self.size - size) / (self.rows - rows):18.2f}"
            f"{sent - self.rows:14d}"
        )


HEAD = "  hour   capture MB  cpu s   follower MB  a look, ms   dashboard MB  cpu s   bytes a reading   on their way"


class Follower:
    """The process that looks, and what it told."""

    def __init__(self, path: Path, times: float) -> None:
        command = [
            sys.executable,
            "-m",
            "tests.benchmarks.day_follower",
            str(path),
            str(_LOOK_EVERY_S / times),
        ]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.looks: list[Look] = []
        self._reader = threading.Thread(target=self._read, args=(self._process.stdout,), daemon=True)
        self._reader.start()

    def _read(self, told: IO[str]) -> None:
        for line in told:
            self.looks.append(Look(*map(float, line.split())))

    def close(self) -> None:
        """End it."""
        self._process.communicate("")
        self._reader.join(5)


def _yardstick_ms() -> float:
    begun_s = time.process_time()
    total = 0
    for number in range(_TURNS):
        total += number
    return 1e3 * (time.process_time() - begun_s)


def _costly(looks: list[Look]) -> float:
    """Where the costliest tenth begins."""
    return statistics.quantiles([look.took_ms for look in looks], n=10)[-1]


class Day:
    """The processes of a run, and what is read of them as it goes on.

    Attributes:
        at_start: how things stood after ten minutes.
        hours: and at the end of each hour.
        calm: what it cost in each calm stretch.
    """

    def __init__(
        self, path: Path, pace: Pace, capture: CaptureProcess, follower: Follower, dashboard: Terminal
    ) -> None:
        self.at_start: Hour | None = None
        self.hours: list[Hour] = []
        self.calm: list[Calm] = []
        self._path, self._pace, self._follower = path, pace, follower
        self._pids = (dashboard.process.pid, capture.pid)
        self._spent = (0.0, 0.0)
        self._looks = self._rows = self._size = 0

    def go(self, hours: float) -> None:
        """Let it pass, and print a row an hour."""
        self._await(600.0)
        self.at_start = self._note()
        for mark_s in [*(3600.0 * hour for hour in range(1, math.ceil(hours))), 3600 * hours - CALM_S]:
            self._await(mark_s)
            before = self.hours[-1] if self.hours else None
            self.hours.append(self._note())
            print(self.hours[-1].text(before, INSTRUMENTS * round(mark_s * PER_S)), flush=True)
            if mark_s in self._pace.calm_at_s:
                self._be_calm()

    def _await(self, session_s: float) -> None:
        while self._pace.session_ns(time.monotonic_ns()) < session_s * 1e9:
            time.sleep(0.01)

    def _be_calm(self) -> None:
        """Look at what it costs at the computer's own pace, which is no part of an hour."""
        time.sleep(_CALMS_DOWN_S)
        before, begun_s, first = self._cpu_s(), time.monotonic(), len(self._follower.looks)
        yardstick = []
        while time.monotonic() < begun_s + CALM_S - _CALMS_DOWN_S - 1.0:
            yardstick.append(_yardstick_ms())
            time.sleep(0.25)
        lasted_s = time.monotonic() - begun_s
        self._spent = self._cpu_s()
        looks = self._follower.looks[first:]
        self._looks = len(self._follower.looks)
        dashboard, capture = ((new - old) / lasted_s for new, old in zip(self._spent, before, strict=True))
        look_ms = statistics.fmean(look.took_ms for look in looks)
        self.calm.append(Calm(dashboard, capture, look_ms, statistics.median(yardstick)))
        print(self.calm[-1].text(), flush=True)

    def _cpu_s(self) -> tuple[float, float]:
        return cpu_s(self._pids[0]), cpu_s(self._pids[1])

    def _note(self) -> Hour:
        """Read all of them."""
        spent = self._cpu_s()
        looks = self._follower.looks[self._looks :]
        self._looks += len(looks)
        with self._path.open("rb") as file:
            file.seek(self._size)
            new = file.read()
        self._size += len(new)
        self._rows += new.count(b"\n[")
        now = Hour(
            self._pace.session_ns(time.monotonic_ns()) / 3.6e12,
            held_by(self._pids[1])[2] / 1e6,
            spent[1] - self._spent[1],
            looks[-1].memory_mb,
            _costly(looks),
            held_by(self._pids[0])[2] / 1e6,
            spent[0] - self._spent[0],
            self._size,
            self._rows,
        )
        self._spent = spent
        return now
