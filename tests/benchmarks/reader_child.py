"""A reader in a process of its own: ``python -m tests.benchmarks.reader_child bare|link PORT``.

Both take bytes as they come, stamp them in a thread and split them into lines; ``bare`` does nothing else, ``link``
is the drivers' own, whose bytes go through the bounded queue into the event loop. It ends with its standard input
and prints how many lines it saw and the seconds of processor time it took since the first.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
import threading
import time

from daq.driver_api import TransportDefaults
from daq.model.clock import SystemClock
from drivers.transports.link import SerialLink


class Tally:
    """Lines seen, and the processor time from the first on."""

    def __init__(self) -> None:
        self.lines = 0
        self._begun_s: float | None = None
        self._held = b""

    def take(self, data: bytes) -> None:
        """Split what came."""
        if self._begun_s is None:
            self._begun_s = time.process_time()
        *lines, self._held = (self._held + data).split(b"\n")
        self.lines += len(lines)

    def tell(self) -> None:
        """Print both."""
        print(self.lines, time.process_time() - (self._begun_s or 0.0), flush=True)


def bare(port: str, tally: Tally) -> None:
    """One thread, one blocking ``os.read``."""
    fd = os.open(port, os.O_RDONLY | os.O_NOCTTY)

    def work() -> None:
        stamps = [0]
        while data := os.read(fd, 4096):
            stamps[0] = time.monotonic_ns()
            tally.take(data)

    threading.Thread(target=work, daemon=True).start()
    sys.stdin.read()


async def link(port: str, tally: Tally) -> None:
    """The drivers' link."""
    ours = SerialLink(port, TransportDefaults(), SystemClock())
    await ours.open()

    async def work() -> None:
        while True:
            for chunk in await ours.receive():
                tally.take(chunk.data)

    task = asyncio.create_task(work())
    await asyncio.to_thread(sys.stdin.read)
    task.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await task
    await ours.aclose()


def main() -> None:
    """Read until standard input ends."""
    kind, port = sys.argv[1:]
    tally = Tally()
    if kind == "bare":
        bare(port, tally)
    else:
        asyncio.run(link(port, tally))
    tally.tell()
    os._exit(0)  # the bare thread is still in its read


if __name__ == "__main__":
    main()
