"""What is read of a day's processes as it passes: memory, costs, and how far the recording has got."""

from __future__ import annotations

import math
import os
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

__all__ = ["CALM_S", "HEAD", "Cost", "Day", "Follower", "Processes"]

CALM_S = 260.0
"""How long the stretch at the computer's own pace lasts: longer by two minutes than what a screen looks at."""
_LOOK_EVERY_S = 0.15
_CALMS_DOWN_S = 160.0


class Look(NamedTuple):
    """One look of the follower."""

    session_s: float
    took_ms: float
    memory_mb: float


class Cost(NamedTuple):
    """What a session's processes cost at the computer's own pace."""

    dashboard: float
    """Share of a core."""
    capture: float
    look_ms: float

    def text(self) -> str:
        """As words."""
        return (
            f"dashboard {100 * self.dashboard:.2f} %, capture {100 * self.capture:.2f} % of a core, "
            f"a look {self.look_ms:.2f} ms on the average"
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

    def __init__(self, path: str | os.PathLike[str]) -> None:
        command = [sys.executable, "-m", "tests.benchmarks.day_follower", str(path), str(_LOOK_EVERY_S)]
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


def _costly(looks: list[Look]) -> float:
    """Where the costliest tenth begins."""
    return statistics.quantiles([look.took_ms for look in looks], n=10)[-1]


class Processes(NamedTuple):
    """Those of a session, and its recording."""

    path: Path
    capture: CaptureProcess
    follower: Follower
    dashboard: Terminal

    def cpu_s(self) -> tuple[float, float]:
        """What dashboard and capture have taken."""
        return cpu_s(self.dashboard.process.pid), cpu_s(self.capture.pid)


class Day:
    """A day as it passes.

    Attributes:
        at_start: how things stood after ten minutes.
        hours: and at the end of each hour.
    """

    def __init__(self, pace: Pace, processes: Processes) -> None:
        self.at_start: Hour | None = None
        self.hours: list[Hour] = []
        self._pace, self._processes = pace, processes
        self._spent = (0.0, 0.0)
        self._looks = self._rows = self._size = 0

    def go(self, hours: float) -> None:
        """Let it pass, and print a row an hour; returns where the calm begins."""
        self._await(600.0)
        self.at_start = self._note()
        for mark_s in [*(3600.0 * hour for hour in range(1, math.ceil(hours))), 3600 * hours - CALM_S]:
            self._await(mark_s)
            before = self.hours[-1] if self.hours else None
            self.hours.append(self._note())
            print(self.hours[-1].text(before, INSTRUMENTS * round(mark_s * PER_S)), flush=True)

    def beside(self, fresh: Processes) -> tuple[Cost, Cost]:
        """What it costs at its end, at the computer's pace, and in the same minute what a fresh session costs."""
        both = (self._processes, fresh)
        self._await(self._pace.calm_at_s[0] + _CALMS_DOWN_S)
        before = [(one.cpu_s(), len(one.follower.looks)) for one in both]
        begun_s = time.monotonic()
        self._await(self._pace.calm_at_s[0] + CALM_S - 1.0)
        lasted_s = time.monotonic() - begun_s
        costs = []
        for one, (spent, looks) in zip(both, before, strict=True):
            dashboard, capture = ((new - old) / lasted_s for new, old in zip(one.cpu_s(), spent, strict=True))
            look_ms = statistics.fmean(look.took_ms for look in one.follower.looks[looks:])
            costs.append(Cost(dashboard, capture, look_ms))
        return costs[0], costs[1]

    def _await(self, session_s: float) -> None:
        while self._pace.session_ns(time.monotonic_ns()) < session_s * 1e9:
            time.sleep(0.01)

    def _note(self) -> Hour:
        """Read all of them."""
        dashboard, capture, follower = (
            self._processes.dashboard.process,
            self._processes.capture,
            self._processes.follower,
        )
        spent = self._processes.cpu_s()
        looks = follower.looks[self._looks :]
        self._looks += len(looks)
        with self._processes.path.open("rb") as file:
            file.seek(self._size)
            new = file.read()
        self._size += len(new)
        self._rows += new.count(b"\n[")
        now = Hour(
            self._pace.session_ns(time.monotonic_ns()) / 3.6e12,
            held_by(capture.pid)[2] / 1e6,
            spent[1] - self._spent[1],
            looks[-1].memory_mb,
            _costly(looks),
            held_by(dashboard.pid)[2] / 1e6,
            spent[0] - self._spent[0],
            self._size,
            self._rows,
        )
        self._spent = spent
        return now
