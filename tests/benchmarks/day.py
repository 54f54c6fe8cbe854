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

CALM_S = 60.0
"""How long a stretch at the computer's own pace lasts."""
_LOOK_EVERY_S = 30.0
_CALMS_DOWN_S = 10.0


class Look(NamedTuple):
    """One look of the follower."""

    session_s: float
    took_ms: float
    memory_mb: float


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


def _costly(looks: list[Look]) -> float:
    """Where the costliest tenth begins."""
    return statistics.quantiles([look.took_ms for look in looks], n=10)[-1]


class Day:
    """The processes of a run, and what is read of them as it goes on.

    Attributes:
        at_start: how things stood after ten minutes.
        hours: and at the end of each hour.
        calm: shares of a core that dashboard and capture took in each calm stretch.
    """

    def __init__(
        self, path: Path, pace: Pace, capture: CaptureProcess, follower: Follower, dashboard: Terminal
    ) -> None:
        self.at_start: Hour | None = None
        self.hours: list[Hour] = []
        self.calm: list[tuple[float, float]] = []
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

    def look_ms(self, begin: float, end: float) -> float:
        """What a look cost between these shares of the day, after the first ten minutes and not while all was calm."""
        span_s = 3600 * self.hours[-1].hour
        fast = [
            look
            for look in self._follower.looks
            if max(600.0, begin * span_s) < look.session_s < end * span_s
            and self._pace.times_at(round(1e9 * look.session_s)) > 1.0
        ]
        return _costly(fast)

    def _await(self, session_s: float) -> None:
        while self._pace.session_ns(time.monotonic_ns()) < session_s * 1e9:
            time.sleep(0.01)

    def _be_calm(self) -> None:
        """Look at what it costs at the computer's own pace, which is no part of an hour."""
        time.sleep(_CALMS_DOWN_S)
        before, lasts_s = self._cpu_s(), CALM_S - _CALMS_DOWN_S - 1.0
        time.sleep(lasts_s)
        self._spent = self._cpu_s()
        self._looks = len(self._follower.looks)
        dashboard, capture = ((new - old) / lasts_s for new, old in zip(self._spent, before, strict=True))
        self.calm.append((dashboard, capture))
        print(
            f"at the computer's pace: dashboard {100 * dashboard:.1f} %, capture {100 * capture:.1f} % of a core"
        )

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
