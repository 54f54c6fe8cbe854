"""Follows a recording as ``watch`` does, in a process of its own: ``python -m tests.benchmarks.day_follower FILE
PERIOD_S``.

At each look it prints the session time in seconds, the look's processor time in ms, and its memory in MB. It ends
with its standard input.
"""

from __future__ import annotations

import select
import sys
import time

from daq.recording.follow import FileFollower
from daq.run.live import LiveRun
from tests.benchmarks.screen_child import rss_mb


def main() -> None:
    """Look until standard input ends."""
    period_s = float(sys.argv[2])
    with FileFollower(sys.argv[1]) as follower:
        live = LiveRun(follower)
        due_s = time.monotonic()
        while not select.select([sys.stdin], [], [], max(0.0, due_s - time.monotonic()))[0]:
            begun_s = time.process_time()
            snapshot = live.update()
            took_ms = 1e3 * (time.process_time() - begun_s)
            print(snapshot.t_s, took_ms, rss_mb(), flush=True)
            due_s = max(due_s + period_s, time.monotonic())


if __name__ == "__main__":
    main()
