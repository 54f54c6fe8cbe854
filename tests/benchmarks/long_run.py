"""A day at full length: four instruments at ten readings a second for 24 hours, through the real pipeline.

``python -m tests.benchmarks.long_run [HOURS [TIMES]]`` (default 24 and 200). Wanted (issue 7): memory flat (under
20 MB of growth after the first ten minutes), under 25 bytes a reading, no reading lost, and a look and a dashboard
that cost no more at the end than at the start.

Each part is a process of its own. The project's capture reads four pseudo-terminals; only its clock is given, and
runs 200 times faster, so that a day passes in 7 minutes (see ``fast_capture``). The instruments send as much
faster, 8,000 lines a second in all, and every value of the recording is held against what they sent. A follower
looks every half minute of the session, and the program's own dashboard watches the file all day. The capture hands
over and syncs by real time, so 400 readings at once instead of two, which changes no byte of the file. It looks
at its clocks every 40 s of session, so that it notes them every 80 s instead of every 60: 0.01 bytes a reading less
than in a real day, which is told as part of the figure.
"""

from __future__ import annotations

import contextlib
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
from tests.benchmarks.day_sender import HOUR, INSTRUMENTS, hundredths
from tests.benchmarks.screens import Terminal
from tests.faults.plugs import held_by

TIMES = 200.0
LOOK_EVERY_S = 30.0
PER_S = 10
MOST_GROWN_MB = 20.0
MOST_BYTES = 25.0
MOST_RATIO = 1.1
"""Of the last hour's cost over that of the first, with what a shared machine adds."""
_CARDS = (
    ("text-volts", "ac_voltage"),
    ("text-speed", "rotational_speed"),
    ("text-volts", "dc_voltage"),
    ("text-volts", "dc_current"),
)
_SILENCE_S = 600.0
"""3 s on the computer's clock: else a hiccup of the machine is told as an instrument's silence."""
_ON_THE_WAY_S = 1.0
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


class Day:
    """The processes of a run, and what is read of them as it goes on."""

    def __init__(self, path: Path, capture: CaptureProcess, follower: Follower, dashboard: Terminal) -> None:
        self.hours: list[Hour] = []
        self.at_start: Hour | None = None
        self.follower = follower
        self._path = path
        self._capture = capture
        self._dashboard = dashboard
        self._spent = (0.0, 0.0)
        self._looks = 0

    def note(self, hour: float) -> Hour:
        """Read all of them."""
        pids = (self._capture.pid, self._dashboard.process.pid)
        spent = (cpu_s(pids[0]), cpu_s(pids[1]))
        looks = self.follower.looks[self._looks :]
        self._looks += len(looks)
        now = Hour(
            hour,
            held_by(pids[0])[2] / 1e6,
            spent[0] - self._spent[0],
            looks[-1].memory_mb,
            statistics.median(look.took_ms for look in looks),
            held_by(pids[1])[2] / 1e6,
            spent[1] - self._spent[1],
            self._path.stat().st_size,
        )
        self._spent = spent
        return now


def main() -> int:
    """Print a row an hour and the figures; the exit status is 0 when all are as wanted."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 24.0
    times = float(sys.argv[2]) if len(sys.argv) > 2 else TIMES
    lines = round(hours * HOUR)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "day.jsonl"
        day, sent = run_day(path, lines, times)
        return 0 if all([tell_costs(day), tell_kept(path, lines, sent)]) else 1


def run_day(path: Path, lines: int, times: float) -> tuple[Day, list[int]]:
    """Let the day pass; gives what was noted, and sent and dropped lines of each instrument, one after the other."""
    print(
        "  hour   capture MB  cpu s   follower MB  a look, ms   dashboard MB  cpu s   bytes a reading",
        flush=True,
    )
    with sending(lines, PER_S * times) as sender:
        assert sender.stdin is not None
        assert sender.stdout is not None
        spec = CaptureSpec(
            path=str(path), instruments=instruments(sender.stdout.readline().split()), patient=True
        )
        with CaptureProcess.start(spec, command=fast_capture.command(times)) as capture:
            with (
                contextlib.closing(Follower(path, times)) as follower,
                contextlib.closing(
                    Terminal([sys.executable, "-m", "tui", "watch", str(path)], 120, 40)
                ) as dashboard,
            ):
                dashboard.wait_for("q leave")
                day = Day(path, capture, follower, dashboard)
                print("go", file=sender.stdin, flush=True)
                time.sleep(600 / times)
                day.at_start = day.note(1 / 6)
                counts = _pass_hours(day, sender.stdout, lines)
            time.sleep(_ON_THE_WAY_S)
            capture.stop()
            capture.wait(20)
    return day, counts


def _pass_hours(day: Day, told: IO[str], lines: int) -> list[int]:
    """Print a row at each word of the sender; gives its last."""
    counts: list[int] = []
    size = 0
    while sum(counts[:2]) < lines:
        counts = [int(text) for text in told.readline().split()]
        done = sum(counts[:2])
        now = day.note(done / HOUR)
        new = INSTRUMENTS * (done - (round(day.hours[-1].hour * HOUR) if day.hours else 0))
        print(
            f"{now.hour:6.2f}{now.capture_mb:12.1f}{now.capture_s:8.2f}{now.follower_mb:13.1f}{now.look_ms:12.2f}"
            f"{now.dashboard_mb:15.1f}{now.dashboard_s:8.2f}{(now.size - size) / new:16.2f}",
            flush=True,
        )
        day.hours.append(now)
        size = now.size
    return counts


@contextlib.contextmanager
def sending(lines: int, rate_hz: float) -> Iterator[subprocess.Popen[str]]:
    """The instruments' process."""
    command = [sys.executable, "-m", "tests.benchmarks.day_sender", str(lines), str(rate_hz)]
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
    start, first, last = day.at_start, day.hours[0], day.hours[-1]
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
    second = day.hours[1] if len(day.hours) > 2 else first
    for name, ratio in (
        ("a look", last.look_ms / second.look_ms),
        ("the dashboard's processor time", last.dashboard_s / second.dashboard_s),
        ("the capture's processor time", last.capture_s / second.capture_s),
    ):
        print(
            f"{name}: that of the last hour over that of the second {ratio:.2f} (wanted: at most {MOST_RATIO:g})"
        )
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
