"""The capture, whole, on a clock of another pace: ``python -m tests.benchmarks.fast_capture PACE``, see ``pace``.

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
from tests.benchmarks.pace import Pace

__all__ = ["FastClock", "command"]


class FastClock:
    """The computer's clocks at another pace."""

    def __init__(self, pace: Pace) -> None:
        self._pace = pace
        self._utc = datetime.now(UTC)

    def now_ns(self) -> int:
        return self._pace.begun_ns + self._pace.session_ns(time.monotonic_ns())

    def utc(self) -> datetime:
        return self._utc + timedelta(microseconds=self._pace.session_ns(time.monotonic_ns()) / 1000)

    async def sleep(self, seconds: float) -> None:
        session_ns = self._pace.session_ns(time.monotonic_ns())
        await asyncio.sleep(seconds / self._pace.times_at(session_ns))


def command(pace: Pace) -> list[str]:
    """What starts it."""
    return [sys.executable, "-m", "tests.benchmarks.fast_capture", *pace.words()]


if __name__ == "__main__":
    sys.exit(main(FastClock(Pace.from_words(sys.argv[1:]))))
