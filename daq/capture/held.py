"""What a capture's words tell of readings that it holds in memory because its disk does not take them."""

from __future__ import annotations

from daq.capture.spec import Closed, Closing, Failed, RecordingMoved, Resumed, Stalled, Status
from daq.model.clock import Clock, SystemClock

__all__ = ["LONG_S", "HeldBack"]

LONG_S = 2.0
"""A recording that takes so long to close waits for its disk."""


class HeldBack:
    """Whether something is held, and for how long. One thread tells, others ask."""

    def __init__(self, clock: Clock | None = None) -> None:
        """Nothing is held yet; ``clock``: the computer's own where none is given."""
        self._clock = clock or SystemClock()
        self._stalled_s: float | None = None
        self._closing_s: float | None = None
        self._ended_s: float | None = None

    def take(self, status: Status) -> None:
        """Take in what the capture says."""
        match status:
            case Stalled():
                self._stalled_s = self._now_s() if self._stalled_s is None else self._stalled_s
            case Resumed() | RecordingMoved():
                self._stalled_s = None
            case Closing():
                self._closing_s = self._now_s()
            case Closed() | Failed():
                self._stalled_s = self._closing_s = None

    def ended(self) -> None:
        """The capture will say nothing more: what it held at this moment is not going to be written."""
        self._ended_s = self._now_s()

    @property
    def something(self) -> bool:
        """Whether its disk takes nothing, or it is just writing its last."""
        return self._since_s() is not None

    @property
    def for_s(self) -> float:
        """For how long, up to now or to its end; it may have been longer before the capture said so."""
        since_s = self._since_s()
        until_s = self._now_s() if self._ended_s is None else self._ended_s
        return 0.0 if since_s is None else max(0.0, until_s - since_s)

    @property
    def behind(self) -> bool:
        """Whether the disk took nothing, by the capture's own word or since its closing takes long."""
        return self._stalled_s is not None or (self._closing_s is not None and self.for_s >= LONG_S)

    @property
    def late(self) -> bool:
        """Whether it was to close its recording, and its disk does not take the rest."""
        return self._closing_s is not None and self.behind

    def _since_s(self) -> float | None:
        known = [since_s for since_s in (self._stalled_s, self._closing_s) if since_s is not None]
        return min(known, default=None)

    def _now_s(self) -> float:
        return self._clock.now_ns() / 1e9
