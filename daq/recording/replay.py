"""Plays a recording back: its lines come when a clock reaches their time."""

from __future__ import annotations

import os
from bisect import bisect_right
from pathlib import Path
from typing import TYPE_CHECKING, Self

import numpy as np

from daq.recording.batch import Batch, empty_batch, slice_batch
from daq.recording.follower import FileFollower

if TYPE_CHECKING:
    from daq.model.clock import Clock
    from daq.recording.intake import Intake

__all__ = ["Replay"]


class Replay:
    """A source that gives a recording's lines in file order, none before its time.

    Attributes:
        path: the recording.
    """

    def __init__(self, path: str | os.PathLike[str], clock: Clock, rate: float) -> None:
        """Open the recording; its time starts to run now, at 0.

        Args:
            path: the recording, closed or cut off.
            clock: gives the time that passes.
            rate: seconds of the recording in one second of the clock; 0 for as fast as it goes.

        Raises:
            RecordingError: there is no such file, or it may not be read.
            ValueError: the rate is negative or no number.
        """
        self.path = Path(path)
        self._clock = clock
        self._rate = _checked(rate)
        self._base_t_ns = 0
        self._base_clock_ns = clock.now_ns()
        self._paused = False
        self._open()

    def _open(self) -> None:
        self._follower = FileFollower(self.path, until_end=True)
        self._ahead = empty_batch()
        self._reading = 0
        self._entry = 0

    @property
    def intake(self) -> Intake:
        """What is known of the part that was read so far, which may be ahead of what was given."""
        return self._follower.intake

    @property
    def finished(self) -> bool:
        """The whole recording was given."""
        return self._follower.finished and not self._left()

    @property
    def problems(self) -> list[str]:
        """What was wrong with the part read so far; at the end also how the recording ended."""
        return self._follower.problems

    @property
    def paused(self) -> bool:
        """Whether its time stands still."""
        return self._paused

    @property
    def rate(self) -> float:
        """Seconds of the recording in one second of the clock; 0 for as fast as it goes."""
        return self._rate

    @rate.setter
    def rate(self, rate: float) -> None:
        self._base_t_ns, self._base_clock_ns = self.position_ns, self._clock.now_ns()
        self._rate = _checked(rate)

    @property
    def position_ns(self) -> int:
        """The recording's time now, in nanoseconds since its start."""
        if self._paused or self._rate == 0:
            return self._base_t_ns
        return self._base_t_ns + int((self._clock.now_ns() - self._base_clock_ns) * self._rate)

    def pause(self) -> None:
        """Let its time stand still."""
        self._base_t_ns = self.position_ns
        self._paused = True

    def resume(self) -> None:
        """Let its time run on."""
        self._base_clock_ns = self._clock.now_ns()
        self._paused = False

    def seek(self, t_ns: int) -> bool:
        """Go to a time.

        Returns:
            True where that was backwards: the lines then come anew from the first
            on, at once up to ``t_ns``, and who reads them has to start afresh.
        """
        back = t_ns < self.position_ns
        self._base_t_ns, self._base_clock_ns = max(0, t_ns), self._clock.now_ns()
        if back:
            self._follower.close()
            self._open()
        return back

    def poll(self) -> Batch:
        """The lines whose time has come, a bounded number of them.

        Raises:
            RecordingError: it is no recording, or was cut, removed or replaced meanwhile.
        """
        if not self._left():
            self._ahead = self._follower.poll()
            self._reading = self._entry = 0
        readings, entries = self._due()
        given = slice_batch(self._ahead, slice(self._reading, readings), slice(self._entry, entries))
        self._reading, self._entry = readings, entries
        if self._rate == 0 and len(given.t_ns):
            self._base_t_ns = max(self._base_t_ns, int(given.t_ns.max()))
        return given

    def close(self) -> None:
        """Let go of the file; may be called twice."""
        self._follower.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _left(self) -> bool:
        return self._reading < len(self._ahead.t_ns) or self._entry < len(self._ahead.entries)

    def _due(self) -> tuple[int, int]:
        """Up to which reading and which entry of what was read ahead the time has come."""
        if self._rate == 0 and not self._paused:
            return len(self._ahead.t_ns), len(self._ahead.entries)
        limit_ns = self.position_ns
        late = self._ahead.t_ns[self._reading :] > limit_ns
        readings = self._reading + int(np.argmax(late)) if late.any() else len(self._ahead.t_ns)
        entries = bisect_right(self._ahead.entry_at, readings)
        for index in range(self._entry, entries):
            if getattr(self._ahead.entries[index], "t_ns", 0) > limit_ns:
                return min(readings, self._ahead.entry_at[index]), index
        return readings, entries


def _checked(rate: float) -> float:
    if not 0 <= rate < float("inf"):
        raise ValueError(f"a replay rate of {rate} makes no sense")
    return rate
