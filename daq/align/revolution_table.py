"""R(t) over many runs, and what can be asked of it: mean speed over a window, its slope, what it rests on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.revolutions import Segments, TachModel, build_segments

__all__ = ["RevolutionTable", "WindowMeans", "split_runs"]

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


class RevolutionTable:
    """Segments in order of time, with the revolutions before each."""

    def __init__(self, start_s: Floats, columns: Floats, bridged: NDArray[np.int64], carry: float) -> None:
        self._start_s = start_s
        self._columns = columns  # rows: length_s, r0, c1, c2, c3, c4
        self._bridged = bridged  # bridged segments up to and with each
        self._carry = carry

    @classmethod
    def empty(cls) -> RevolutionTable:
        """A table without segments."""
        return cls(np.empty(0), np.empty((6, 0)), np.empty(0, dtype=np.int64), 0.0)

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
        table = cls.empty()
        for run in split_runs(time_s, max_gap_s):
            table = table.plus(
                build_segments(time_s[run], value[run], model=model, period_s=period_s, ended=True)
            )
        return table

    @property
    def end_s(self) -> float:
        """Where the newest segment ends; minus infinity without segments."""
        if len(self._start_s) == 0:
            return -np.inf
        return float(self._start_s[-1] + self._columns[0, -1])

    def plus(self, segments: Segments, first: int = 0) -> RevolutionTable:
        """This table and the final segments from number ``first`` on; sums are carried in order."""
        part = slice(first, segments.final)
        increments = segments.increments[part]
        if len(increments) == 0:
            return self
        # A plain running sum, one addend after the other: the same bits however it is fed.
        totals = np.cumsum(np.concatenate(([self._carry], increments)))
        new = np.stack(
            (
                segments.length_s[part],
                totals[:-1],
                segments.c1[part],
                segments.c2[part],
                segments.c3[part],
                segments.c4[part],
            )
        )
        bridged_before = int(self._bridged[-1]) if len(self._bridged) else 0
        return RevolutionTable(
            np.concatenate((self._start_s, segments.start_s[part])),
            np.concatenate((self._columns, new), axis=1),
            np.concatenate((self._bridged, bridged_before + np.cumsum(segments.bridged[part]))),
            float(totals[-1]),
        )

    def without_before(self, time_s: float) -> RevolutionTable:
        """Forget the segments that end before a time."""
        keep = max(0, int(np.searchsorted(self._start_s, time_s, side="right")) - 1)
        if keep == 0:
            return self
        return RevolutionTable(
            self._start_s[keep:], self._columns[:, keep:], self._bridged[keep:], self._carry
        )

    def window_means(self, end_s: Floats, window_s: float) -> WindowMeans:
        """Mean speed over windows of length ``window_s`` that end at ``end_s``: 60·[R(t) − R(t−W)]/W."""
        begin_s = end_s - window_s
        shape = end_s.shape
        if len(self._start_s) == 0:
            nothing = np.full(shape, np.nan)
            return WindowMeans(nothing, nothing, np.zeros(shape, dtype=np.bool_))
        i, u = self._place(begin_s)
        j, v = self._place(end_s)
        inside = (u >= 0.0) & (v <= 1.0 + 1e-9) & (u <= 1.0 + 1e-9) & self._unbroken(i, j)
        r_i, n_i = self._evaluate(i, u)
        r_j, n_j = self._evaluate(j, v)
        speed = np.where(inside, 60.0 * (r_j - r_i) / window_s, np.nan)
        slope = np.where(inside, 60.0 * (n_j - n_i) / window_s, np.nan)
        before_i = self._bridged[i] - self._is_bridged(i)
        return WindowMeans(speed, slope, inside & (self._bridged[j] > before_i))

    def _is_bridged(self, i: NDArray[np.int64]) -> NDArray[np.int64]:
        single = np.diff(self._bridged, prepend=0 if len(self._bridged) == 0 else self._bridged[0])
        return single[i]

    def _place(self, t: Floats) -> tuple[NDArray[np.int64], Floats]:
        index = np.searchsorted(self._start_s, t, side="right").astype(np.int64) - 1
        clipped = np.maximum(index, 0)
        u = (t - self._start_s[clipped]) / self._columns[0, clipped]
        return clipped, u

    def _unbroken(self, i: NDArray[np.int64], j: NDArray[np.int64]) -> NDArray[np.bool_]:
        """No break of R between segment i and segment j."""
        if len(self._start_s) == 1:
            return np.ones(i.shape, dtype=np.bool_)
        ends = self._start_s[:-1] + self._columns[0, :-1]
        hole = self._start_s[1:] - ends > 1e-6
        breaks = np.concatenate(([0], np.cumsum(hole)))
        result: NDArray[np.bool_] = breaks[i] == breaks[j]
        return result

    def _evaluate(self, i: NDArray[np.int64], u: Floats) -> tuple[Floats, Floats]:
        """Revolutions and revolutions a second at the places."""
        length, r0, c1, c2, c3, c4 = self._columns[:, i]
        turns = r0 + u * (c1 + u * (c2 + u * (c3 + u * c4)))
        speed = (c1 + u * (2.0 * c2 + u * (3.0 * c3 + u * 4.0 * c4))) / length
        return turns, speed


def split_runs(time_s: Floats, max_gap_s: float) -> list[slice]:
    """Slices of a rising time column between the holes longer than the limit."""
    if len(time_s) == 0:
        return []
    cuts = (np.flatnonzero(np.diff(time_s) > max_gap_s) + 1).tolist()
    return [slice(a, b) for a, b in zip([0, *cuts], [*cuts, len(time_s)], strict=True)]
