"""A dashboard whose terminal stalls, that is suspended, killed, or loses its window, and the run behind it."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

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

__all__ = ["Ordeal", "close_window", "figures", "stall_suspend_kill"]

_MOST_SHIFT_MS = 5.0
_ON_THE_WAY_NS = 100_000_000
"""What was sent in the last moment may not have arrived when the end came."""


class Ordeal(NamedTuple):
    """What became of a run."""

    lost: int
    """Readings lost, doubled or out of order."""
    unseen: int
    """Readings that were sent before the end and are not there."""
    reason: str
    """Why the recording was closed, as it says."""
    phases: dict[str, tuple[float, float]]
    """For each phase: begin and end, monotonic seconds."""
    late_ms: dict[str, tuple[float, float, float]]
    """For each phase: median, 99th percentile and worst delay of a stamp, on the smallest of the run."""
    watched: str
    """What a second screen said while the first was suspended."""


def stall_suspend_kill(folder: Path, quiet_s: float, stalled_s: float) -> Ordeal:
    """A run whose terminal is not read, then whose dashboard is suspended, and then killed."""
    path = folder / "run.jsonl"
    phases: dict[str, tuple[float, float]] = {}
    with counters(folder) as instruments, Terminal(folder, *_run(path, instruments)) as terminal:
        wait_until(lambda: counted(path, 1) > 0, "first readings")
        _phase(phases, "shown", quiet_s)
        terminal.stop_reading()
        _phase(phases, "terminal not read", stalled_s)
        taken = terminal.read
        terminal.go_on_reading()
        wait_until(lambda: terminal.read > taken + 2000, "the dashboard goes on when it is read again")
        terminal.process.send_signal(signal.SIGSTOP)
        watched = _watch(folder, path)
        _phase(phases, "suspended", stalled_s)
        terminal.process.send_signal(signal.SIGCONT)
        taken = terminal.read
        wait_until(lambda: terminal.read > taken + 2000, "the dashboard goes on when it is let")
        terminal.process.kill()
        ended_ns = time.monotonic_ns()
        return _look(path, instruments, ended_ns, phases, watched)


def close_window(folder: Path) -> Ordeal:
    """A run whose terminal goes away."""
    path = folder / "window.jsonl"
    with counters(folder) as instruments, Terminal(folder, *_run(path, instruments)) as terminal:
        wait_until(lambda: terminal.read > 4000 and counted(path, 1) > 0, "first picture")
        terminal.go()
        ended_ns = time.monotonic_ns()
        ordeal = _look(path, instruments, ended_ns, {}, "")
        terminal.process.wait(10)
        return ordeal


def _run(path: Path, instruments: tuple[Counter, ...]) -> list[str]:
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
    wait_until(lambda: isinstance(last_line(path), dict), "the recording is closed")
    closing = last_line(path)
    assert isinstance(closing, dict)
    lost = unseen = 0
    late: dict[str, list[float]] = {name: [] for name in phases}
    for channel, instrument in enumerate(instruments):
        seen = seen_in(path, channel)
        numbers, sent_ns = instrument.sent()
        lost += readings_lost(seen)
        unseen += int(((numbers > seen.numbers[-1]) & (sent_ns < ended_ns - _ON_THE_WAY_NS)).sum())
        # The capture's clock is the sender's, from another start: the quickest reading gives the start.
        sent_of_seen = sent_ns[seen.numbers]
        delay_ms = (seen.t_ns - sent_of_seen) / 1e6
        delay_ms = delay_ms - delay_ms.min()
        for name, (begun_s, phase_end_s) in phases.items():
            in_phase = (sent_of_seen >= begun_s * 1e9) & (sent_of_seen < phase_end_s * 1e9)
            late[name].extend(delay_ms[in_phase].tolist())
    spread = {name: _spread(values) for name, values in late.items()}
    return Ordeal(lost, unseen, str(closing.get("reason", closing)), phases, spread, watched)


def _spread(values: list[float]) -> tuple[float, float, float]:
    return float(np.median(values)), float(np.percentile(values, 99)), float(np.max(values))


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
        rows.append(
            Figure(
                f"stamps while {name}: 50 %, 99 %, worst delay",
                f"99 % below {_MOST_SHIFT_MS:g} ms",
                f"{median:.2f}, {high:.2f}, {worst:.1f} ms",
                high < _MOST_SHIFT_MS,
            )
        )
    return rows


def children_of(pid: int) -> list[int]:
    """Processes that a process has started."""
    listed = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True, check=False
    )
    return [int(word) for word in listed.stdout.split() if int(word) != os.getpid()]
