"""Tells when the capture itself stood still: suspended, or on a computer that was asleep or too busy. Pure.

Whatever it would say of an instrument's silence then is untrue: nobody listened.
"""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["LEAST_STANDSTILL_S", "StandstillWatch", "standstill_text"]

LEAST_STANDSTILL_S = 2.0
"""A look that comes later than this is a standstill; a busy computer is late by tenths."""


class StandstillWatch:
    """Sees at each look whether it came when it was due.

    Args:
        now_s: the clock by which the looks are timed, in seconds.
    """

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._due_s = now_s()

    def check(self) -> float | None:
        """How many seconds this look came too late; None where it came in time, or nearly."""
        late_s = self._now_s() - self._due_s
        return late_s if late_s > LEAST_STANDSTILL_S else None

    def next_after(self, wait_s: float) -> None:
        """The next look is due after so many seconds."""
        self._due_s = self._now_s() + wait_s


def standstill_text(stood_s: float) -> str:
    """A sentence for a mechanic."""
    return (
        f"This program itself stood still for {stood_s:.1f} s: it was suspended, or the computer was asleep or too "
        "busy. What the instruments sent meanwhile carries the time at which it was read, or is missing."
    )
