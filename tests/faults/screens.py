"""A dashboard whose terminal stalls, that is suspended, killed, or loses its window, and the run behind it."""

from __future__ import annotations

import contextlib
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.daq.capture.runs import of_channel
from tests.faults.rig import (
    Counter,
    Figure,
    counted,
    counters,
    last_line,
    readings_lost,
    seen_in,
    wait_until,
)
from tests.faults.terminal import Terminal
from tests.tui.program import start

__all__ = ["Ordeal", "close_window", "figures", "run_arguments", "stall_suspend_kill"]

_MOST_SHIFT_MS = 5.0
_PERIOD_S = 0.0097
"""Of no round number: stamps that are rounded to 10 ms would else all be late by the same, which nobody sees."""
_ON_THE_WAY_NS = 300_000_000
"""What was sent in the last moment may not have arrived when the end came: a busy machine took 0.2 s for it."""


Spread = tuple[float, float, float]
Int64 = NDArray[np.int64]


class Ordeal(NamedTuple):
    """What became of a run."""

    lost: int
    """Readings lost, doubled or out of order."""
    unseen: int
    """Readings that were sent before the end and are not there."""
    reason: str
    """Why the recording was closed, as it says."""
    late_ms: dict[str, Spread]
    """For each phase: median, 99th percentile and worst delay of a stamp, on the smallest of the run."""
    watched: str
    """What a second screen said while the first was suspended."""
    before_watched: tuple[int, int]
    """The newest voltage and speed that were recorded before it was suspended; what comes later is more."""
    bare_ms: dict[str, Spread]
    """The same delays of a bare reader of another instrument at the same time: what the machine adds by itself."""

    @property
    def stamp_shift_ms(self) -> float:
        """What the capture adds to the median delay of a stamp, in the phase in which that is most."""
        return max(late[0] - self.bare_ms[name][0] for name, late in self.late_ms.items())

    def worst_over_bare_ms(self, phase: str) -> float:
        """How much later the latest stamp of a phase is than the bare reader's latest of the whole run."""
        return self.late_ms[phase][2] - max(bare[2] for bare in self.bare_ms.values())


def stall_suspend_kill(folder: Path, quiet_s: float, stalled_s: float) -> Ordeal:
    """A run whose terminal is not read, then whose dashboard is suspended, and then killed."""
    path = folder / "run.jsonl"
    phases: dict[str, tuple[float, float]] = {}
    with (
        counters(folder, _PERIOD_S) as instruments,
        _bare_reader(folder) as bare,
        Terminal(folder, *run_arguments(path, instruments)) as terminal,
    ):
        wait_until(lambda: counted(path, 1) > 0, "first readings")
        _phase(phases, "shown", quiet_s)
        terminal.stop_reading()
        _phase(phases, "terminal not read", stalled_s)
        taken = terminal.read
        terminal.go_on_reading()
        wait_until(lambda: terminal.read > taken + 2000, "the dashboard goes on when it is read again")
        terminal.process.send_signal(signal.SIGSTOP)
        newest = int(of_channel(path, 0)[-1][2]), int(of_channel(path, 1)[-1][2])
        watched = _watch(folder, path)
        _phase(phases, "suspended", stalled_s)
        terminal.process.send_signal(signal.SIGCONT)
        taken = terminal.read
        wait_until(lambda: terminal.read > taken + 2000, "the dashboard goes on when it is let")
        terminal.process.kill()
        ended_ns = time.monotonic_ns()
        found = _look(path, instruments, ended_ns, phases, watched)
        return found._replace(bare_ms=bare(phases), before_watched=newest)


@contextlib.contextmanager
def _bare_reader(folder: Path) -> Iterator[Callable[[dict[str, tuple[float, float]]], dict[str, Spread]]]:
    """A third instrument, read by next to nothing; gives how late its stamps were in each phase."""
    log = folder / "bare.bin"
    with Counter("text-volts", folder, _PERIOD_S) as instrument:
        command = [sys.executable, "-m", "tests.faults.bare", instrument.address, str(log)]
        with subprocess.Popen(command, stdin=subprocess.PIPE) as process:

            def spread(phases: dict[str, tuple[float, float]]) -> dict[str, Spread]:
                seen = np.frombuffer(log.read_bytes(), "<i8").reshape(-1, 2)
                noted_ns = instrument.sent()[1]
                # The newest may be read before its sender has noted it.
                seen = seen[seen[:, 0] < len(noted_ns)]
                sent_ns = noted_ns[seen[:, 0]]
                return _by_phase(sent_ns, seen[:, 1] - sent_ns, phases)

            try:
                yield spread
            finally:
                process.kill()


