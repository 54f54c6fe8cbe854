"""Tells when the wall clock and the run's own clock part: the clock was set, or the computer slept. Pure."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import msgspec

from daq.model.clock import Clock
from daq.model.duration import duration_words
from daq.recording.wall_clock import may_be_a_date

__all__ = ["LEAST_JUMP_S", "ClockWatch", "Jump"]

LEAST_JUMP_S = 1.0
"""A smaller step between two looks may be the slewing of a time service, or a busy computer."""
_LEAST_SLEEP_S = 0.5
_LOOKS = 5
_AT_ONCE_NS = 10_000_000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Jump(msgspec.Struct, frozen=True):
    """The wall clock went another way than the run's own."""

    slept: bool
    """Whether the computer slept; else its clock was set."""
    text: str
    """A sentence for a mechanic."""


class ClockWatch:
    """Compares the clocks at each look.

    Args:
        clock: the run's own and the wall clock.
        asleep_ns: how long the computer has slept so far, as far as it tells.
    """

    def __init__(self, clock: Clock, asleep_ns: Callable[[], int]) -> None:
        self._clock = clock
        self._asleep_ns = asleep_ns
        self._off = self._wall_off()
        self._slept_ns = asleep_ns()

    def check(self) -> Jump | None:
        """Look at all of them; a few times a second."""
        before, self._off = self._off, self._wall_off()
        slept_before_ns, self._slept_ns = self._slept_ns, self._asleep_ns()
        slept_s = (self._slept_ns - slept_before_ns) / 1e9
        jump_s = (self._off - before).total_seconds()
        if slept_s >= _LEAST_SLEEP_S:
            return Jump(
                True,
                f"The computer slept for {duration_words(slept_s)}: nothing was recorded meanwhile, and the time of "
                "this recording stood still.",
            )
        if abs(jump_s) < LEAST_JUMP_S:
            return None
        return Jump(False, f"{self._set_words(jump_s)}; the times of the readings are not touched by it.")

    def _set_words(self, jump_s: float) -> str:
        now = self._clock.utc()
        before = now - timedelta(seconds=jump_s)
        if may_be_a_date(now) and not may_be_a_date(before):
            return (
                f"The computer's clock was set to {now:%Y-%m-%d %H:%M} UTC; it had shown {before:%Y-%m-%d}, which "
                "is no date of a run"
            )
        way = "forward" if jump_s > 0 else "back"
        return f"The computer's clock was set {way} by {duration_words(abs(jump_s))}"

    def _wall_off(self) -> timedelta:
        """Wall clock less the run's own; looked at again where the computer was busy elsewhere in between."""
        for _ in range(_LOOKS):
            before_ns = self._clock.now_ns()
            wall = self._clock.utc() - _EPOCH
            after_ns = self._clock.now_ns()
            if after_ns - before_ns < _AT_ONCE_NS:
                break
        return wall - timedelta(microseconds=(before_ns + after_ns) // 2000)
