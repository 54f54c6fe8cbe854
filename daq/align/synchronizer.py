"""The kernel: pairs each AC volts reading with the mean speed over the meter's own window.

The same code runs live, on replay and over a whole file. Fed in chunks of any
size it gives the same rows, bit for bit, as fed at once (with the same
parameters), as long as the two streams come in order of time to within
``SLACK_S`` of each other, as they stand in a recording.

Readings that come singly are held until they span ``TOGETHER_S``, because
taking in ten costs hardly more than taking in one.

A row waits for the speed readings it needs, but not for ever: when time has
gone ``wait_s`` beyond its window it is given without a speed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.revolution_table import TOUCH_S, RevolutionTable
from daq.align.revolutions import CONTEXT, TachModel, build_segments

__all__ = ["SLACK_S", "AlignmentParameters", "Due", "PairedRows", "Synchronizer"]

Floats = NDArray[np.float64]

TOGETHER_S = 0.5
"""Readings are taken in once they span this much time, or when the streams end."""
SLACK_S = 1.0
"""How far out of step the two streams may come."""


@dataclass(frozen=True)
class AlignmentParameters:
    """What the kernel has to know of the run."""

    lag_s: float
    """How much later the volts arrive than the speed of the same instant, centre to centre of windows."""
    voltage_window_s: float
    """Length of the meter's averaging window."""
    tach_model: TachModel
    tach_period_s: float | None
    """The tach's usual interval; None where it has none."""
    max_gap_s: float
    """Longest hole in the speed readings that is bridged."""

    @property
    def wait_s(self) -> float:
        """How long a row waits for speed: nine readings may each lie just within the gap limit."""
        return 9.0 * self.max_gap_s + 2.0 * SLACK_S


@dataclass(frozen=True)
class PairedRows:
    """One row for each volts reading; arrays of shape (n,)."""

    time_s: Floats
    voltage_v: Floats
    speed_rpm: Floats
    slope_rpm_s: Floats
    bridged: NDArray[np.bool_]

    @classmethod
    def joined(cls, parts: list[PairedRows]) -> PairedRows:
        """Parts one after the other."""
        if not parts:
            none = np.empty(0)
            return cls(none, none, none, none, np.empty(0, dtype=np.bool_))
        return cls(
            np.concatenate([p.time_s for p in parts]),
            np.concatenate([p.voltage_v for p in parts]),
            np.concatenate([p.speed_rpm for p in parts]),
            np.concatenate([p.slope_rpm_s for p in parts]),
            np.concatenate([p.bridged for p in parts]),
        )


@dataclass(frozen=True)
class Due:
    """Volts readings that nothing later can change, and all that their rows need; arrays of shape (n,)."""

    time_s: Floats
    voltage_v: Floats
    table: RevolutionTable
    parameters: AlignmentParameters

    def rows(self) -> PairedRows:
        """The rows."""
        if len(self.time_s) == 0:
            return PairedRows.joined([])
        window = self.parameters.voltage_window_s
        means = self.table.window_means(self.time_s - self.parameters.lag_s + 0.5 * window, window)
        return PairedRows(self.time_s, self.voltage_v, means.speed_rpm, means.slope_rpm_s, means.bridged)


