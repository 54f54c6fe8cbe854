"""Times what the program does, without what a busy machine does to it.

A limit of a second that the program promises is broken on any machine that stops for a second. So what passed by the
clock is told without the time in which the machine kept this process, or one that it started, from running: what the
kernel says that they stood in the queue for a processor, and what a bare thread beside them was late by, which does
nothing but wake up. What the program itself takes, on the processor or waiting, always counts.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Iterator
from pathlib import Path

__all__ = ["BARE", "Stopwatch", "bare_sync_s", "stopwatch"]

BARE = "tests.stopwatch"
"""Name of the thread that runs beside a block."""

_WAKES_S = 0.005


class Stopwatch:
    """What a block took.

    Attributes:
        own_s: of the program itself; there when the block is over.
    """

    def __init__(self) -> None:
        self.own_s = float("nan")


@contextlib.contextmanager
def stopwatch(*pids: int) -> Iterator[Stopwatch]:
    """Time the block.

    Args:
        pids: further processes that the block waits for.
    """
    watch, bare = Stopwatch(), _Bare(pids)
    queued_s, cpu_s = _queued_s("thread-self"), time.process_time()
    bare.start()
    began_s = time.monotonic()
    try:
        yield watch
    finally:
        took_s = time.monotonic() - began_s
        bare.end()
        queued_s, cpu_s = _queued_s("thread-self") - queued_s, time.process_time() - cpu_s
        # The bare thread may have been late because this process itself held it up: that is no excuse.
        watch.own_s = took_s - max(queued_s, bare.late_s - cpu_s) - bare.others_queued_s


def bare_sync_s(folder: Path) -> float:
    """How long it takes a bare file in that folder to be on the disk, beside whatever else uses it."""
    path = folder / "bare"
    began_s = time.monotonic()
    with path.open("wb") as file:
        file.write(b"x" * 1000)
        file.flush()
        os.fsync(file.fileno())
    took_s = time.monotonic() - began_s
    path.unlink()
    return took_s


class _Bare(threading.Thread):
    """Wakes up again and again, adds up how late it was, and looks at the others' queues."""

    def __init__(self, pids: tuple[int, ...]) -> None:
        super().__init__(name=BARE, daemon=True)
        self.late_s = 0.0
        self._began_s = {pid: _queued_s(str(pid)) for pid in pids}
        self._newest_s = dict(self._began_s)
        self._done = threading.Event()

    @property
    def others_queued_s(self) -> float:
        """How long the other processes stood in the queue."""
        return sum(self._newest_s[pid] - began_s for pid, began_s in self._began_s.items())

    def end(self) -> None:
        self._done.set()
        self.join()

    def run(self) -> None:
        due_s, over = time.monotonic() + _WAKES_S, False
        while not over:
            over = self._done.wait(_WAKES_S)
            late_s = time.monotonic() - due_s
            self.late_s += late_s if late_s > _WAKES_S else 0.0
            for pid, queued_s in self._newest_s.items():
                self._newest_s[pid] = max(queued_s, _queued_s(str(pid)))
            due_s = time.monotonic() + _WAKES_S


def _queued_s(process: str) -> float:
    """Time in the queue so far, 0 where the kernel tells none: its Documentation/scheduler/sched-stats.rst."""
    try:
        return int(Path(f"/proc/{process}/schedstat").read_text("ascii").split()[1]) / 1e9
    except (OSError, IndexError):
        return 0.0
