"""A day at full length: four instruments at ten readings a second for 24 hours, through the real pipeline.

``python -m tests.benchmarks.long_run [HOURS [TIMES]]`` (default 24 and 200). Wanted (issue 7): memory flat (under
20 MB of growth after the first ten minutes), under 25 bytes a reading, no reading lost, and a look and a dashboard
that cost no more at the end than at the start.

Each part is a process of its own. The project's capture reads four pseudo-terminals; only its clock is given, and
runs 200 times faster, so that a day passes in 14 minutes (see ``fast_capture``). The instruments send as much
faster, 8,000 lines a second in all, and every value of the recording is held against what they sent. A follower
looks as often as once in half a minute of the fast session, and the program's own dashboard watches the file all day.

For three minutes after the first hour and for the last three all run at the computer's pace; what dashboard, capture
and a look cost in the last of these minutes is held against each other, each divided by what a fixed loop takes just
then. The costs of the hours between are printed only: a hiccup of the machine by 5 ms is a second of the session, and
what can be made of such stamps differs.

The capture hands over and syncs by real time, so 400 readings at once instead of two, which changes no byte of the
file. It looks at its clocks every 40 s of the fast session, so that it notes them every 80 s instead of every 60; what
that saves is told with the figure. Where the machine is too busy to keep pace, the last column tells how many readings
were still on their way.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from daq.capture.launch import CaptureProcess
from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.model.reading import Quality
from daq.recording.reader import read_recording
from tests.benchmarks import fast_capture
from tests.benchmarks.capture_cost import card
from tests.benchmarks.day import CALM_S, HEAD, Day, Follower
from tests.benchmarks.day_sender import INSTRUMENTS, PER_S, hundredths
from tests.benchmarks.pace import Pace
from tests.benchmarks.screens import Terminal

TIMES = 200.0
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
_CLOCK_LINE = 72


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
                print(HEAD, flush=True)
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
    first, then = day.calm[0], day.calm[-1]
    slower = then.yardstick_ms / first.yardstick_ms
    for name, ratio in (
        ("the dashboard", then.dashboard / first.dashboard / slower),
        ("the capture", then.capture / first.capture / slower),
        ("a look", then.look_ms / first.look_ms / slower),
    ):
        print(f"{name} at the end over that after an hour: {ratio:.2f} (wanted: at most {MOST_RATIO:g})")
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
