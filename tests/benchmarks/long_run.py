"""A day at full length: four instruments at ten readings a second for 24 hours, through the real pipeline.

``python -m tests.benchmarks.long_run [HOURS [TIMES]]`` (default 24 and 200). Wanted (issue 7): memory flat (under
20 MB of growth after the first ten minutes), under 25 bytes a reading, no reading lost, and a look and a dashboard
that cost no more at the end than at the start.

Each part is a process of its own. The project's capture reads four pseudo-terminals; only its clock is given, and
runs 200 times faster, so that a day passes in 9 minutes (see ``fast_capture``). The instruments send as much
faster, 8,000 lines a second in all, and every value of the recording is held against what they sent. A follower
looks as often as once in half a minute of the fast session, and the program's own dashboard watches the file all
day. For a minute after the first hour and for the last one all run at the computer's pace, and what dashboard and
capture cost then is held against each other.

The capture hands over and syncs by real time, so 400 readings at once instead of two, which changes no byte of the
file. It looks at its clocks every 40 s of the fast session, so that it notes them every 80 s instead of every 60; what
that saves is told with the figure. A hiccup of the machine by 5 ms is a second of the session, so the looks that
could pair and judge all of their rows are the ones to compare: the costliest tenth of an hour begins at the figure
that is printed. Where it is too busy to keep pace, the last column tells how many readings were still on their way.
"""

from __future__ import annotations

import contextlib
import math
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, NamedTuple

import numpy as np

from daq.capture.launch import CaptureProcess
from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.model.reading import Quality
from daq.recording.reader import read_recording
from tests.benchmarks import fast_capture
from tests.benchmarks.capture_cost import card, cpu_s
from tests.benchmarks.day_sender import INSTRUMENTS, PER_S, hundredths
from tests.benchmarks.pace import Pace
from tests.benchmarks.screens import Terminal
from tests.faults.plugs import held_by

TIMES = 200.0
LOOK_EVERY_S = 30.0
CALM_S = 60.0
MOST_GROWN_MB = 20.0
MOST_BYTES = 25.0
MOST_RATIO = 1.1
"""Of the last cost over the first, with what a shared machine adds."""
_CARDS = (
    ("text-volts", "ac_voltage"),
    ("text-speed", "rotational_speed"),
    ("text-volts", "dc_voltage"),
    ("text-volts", "dc_current"),
)
_SILENCE_S = 600.0
"""3 s on the computer's clock: else a hiccup of the machine is told as an instrument's silence."""
_READY_WITHIN_S = 15.0
_ON_THE_WAY_S = 1.0
_CALMS_DOWN_S = 10.0
_CLOCK_LINE = 72


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


_HEAD = "  hour   capture MB  cpu s   follower MB  a look, ms   dashboard MB  cpu s   bytes a reading   on their way"


