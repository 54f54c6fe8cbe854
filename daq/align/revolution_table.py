"""R(t) over many runs, and what can be asked of it: mean speed over a window, its slope, what it rests on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.revolutions import Segments, TachModel, build_segments

__all__ = ["TOUCH_S", "RevolutionTable", "WindowMeans", "split_runs"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class WindowMeans:
    """Speed over windows of the meter; arrays of shape (n,)."""

    speed_rpm: Floats
    """Mean over the window; NaN where R does not cover it whole."""
    slope_rpm_s: Floats
    """Mean rate of change over the window."""
    bridged: NDArray[np.bool_]
    """The window touches a filled place."""


# Rows of the table's one array: one gather then fetches all that is known of a segment.
_START, _LENGTH, _R0, _C1, _C2, _C3, _C4, _PIECE, _BRIDGED_BEFORE, _BRIDGED_WITH = range(10)
TOUCH_S = 1e-6
"""Segments whose edges lie closer than this follow each other."""


class RevolutionTable:
    """Segments in order of time, with the revolutions before each."""

    def __init__(self, segments: Floats, carry: float) -> None:
        self._segments = segments
        self._carry = carry

    @classmethod
    def empty(cls) -> RevolutionTable:
        """A table without segments."""
        return cls(np.empty((10, 0)), 0.0)

    @classmethod
    def of(
        cls,
        time_s: Floats,
        value: Floats,
        *,
        model: TachModel,
        period_s: float | None,
        max_gap_s: float,
    ) -> RevolutionTable:
        """The table of whole streams; arguments as in :func:`build_segments`."""
        runs = [
            build_segments(time_s[run], value[run], model=model, period_s=period_s, ended=True)
            for run in split_runs(time_s, max_gap_s, value if model == "counted" else None)
        ]
        return cls.empty().plus(Segments.joined(runs))

    @property
    def end_s(self) -> float:
        """Where the newest segment ends; minus infinity without segments."""
        if self._segments.shape[1] == 0:
            return -np.inf
        return float(self._segments[_START, -1] + self._segments[_LENGTH, -1])

    def plus(self, segments: Segments, first: int = 0) -> RevolutionTable:
        """This table and the final segments from number ``first`` on; sums are carried in order."""
        part = slice(first, segments.final)
        start, length = segments.start_s[part], segments.length_s[part]
        count = len(start)
        if count == 0:
            return self
        old = self._segments.shape[1]
        table = np.empty((10, old + count))
        table[:, :old] = self._segments
        new = table[:, old:]
        new[_START], new[_LENGTH] = start, length
        new[_C1], new[_C2] = segments.c1[part], segments.c2[part]
        new[_C3], new[_C4] = segments.c3[part], segments.c4[part]
        # A plain running sum, one addend after the other: the same bits however it is fed.
        totals = np.cumsum(np.concatenate(([self._carry], segments.increments[part])))
        new[_R0] = totals[:-1]
        piece, bridged = (table[_PIECE, old - 1], table[_BRIDGED_WITH, old - 1]) if old else (0.0, 0.0)
        apart = np.empty(count, dtype=np.bool_)
        apart[0] = start[0] - self.end_s > TOUCH_S
        np.greater(start[1:] - (start[:-1] + length[:-1]), TOUCH_S, out=apart[1:])
        new[_PIECE] = piece + _counted(apart)
        new[_BRIDGED_WITH] = bridged + _counted(segments.bridged[part])
        new[_BRIDGED_BEFORE, 0] = bridged
        new[_BRIDGED_BEFORE, 1:] = new[_BRIDGED_WITH, :-1]
        return RevolutionTable(table, float(totals[-1]))

    def without_before(self, time_s: float) -> RevolutionTable:
        """Forget the segments that end before a time."""
        keep = int(self._segments[_START].searchsorted(time_s, side="right")) - 1
        if keep <= 0:
            return self
        return RevolutionTable(self._segments[:, keep:].copy(), self._carry)

    def window_means(self, end_s: Floats, window_s: float) -> WindowMeans:
        """Mean speed over windows of length ``window_s`` that end at ``end_s``: 60·[R(t) − R(t−W)]/W."""
        begin_s = end_s - window_s
        if self._segments.shape[1] == 0:
            nothing = np.full(end_s.shape, np.nan)
            return WindowMeans(nothing, nothing, np.zeros(end_s.shape, dtype=np.bool_))
        ends_in = self._at(end_s)
        begins_in = self._before(ends_in, begin_s)
        # As nearly always nothing is apart or bridged, and what is only told of such places need not be fetched.
        whole = self._is_whole
        i, u = self._segment(begins_in, begin_s, _PIECE if whole else None)
        j, v = self._segment(ends_in, end_s, _PIECE if whole else None)
        outside = (u < 0.0) | (u > 1.0 + 1e-9) | (v > 1.0 + 1e-9)
        if not whole:
            outside |= i[_PIECE] != j[_PIECE]
        r_i, n_i = _evaluate(i, u)
        r_j, n_j = _evaluate(j, v)
        speed, slope = (r_j - r_i) * (60.0 / window_s), (n_j - n_i) * (60.0 / window_s)
        speed[outside] = np.nan
        slope[outside] = np.nan
        if whole:
            return WindowMeans(speed, slope, np.zeros(end_s.shape, dtype=np.bool_))
        return WindowMeans(speed, slope, (j[_BRIDGED_WITH] > i[_BRIDGED_BEFORE]) & ~outside)

    @property
    def _is_whole(self) -> bool:
        """No two segments are apart, and none is bridged."""
        table = self._segments
        one_piece = table[_PIECE, 0] == table[_PIECE, -1]
        return bool(one_piece and table[_BRIDGED_BEFORE, 0] == table[_BRIDGED_WITH, -1])

    def _at(self, t: Floats) -> NDArray[np.int64]:
        """Number of the segment that holds each moment; the first for moments before it."""
        found = self._segments[_START].searchsorted(t, side="right")
        index: NDArray[np.int64] = np.asarray(found, dtype=np.int64)
        index -= 1
        return np.maximum(index, 0, out=index)

    def _before(self, index: NDArray[np.int64], t: Floats) -> NDArray[np.int64]:
        """The same as :meth:`_at`, quicker where the moments lie a few segments before those known."""
        start = self._segments[_START]
        for _ in range(4):
            late = start.take(index) > t
            if not late.any():
                return index
            index = np.maximum(index - late, 0)
        return self._at(t)

    def _segment(
        self, index: NDArray[np.int64], t: Floats, numbers: int | None = None
    ) -> tuple[Floats, Floats]:
        """The first so many numbers of the segments, or all, and how far along it each moment lies, 0 to 1."""
        segment = self._segments[:numbers].take(index, axis=1)
        return segment, (t - segment[_START]) / segment[_LENGTH]


def _counted(flags: NDArray[np.bool_]) -> Floats | float:
    """How many are set up to and with each; 0 where none is, which is the usual case."""
    return np.cumsum(flags, dtype=np.float64) if flags.any() else 0.0


def _evaluate(segment: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Revolutions and revolutions a second at the places."""
    r0, c1, c2, c3, c4 = segment[_R0 : _C4 + 1]
    turns = r0 + u * (c1 + u * (c2 + u * (c3 + u * c4)))
    speed = (c1 + u * (2.0 * c2 + u * (3.0 * c3 + u * (4.0 * c4)))) / segment[_LENGTH]
    return turns, speed


def split_runs(time_s: Floats, max_gap_s: float, counted: Floats | None = None) -> list[slice]:
    """Slices of a rising time column between the holes longer than the limit, and where a count begins anew."""
    if len(time_s) == 0:
        return []
    apart = np.diff(time_s) > max_gap_s
    if counted is not None:
        apart |= np.diff(counted) < 0.0
    cuts = (np.flatnonzero(apart) + 1).tolist()
    return [slice(a, b) for a, b in zip([0, *cuts], [*cuts, len(time_s)], strict=True)]
