"""A day at full length: four instruments at ten readings a second for 24 hours, through the real pipeline.

``python -m tests.benchmarks.long_run [HOURS [TIMES]]`` (default 24 and 200). Wanted (issue 7): memory flat (under
20 MB of growth after the first ten minutes), under 25 bytes a reading, no reading lost, and a look and a dashboard
that cost no more at the end than at the start.

Each part is a process of its own. The project's capture reads four pseudo-terminals; only its clock is given, and
runs 200 times faster, so that a day passes in 14 minutes (see ``fast_capture``). The instruments send as much
faster, 8,000 lines a second in all, and every value of the recording is held against what they sent. A follower
looks as often as once in half a minute of the fast session, and the program's own dashboard watches the file all day.

For its last minutes the day runs at the computer's pace, and a second session of the same kind is begun beside it.
Its instruments send what the day's do; once it fills the two minutes that a screen looks at, what dashboard, capture
and a look cost in the same minute is held against each other: of a day, and of a session just begun. The costs of the
hours before are printed only: a hiccup of the machine by 5 ms is a second of the session, and what can be made of such
stamps differs.

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
from tests.benchmarks.day import CALM_S, HEAD, Cost, Day, Follower, Processes
from tests.benchmarks.day_sender import INSTRUMENTS, PER_S, hundredths
from tests.benchmarks.pace import Pace
from tests.benchmarks.screens import Terminal

TIMES = 200.0
MOST_GROWN_MB = 20.0
MOST_BYTES = 25.0
MOST_RATIO = 1.1
"""Of the cost at the end of the day over that of a session just begun, with what a shared machine adds."""
_CARDS = (
    ("text-volts", "ac_voltage"),
    ("text-speed", "rotational_speed"),
    ("text-volts", "dc_voltage"),
    ("text-volts", "dc_current"),
)
_SILENCE_S = 600.0
"""3 s on the computer's clock: else a hiccup of the machine is told as an instrument's silence."""
_READY_WITHIN_NS = 15_000_000_000
_ON_THE_WAY_S = 1.0
_CLOCK_LINE = 72


def main() -> int:
    """Print a row an hour and the figures; the exit status is 0 when all are as wanted."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 24.0
    times = float(sys.argv[2]) if len(sys.argv) > 2 else TIMES
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "day.jsonl"
        day, costs, counts = run_day(path, hours, times)
        kept = tell_kept(path, round(3600 * hours * PER_S), counts)
        return 0 if all([tell_memory(day), tell_costs(*costs), kept]) else 1


def run_day(path: Path, hours: float, times: float) -> tuple[Day, tuple[Cost, Cost], list[int]]:
    """Let the day pass.

    Returns:
        What was noted; costs at its end and of a fresh session; lines sent and dropped of each instrument,
        one after the other.
    """
    pace = Pace(time.monotonic_ns() + _READY_WITHIN_NS, times, CALM_S, (3600 * hours - CALM_S,))
    with session(path, round(3600 * hours * PER_S), pace) as (processes, sender):
        day = Day(pace, processes)
        print(HEAD, flush=True)
        day.go(hours)
        calmly = Pace(time.monotonic_ns() + _READY_WITHIN_NS, 1.0, 0.0, ())
        first = round(pace.session_ns(calmly.begun_ns) / 1e9 * PER_S)
        with session(path.with_name("fresh.jsonl"), round(CALM_S * PER_S), calmly, first) as (fresh, _):
            costs = day.beside(fresh)
        assert sender.stdout is not None
        counts = [int(text) for text in sender.stdout.readline().split()]
        time.sleep(_ON_THE_WAY_S)
    return day, costs, counts


@contextlib.contextmanager
def session(
    path: Path, lines: int, pace: Pace, first: int = 0
) -> Iterator[tuple[Processes, subprocess.Popen[str]]]:
    """Instruments that send so many lines each, and all that makes and looks at a recording of them.

    Args:
        path: the recording.
        lines: how many each sends.
        pace: of the session.
        first: which of a day's values is sent first.
    """
    with sending(first, lines, pace) as sender:
        assert sender.stdout is not None
        spec = CaptureSpec(
            path=str(path), instruments=instruments(sender.stdout.readline().split()), patient=True
        )
        watch = [sys.executable, "-m", "tui", "watch", str(path)]
        with CaptureProcess.start(spec, command=fast_capture.command(pace)) as capture:
            with (
                contextlib.closing(Follower(path)) as follower,
                contextlib.closing(Terminal(watch, 120, 40)) as dashboard,
            ):
                dashboard.wait_for("q leave")
                assert time.monotonic_ns() < pace.begun_ns, "the machine is too busy to begin in time"
                yield Processes(path, capture, follower, dashboard), sender
            capture.stop()
            capture.wait(20)


@contextlib.contextmanager
def sending(first: int, lines: int, pace: Pace) -> Iterator[subprocess.Popen[str]]:
    """The instruments' process."""
    command = [sys.executable, "-m", "tests.benchmarks.day_sender", str(first), str(lines), *pace.words()]
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


def tell_memory(day: Day) -> bool:
    """Print the growth; whether it is as wanted."""
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
    return met


def tell_costs(day: Cost, fresh: Cost) -> bool:
    """Print what both cost, and the ratios; whether they are as wanted."""
    print(f"at the end of the day: {day.text()}")
    print(f"a session just begun:  {fresh.text()}")
    met = True
    for name, one, other in zip(("dashboard", "capture", "a look"), day, fresh, strict=True):
        print(
            f"{name} of the day over that of the fresh session: {one / other:.2f} (wanted: at most {MOST_RATIO:g})"
        )
        met = met and one / other <= MOST_RATIO
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