class Follower:
    """The process that looks, and what it told."""

    def __init__(self, path: Path, times: float) -> None:
        command = [
            sys.executable,
            "-m",
            "tests.benchmarks.day_follower",
            str(path),
            str(LOOK_EVERY_S / times),
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


def main() -> int:
    """Print a row an hour and the figures; the exit status is 0 when all are as wanted."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 24.0
    times = float(sys.argv[2]) if len(sys.argv) > 2 else TIMES
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "day.jsonl"
        day, counts = run_day(path, hours, times)
        return 0 if all([tell_costs(day), tell_kept(path, round(3600 * hours * PER_S), counts)]) else 1


def run_day(path: Path, hours: float, times: float) -> tuple[Day, list[int]]:
    """Let the day pass; gives what was noted, and sent and dropped lines of each instrument, one after the other."""
    begun_ns = time.monotonic_ns() + round(_READY_WITHIN_S * 1e9)
    pace = Pace(begun_ns, times, CALM_S, (3600.0, 3600 * hours - CALM_S))
    with sending(round(3600 * hours * PER_S), pace) as sender:
        assert sender.stdout is not None
        spec = CaptureSpec(
            path=str(path), instruments=instruments(sender.stdout.readline().split()), patient=True
        )
        with CaptureProcess.start(spec, command=fast_capture.command(pace)) as capture:
            with (
                contextlib.closing(Follower(path, times)) as follower,
                contextlib.closing(
                    Terminal([sys.executable, "-m", "tui", "watch", str(path)], 120, 40)
                ) as dashboard,
            ):
                dashboard.wait_for("q leave")
                day = Day(path, pace, capture, follower, dashboard)
                assert time.monotonic_ns() < begun_ns, "the machine is too busy to begin in time"
                print(_HEAD, flush=True)
                day.go(hours)
                counts = [int(text) for text in sender.stdout.readline().split()]
            time.sleep(_ON_THE_WAY_S)
            capture.stop()
            capture.wait(20)
    return day, counts


@contextlib.contextmanager
def sending(lines: int, pace: Pace) -> Iterator[subprocess.Popen[str]]:
    """The instruments' process."""
    command = [sys.executable, "-m", "tests.benchmarks.day_sender", str(lines), *pace.words()]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield process
        finally:
            process.kill()


def instruments(ports: list[str]) -> list[InstrumentSpec]:
    """What hangs where."""
    found = []
    for (name, quantity), port in zip(_CARDS, ports, strict=True):
        table = card(name) | {"silence_s": _SILENCE_S}
        table["channel"] = [table["channel"][0] | {"quantity": quantity}]
        found.append(InstrumentSpec(table, port))
    return found


def tell_costs(day: Day) -> bool:
    """Print growth and ratios; whether they are as wanted."""
    start, last = day.at_start, day.hours[-1]
    assert start is not None
    met = True
    for name, grown_mb in (
        ("capture", last.capture_mb - start.capture_mb),
        ("follower", last.follower_mb - start.follower_mb),
        ("dashboard", last.dashboard_mb - start.dashboard_mb),
    ):
        print(
            f"memory of the {name}: {grown_mb:+.1f} MB since the first ten minutes (wanted: under {MOST_GROWN_MB:g})"
        )
        met = met and grown_mb < MOST_GROWN_MB
    ratios = {
        "a look, in the last quarter over the first": day.look_ms(0.75, 1.0) / day.look_ms(0.0, 0.25),
        "the dashboard at the computer's pace, in the last minute over that after an hour": day.calm[-1][0]
        / day.calm[0][0],
        "the capture at the computer's pace, the same": day.calm[-1][1] / day.calm[0][1],
    }
    for name, ratio in ratios.items():
        print(f"{name}: {ratio:.2f} (wanted: at most {MOST_RATIO:g})")
        met = met and ratio <= MOST_RATIO
    return met


def tell_kept(path: Path, lines: int, counts: list[int]) -> bool:
    """Hold the recording against what was sent, value by value; whether it is all there in under 25 bytes each."""
    recording = read_recording(path)
    blocks = [hundredths(block) for block in range(-(-lines // 600))]
    sent = np.concatenate(blocks, axis=1)[:, :lines] / 100
    lost = wrong = 0
    for number in range(INSTRUMENTS):
        column = recording.columns(number)
        good = column.value[column.quality == int(Quality.GOOD)]
        lost += lines - len(good)
        same = len(good) == lines and bool(np.array_equal(good, sent[number]))
        wrong += not same
        others = np.flatnonzero(column.quality != int(Quality.GOOD))
        for row in others[:5].tolist():
            quality = Quality(int(column.quality[row])).words
            print(f"instrument {number}: {quality} after {column.t_ns[row] / 3.6e12:.2f} h")
    dropped = sum(counts[1::2])
    size = path.stat().st_size
    each = size / (lines * INSTRUMENTS)
    entries = path.read_bytes().count(b'{"entry":"clock"')
    span_s = lines / PER_S
    more = (span_s / 60 - entries) * _CLOCK_LINE / (lines * INSTRUMENTS)
    print(
        f"sent {lines * INSTRUMENTS} readings, {dropped} dropped by the instruments themselves, {lost} not recorded"
    )
    print(f"channels whose values are not those that were sent: {wrong}")
    print(
        f"{each:.2f} bytes a reading, {max(more, 0.0):.3f} more with a clock entry each minute (wanted: under 25)"
    )
    return lost == wrong == 0 and each + max(more, 0.0) < MOST_BYTES


if __name__ == "__main__":
    sys.exit(main())