def close_window(folder: Path, *, own: bool = True) -> Ordeal:
    """A run whose terminal goes away; ``own``: its controlling one, so that a signal tells it."""
    path = folder / "window.jsonl"
    with (
        counters(folder) as instruments,
        Terminal(folder, *run_arguments(path, instruments), own=own) as terminal,
    ):
        wait_until(
            lambda: terminal.read > 4000 and counted(path, 0) > 0 and counted(path, 1) > 0, "first picture"
        )
        terminal.go()
        ended_ns = time.monotonic_ns()
        ordeal = _look(path, instruments, ended_ns, {}, "")
        terminal.process.wait(30)
        return ordeal


def run_arguments(path: Path, instruments: tuple[Counter, ...]) -> list[str]:
    """What records them into that file, shown on the dashboard."""
    named = [word for one in instruments for word in ("-i", f"{one.card}@{one.address}")]
    return ["run", *named, "--out", str(path)]


def _phase(phases: dict[str, tuple[float, float]], name: str, lasts_s: float) -> None:
    begun_s = time.monotonic()
    time.sleep(lasts_s)
    phases[name] = (begun_s, time.monotonic())


def _watch(folder: Path, path: Path) -> str:
    """Attach a second screen for a moment, and leave it."""
    with start("watch", str(path), "--headless", folder=folder) as process:
        assert process.stdout is not None
        said = [process.stdout.readline()]
        process.send_signal(signal.SIGINT)
        out, _ = process.communicate(timeout=20)
    return "".join([*said, out])


def _look(
    path: Path,
    instruments: tuple[Counter, ...],
    ended_ns: int,
    phases: dict[str, tuple[float, float]],
    watched: str,
) -> Ordeal:
    wait_until(lambda: _closing_line(path) is not None, "the recording is closed")
    closing = _closing_line(path)
    assert closing is not None
    lost = unseen = 0
    parts: list[dict[str, Spread]] = []
    for channel, instrument in enumerate(instruments):
        seen = seen_in(path, channel)
        numbers, sent_ns = instrument.sent()
        lost += readings_lost(seen)
        unseen += int(((numbers > seen.numbers[-1]) & (sent_ns < ended_ns - _ON_THE_WAY_NS)).sum())
        # The capture's clock is the sender's, from another start: the quickest reading gives the start.
        sent_of_seen = sent_ns[seen.numbers]
        parts.append(_by_phase(sent_of_seen, seen.t_ns - sent_of_seen, phases))
    worst = {name: max((part[name] for part in parts), key=lambda late: late[1]) for name in phases}
    return Ordeal(lost, unseen, str(closing["reason"]), worst, watched, (0, 0), {})


def _closing_line(path: Path) -> dict[str, object] | None:
    last = last_line(path)
    return last if isinstance(last, dict) and last["entry"] == "close" else None


def _by_phase(sent_ns: Int64, late_ns: Int64, phases: dict[str, tuple[float, float]]) -> dict[str, Spread]:
    """Median, 99th percentile and worst of the delays in each phase, in ms."""
    late_ms = (late_ns - late_ns.min()) / 1e6
    spread: dict[str, Spread] = {}
    for name, (begun_s, end_s) in phases.items():
        inside = late_ms[(sent_ns >= begun_s * 1e9) & (sent_ns < end_s * 1e9)]
        spread[name] = float(np.median(inside)), float(np.percentile(inside, 99)), float(np.max(inside))
    return spread


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    found = stall_suspend_kill(folder, 20.0 if long else 2.0, 60.0 if long else 5.0)
    window = close_window(folder)
    rows = [
        Figure(
            "dashboard not read, suspended, killed; window closed: readings lost, doubled or out of order",
            "0",
            f"{found.lost + window.lost}",
            found.lost + window.lost == 0,
        ),
        Figure(
            "the same: readings sent before the end that are not there",
            "0",
            f"{found.unseen + window.unseen}",
            found.unseen + window.unseen == 0,
        ),
    ]
    for name, (median, high, worst) in found.late_ms.items():
        bare = found.bare_ms[name]
        over = found.worst_over_bare_ms(name)
        rows.append(
            Figure(
                f"stamps while {name}: 50 %, 99 %, worst delay; the same of a bare reader beside it",
                f"worst at most {_MOST_SHIFT_MS:g} ms over the bare reader's worst in the run",
                f"{median:.2f}, {high:.2f}, {worst:.1f} ms; {bare[0]:.2f}, {bare[1]:.2f}, {bare[2]:.1f} ms; "
                f"over by {over:.1f} ms",
                over <= _MOST_SHIFT_MS,
            )
        )
    return rows