class Synchronizer:
    """Feed it speed and volts as they come; it gives rows in order of time."""

    def __init__(self, parameters: AlignmentParameters) -> None:
        self._p = parameters
        self._table = RevolutionTable.empty()
        self._run_t = np.empty(0)
        self._run_v = np.empty(0)
        self._run_end_s = -np.inf
        """Start of the first segment of the current run that has not been taken."""
        self._pending_t = np.empty(0)
        self._pending_v = np.empty(0)
        self._horizon_s = -np.inf
        self._held: list[tuple[Floats, Floats, Floats, Floats]] = []
        self._taken_s = -np.inf

    def feed(self, speed_t: Floats, speed: Floats, volts_t: Floats, volts: Floats) -> PairedRows:
        """Take in readings and give the rows they complete; arguments as of :meth:`take`."""
        return self.take(speed_t, speed, volts_t, volts).rows()

    def flush(self) -> PairedRows:
        """The streams have ended: give every row that is left."""
        return self.take_last().rows()

    def take(self, speed_t: Floats, speed: Floats, volts_t: Floats, volts: Floats) -> Due:
        """Take in readings and say which rows they complete.

        Args:
            speed_t: seconds on the session's time, rising strictly over all calls, shape (n,).
            speed: rpm, or cumulative revolutions for a counter; no NaN, shape (n,).
            volts_t: seconds, not falling, shape (m,).
            volts: volts, NaN where a reading had none, shape (m,).
        """
        if len(speed_t):
            self._horizon_s = max(self._horizon_s, float(speed_t[-1]))
        if len(volts_t):
            self._horizon_s = max(self._horizon_s, float(volts_t[-1]))
        self._held.append((speed_t, speed, volts_t, volts))
        if self._horizon_s < self._taken_s + TOGETHER_S:
            return self._due(0)
        self._take_held()
        if len(self._run_t) and self._horizon_s - self._run_t[-1] > self._p.max_gap_s + SLACK_S:
            self._end_run()
        return self._due(self._decided())

    def take_last(self) -> Due:
        """The streams have ended: every row that is left."""
        self._take_held()
        self._end_run()
        return self._due(len(self._pending_t))

    def _take_held(self) -> None:
        held, self._held = self._held, []
        self._taken_s = self._horizon_s
        if not held:
            return
        speed_t, speed, volts_t, volts = (
            held[0] if len(held) == 1 else (np.concatenate(c) for c in zip(*held, strict=True))
        )
        if len(speed_t):
            self._take_speed(speed_t, speed)
        if len(volts_t):
            self._pending_t = np.concatenate((self._pending_t, volts_t))
            self._pending_v = np.concatenate((self._pending_v, volts))

    def _take_speed(self, t: Floats, v: Floats) -> None:
        apart = np.diff(np.concatenate((self._run_t[-1:], t))) > self._p.max_gap_s
        if self._p.tach_model == "counted":
            # A count that falls has begun anew: what was counted before is another piece.
            apart |= np.diff(np.concatenate((self._run_v[-1:], v))) < 0.0
        cuts = np.flatnonzero(apart).tolist()
        if not len(self._run_t):
            cuts = [c + 1 for c in cuts]
        begin = 0
        for cut in cuts:
            self._extend_run(t[begin:cut], v[begin:cut])
            self._end_run()
            begin = cut
        self._extend_run(t[begin:], v[begin:])
        self._take_segments(ended=False)

    def _extend_run(self, t: Floats, v: Floats) -> None:
        self._run_t = np.concatenate((self._run_t, t))
        self._run_v = np.concatenate((self._run_v, v))

    def _end_run(self) -> None:
        self._take_segments(ended=True)
        self._run_t, self._run_v = np.empty(0), np.empty(0)
        self._run_end_s = -np.inf

    def _take_segments(self, *, ended: bool) -> None:
        p = self._p
        segments = build_segments(
            self._run_t, self._run_v, model=p.tach_model, period_s=p.tach_period_s, ended=ended
        )
        if segments.final == 0:
            return
        first = int(np.searchsorted(segments.start_s, self._run_end_s, side="left"))
        self._table = self._table.plus(segments, first)
        if segments.final < len(segments.start_s):
            self._run_end_s = float(segments.start_s[segments.final])
        else:
            self._run_end_s = self._table.end_s
        reached = int(np.searchsorted(self._run_t, self._run_end_s, side="right"))
        drop = max(0, reached - CONTEXT)
        self._run_t, self._run_v = self._run_t[drop:], self._run_v[drop:]

    def _decided(self) -> int:
        """How many pending rows nothing later can change."""
        ends = self._pending_t - self._p.lag_s + 0.5 * self._p.voltage_window_s
        # A window that ends on the very edge belongs to the segment to come: its bits would differ.
        settled = (ends < self._table.end_s - TOUCH_S) | (ends + self._p.wait_s <= self._horizon_s)
        open_rows = np.flatnonzero(~settled)
        return int(open_rows[0]) if len(open_rows) else len(settled)

    def _due(self, count: int) -> Due:
        t, v = self._pending_t[:count], self._pending_v[:count]
        due = Due(t, v, self._table, self._p)
        if count == 0:
            return due
        self._pending_t, self._pending_v = self._pending_t[count:], self._pending_v[count:]
        oldest = (self._pending_t[0] if len(self._pending_t) else t[-1]) - self._p.lag_s
        self._table = self._table.without_before(oldest - 2.0 * self._p.voltage_window_s - SLACK_S)
        return due
