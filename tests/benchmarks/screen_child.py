"""The programs that ``dashboard_cost`` measures, each a process on a pseudo-terminal of its own.

``python -m tests.benchmarks.screen_child KIND REFRESHES RATE FILE``; the figures go to FILE as JSON.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

from textual.app import App, ComposeResult
from textual.widgets import Static

KINDS = ("empty", "use", "full")
_WARM_UP = 40
_SNAPSHOTS = 150


def rss_mb() -> float:
    """Memory in use."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


class Figures:
    """Counts refreshes, from the warm-up on, and writes what they cost."""

    def __init__(self, refreshes: int, file: str) -> None:
        self._wanted, self._file = refreshes, file
        self._count = 0
        self._began = (0.0, 0.0, 0.0)

    def note(self) -> bool:
        """Count a refresh; True when it was the last one."""
        self._count += 1
        now = (time.process_time(), time.perf_counter(), rss_mb())
        if self._count == _WARM_UP:
            self._began = now
        if self._count < _WARM_UP + self._wanted:
            return False
        cpu_s, wall_s, grown_mb = (new - old for new, old in zip(now, self._began, strict=True))
        told = {
            "cpu_ms": 1000 * cpu_s / self._wanted,
            "per_s": self._wanted / wall_s,
            "core": cpu_s / wall_s,
            "rss_mb": now[2],
            "grown_mb": grown_mb,
        }
        Path(self._file).write_text(json.dumps(told))
        return True


class Empty(App[None]):
    """As little as an app that shows something can have: one line that changes."""

    def __init__(self, figures: Figures, period_s: float) -> None:
        super().__init__()
        self._figures, self._period_s, self._number = figures, period_s, 0

    def compose(self) -> ComposeResult:
        yield Static("0", id="line")

    def on_mount(self) -> None:
        self.set_interval(self._period_s, self.tick)

    def tick(self) -> None:
        self._number += 1
        self.query_one("#line", Static).update(f"{self._number:6}", layout=False)
        if self._figures.note():
            self.exit()


def dashboard(figures: Figures, period_s: float, *, plots_each_time: bool) -> App[None]:
    """The run screen over a healthy run, every value of which changes at each refresh."""
    from tests.tui.builders import RecordingControl, StillFeed, snapshot
    from tui.dashboard import run_screen
    from tui.dashboard.app import Dashboard

    states = [snapshot(45.0 + 0.1 * step) for step in range(_SNAPSHOTS)]
    feed = StillFeed(states[0])
    run_screen._VALUES_PERIOD_S = period_s
    if plots_each_time:
        run_screen._PLOTS_PERIOD_S = 0.0

    class Measured(run_screen.RunScreen):
        number = 0

        def tick(self) -> None:
            self.number += 1
            feed.snapshot = states[self.number % _SNAPSHOTS]
            super().tick()
            if figures.note():
                self.app.exit()

    return Dashboard(Measured(feed, RecordingControl()), light=False)


def main() -> None:
    kind, refreshes, rate, file = sys.argv[1:]
    figures, period_s = Figures(int(refreshes), file), 1 / float(rate)
    if kind == "empty":
        Empty(figures, period_s).run()
    else:
        dashboard(figures, period_s, plots_each_time=kind == "full").run()


if __name__ == "__main__":
    main()
