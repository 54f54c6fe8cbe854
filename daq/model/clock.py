"""Time as an object that is passed in.

All stamps are integer nanoseconds on a monotonic clock. The wall clock is
asked for only where a session starts and where the two are compared. No
other module of the core may call :mod:`time` (a house test holds this).
"""

from __future__ import annotations

import asyncio
import time
from datetime import UTC, datetime, timedelta
from typing import Protocol

__all__ = ["Clock", "ManualClock", "SystemClock", "asleep_ns"]


class Clock(Protocol):
    """What code may ask of time."""

    def now_ns(self) -> int:
        """Nanoseconds on a clock that never runs backwards."""
        ...

    def utc(self) -> datetime:
        """The wall clock, aware, in UTC."""
        ...

    async def sleep(self, seconds: float) -> None:
        """Wait for that long on this clock."""
        ...


class SystemClock:
    """The computer's own clocks."""

    def now_ns(self) -> int:
        return time.monotonic_ns()

    def utc(self) -> datetime:
        return datetime.now(UTC)

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(seconds)


def asleep_ns() -> int:
    """A count that grows by as long as the computer sleeps; it stands still where the system does not tell."""
    boot_time = getattr(
        time, "CLOCK_BOOTTIME", None
    )  # Linux: goes on in sleep, where the monotonic one stands
    return 0 if boot_time is None else time.clock_gettime_ns(boot_time) - time.monotonic_ns()


class ManualClock:
    """A clock that moves only when told to; for tests and for drawing still pictures."""

    def __init__(self, start_ns: int = 0, utc: datetime | None = None) -> None:
        self._t_ns = start_ns
        self._utc = utc or datetime(2026, 1, 1, tzinfo=UTC)

    def now_ns(self) -> int:
        return self._t_ns

    def utc(self) -> datetime:
        return self._utc

    def advance(self, seconds: float) -> None:
        """Move the clock forward; ValueError when asked to go back."""
        if seconds < 0:
            raise ValueError("a monotonic clock can't go back")
        self._t_ns += round(seconds * 1e9)
        self._utc += timedelta(seconds=seconds)

    async def sleep(self, seconds: float) -> None:
        self.advance(seconds)
        await asyncio.sleep(0)
