"""What the dashboard costs: ``python -m tests.benchmarks.dashboard_cost [PART ...]``; no PART: all.

``refresh``: processor time a refresh at 120x40 and 200x60, with the ratio to an app of one changing line in the
same run; ``use``: percent of a core over a real capture with 10 volts readings a second; ``first``: first frame
over an empty app's; ``memory``: growth over 2,400 refreshes; ``rate``: 20 refreshes a second at 200x60;
``latency``: from the bytes of a reading to its digits on the screen, through a real capture process.
All on real pseudo-terminals. The terminal's own cost is not counted.
"""

from __future__ import annotations

import json
import math
import os
import pty
import random
import statistics
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.benchmarks.screens import Terminal

SIZES = ((120, 40), (200, 60))
_PATIENCE_S = 5.0
_MOST_GROWN_MB, _MOST_FIRST, _MOST_CORE, _MOST_LATE_S = 3.0, 2.0, 0.05, 0.15
_REFRESH_GOAL_MS = {(120, 40): 6.0, (200, 60): 9.0}


def child(kind: str, size: tuple[int, int], refreshes: int, rate: float) -> dict[str, Any]:
    """Run a program of ``screen_child`` to its end; gives its figures."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "figures.json"
        command = [
            sys.executable,
            "-m",
            "tests.benchmarks.screen_child",
            kind,
            str(refreshes),
            str(rate),
            str(file),
        ]
        terminal = Terminal(command, *size)
        try:
            terminal.process.wait(60 + 3 * refreshes / rate)
        finally:
            drawn = terminal.bytes_drawn
            terminal.close()
        return {**json.loads(file.read_text()), "kB": drawn / 1000 / refreshes}


def refresh() -> bool:
    """Processor time a refresh."""
    met = True
    for size in SIZES:
        told = {kind: [child(kind, size, 150, 10.0) for _ in range(3)] for kind in ("empty", "use", "full")}
        cpu = {kind: statistics.median(one["cpu_ms"] for one in runs) for kind, runs in told.items()}
        goal = _REFRESH_GOAL_MS[size]
        print(
            f"refresh {size[0]}x{size[1]}: full {cpu['full']:.1f} ms (wanted {goal:g}), in use {cpu['use']:.1f} ms, "
            f"an app of one line {cpu['empty']:.2f} ms; full over it {cpu['full'] / cpu['empty']:.1f}; "
            f"{told['full'][0]['kB']:.1f} kB a full refresh"
        )
        met = met and cpu["full"] <= goal
    return met


def memory() -> bool:
    """Growth over 2,400 refreshes."""
    figures = child("full", (120, 40), 2400, 40.0)
    print(
        f"memory: {figures['grown_mb']:.2f} MB more after 2,400 refreshes (wanted < {_MOST_GROWN_MB:g}), "
        f"{figures['rss_mb']:.0f} MB in all"
    )
    return bool(figures["grown_mb"] < _MOST_GROWN_MB)


def rate() -> bool:
    """Whether 20 refreshes a second are held."""
    figures = child("full", (200, 60), 200, 20.0)
    print(
        f"rate: {figures['per_s']:.1f} refreshes a second of 20 asked for, at 200x60; "
        f"{100 * figures['core']:.0f} % of a core"
    )
    return bool(figures["per_s"] >= 0.99 * 20.0)


def first() -> bool:
    """First frame over an empty app's."""
    empty = (
        "from textual.app import App\nfrom textual.widgets import Static\n"
        "class E(App):\n  def compose(self): yield Static('first frame')\nE().run()"
    )
    sample = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"
    programs = {
        "empty": ([sys.executable, "-c", empty], "first frame"),
        "run screen": ([sys.executable, "-m", "tui", "watch", str(sample)], "q leave"),
        "recordings": ([sys.executable, "-m", "tui", "recordings", str(sample.parent)], "q leave"),
        "replay": ([sys.executable, "-m", "tui", "replay", str(sample)], "pause/play"),
    }
    took: dict[str, list[float]] = {name: [] for name in programs}
    cpu: dict[str, list[float]] = {name: [] for name in programs}
    for _ in range(7):
        for name, (command, text) in programs.items():
            terminal = Terminal(command, 120, 40)
            took[name].append(terminal.wait_for(text) - terminal.began_s)
            cpu[name].append(terminal.cpu_s())
            if name == "empty":
                terminal.process.terminate()
            terminal.close()
    medians = {name: statistics.median(values) for name, values in took.items()}
    for name, value in medians.items():
        cpu_s = statistics.median(cpu[name])
        print(
            f"first frame, {name}: {1000 * value:.0f} ms, {value / medians['empty']:.2f} of the empty app's "
            f"(wanted at most {_MOST_FIRST:g}); "
            f"processor time {1000 * cpu_s:.0f} ms, {cpu_s / statistics.median(cpu['empty']):.2f}"
        )
    return max(medians.values()) <= _MOST_FIRST * medians["empty"]


