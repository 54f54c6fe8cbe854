"""The capture, whole, on a clock that runs faster than the computer's: ``python -m tests.benchmarks.fast_capture
TIMES``.

Stamps, session times and the pauses between two tries pass so many times faster. What the capture does by the
event loop's own time keeps its real pace: it hands over every 0.05 s, asks for the disk every second, and looks at
the clocks five times a second.
"""

from __future__ import annotations

import asyncio
import sys
import time
from datetime import UTC, datetime, timedelta

from daq.capture.__main__ import main

__all__ = ["FastClock", "command"]


class FastClock:
    """The computer's clocks, running so many times faster from now on."""

    def __init__(self, times: float) -> None:
        self._times = times
        self._begun_ns = time.monotonic_ns()
        self._begun_utc = datetime.now(UTC)

    def now_ns(self) -> int:
        return self._begun_ns + round((time.monotonic_ns() - self._begun_ns) * self._times)

    def utc(self) -> datetime:
        return self._begun_utc + timedelta(microseconds=(self.now_ns() - self._begun_ns) / 1000)

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(seconds / self._times)


def command(times: float) -> list[str]:
    """What starts it."""
    return [sys.executable, "-m", "tests.benchmarks.fast_capture", str(times)]


if __name__ == "__main__":
    sys.exit(main(FastClock(float(sys.argv[1]))))