class Instrument:
    """An instrument of ours on a pseudo-terminal, which sends lines when told to."""

    def __init__(self) -> None:
        self._ours, self._theirs = pty.openpty()
        tty.setraw(self._theirs)
        self.address = os.ttyname(self._theirs)

    def send(self, line: str) -> float:
        """Send a line; gives the moment."""
        now_s = time.perf_counter()
        os.write(self._ours, f"{line}\r\n".encode())
        return now_s

    def close(self) -> None:
        os.close(self._ours)
        os.close(self._theirs)


@contextmanager
def live_run(size: tuple[int, int]) -> Iterator[tuple[Terminal, Instrument, Instrument]]:
    """The dashboard over a real capture of two instruments on pseudo-terminals."""
    volts, speed = Instrument(), Instrument()
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "tui", "run", "-i", f"text-volts@{volts.address}"]
        command += [
            "-i",
            f"text-speed@{speed.address}",
            "--machine",
            "nursery-sprayer",
            "--out",
            f"{folder}/run.jsonl",
        ]
        terminal = Terminal(command, *size)
        try:
            terminal.wait_for("recording")
            yield terminal, volts, speed
        finally:
            terminal.close()
            volts.close()
            speed.close()


def _send_readings(volts: Instrument, speed: Instrument, count: int) -> None:
    """Ten volts readings a second, and two of speed, round rated speed."""
    noise, begun_s = random.Random(7), time.perf_counter()
    for number in range(count):
        rpm = 3600 + 15 * ((number // 5) % 5 - 2)
        volts.send(f"{7.66 * rpm / 1000 + noise.gauss(0, 0.03):.2f}")
        if number % 5 == 0:
            speed.send(f"{rpm}")
        time.sleep(max(begun_s + (number + 1) / 10 - time.perf_counter(), 0))


def use() -> bool:
    """Percent of a core while 10 volts readings and 2 rpm readings come in a second."""
    met = True
    for size in SIZES:
        with live_run(size) as (terminal, volts, speed):
            _send_readings(volts, speed, 150)
            cpu_s, began_s = terminal.cpu_s(), time.perf_counter()
            _send_readings(volts, speed, 300)
            core = (terminal.cpu_s() - cpu_s) / (time.perf_counter() - began_s)
        print(
            f"use {size[0]}x{size[1]}: {100 * core:.1f} % of a core, following and analysis with it "
            f"(wanted < {100 * _MOST_CORE:g})"
        )
        met = met and core < _MOST_CORE
    return met


def latency() -> bool:
    """From a reading's bytes to its digits on the screen."""
    with live_run((120, 40)) as (terminal, volts, speed):
        stop = threading.Event()

        def turn() -> None:
            while not stop.wait(0.5):
                speed.send("3600")

        thread = threading.Thread(target=turn)
        thread.start()
        noise, took, missed = random.Random(3), [], 0
        try:
            for number in range(200):
                value = f"{20 + number * 0.01:.2f}"
                time.sleep(0.1 + noise.random() * 0.15)
                terminal.forget()
                sent_s = volts.send(value)
                try:
                    took.append(terminal.wait_for(f"{value} V", _PATIENCE_S) - sent_s)
                except TimeoutError:
                    missed += 1
        finally:
            stop.set()
            thread.join()
    # One that was not seen is later than any that was: it counts among the late ones, not beside them.
    late = sorted([*took, *[_PATIENCE_S] * missed])
    print(
        f"latency, bytes to digits: median {_ms(statistics.median(late))}, "
        f"95th percentile {_ms(percentile(late, 0.95))} (wanted {_ms(_MOST_LATE_S)}), worst {_ms(late[-1])}; "
        f"{missed} of {len(late)} not seen within {_PATIENCE_S:g} s, counted as late as that"
    )
    return percentile(late, 0.95) <= _MOST_LATE_S


def percentile(ordered: Sequence[float], share: float) -> float:
    """The smallest that at least this share of all do not exceed."""
    return ordered[max(math.ceil(share * len(ordered)) - 1, 0)]


def _ms(value_s: float) -> str:
    text = f"{1000 * value_s:.0f} ms"
    return f"over {text}" if value_s >= _PATIENCE_S else text


PARTS: dict[str, Callable[[], bool]] = {
    "refresh": refresh,
    "use": use,
    "first": first,
    "memory": memory,
    "rate": rate,
    "latency": latency,
}


def main() -> int:
    """Measure and print; the exit status is 0 when all is as wanted."""
    met = [PARTS[name]() for name in sys.argv[1:] or PARTS]  # all of them, also after one that is not
    return 0 if all(met) else 1


if __name__ == "__main__":
    sys.exit(main())
