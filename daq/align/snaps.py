"""Changes of level within a few readings, such as a throttle snapped open, and the shift at which two logs share them.

The estimate of the lag takes the few readings on such a change for outliers,
and where the speed is steady otherwise it sees nothing. Where the clocks of two
logs have nothing to do with each other, the changes themselves tell which
moments belong together, for one shift must do for all of them::

    speed   ___'----,______'---,___      up, down, up, down
    volts         ___'----,__________    the first two
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.parts import parts

__all__ = ["LevelChanges", "followed", "level_changes", "shared_shift"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_CALM = 0.06
"""Share by which neighbouring readings of one level may differ."""
_LEAST = float(np.log(1.4))
_SAME = 0.1
"""Logarithms that differ by less are of one change: a window may be cut, and the volts may miss proportion."""
_MOST_STEPS = 3
_FOR_STEP = 50_000
_MOST_HELD, _MOST_BESIDE = 200, 2000
"""From so many changes, spread over the run, the shift is taken."""


@dataclass(frozen=True)
class LevelChanges:
    """Arrays of shape (k,)."""

    time_s: Floats
    """Middle between the last reading before and the first after, rising."""
    log: Floats
    """Natural logarithm of the multiple by which the value changed."""
    step_s: float
    """Usual time from one reading to the next: so well are the moments known."""

    def some(self, most: int) -> LevelChanges:
        """At most so many of them, spread over all."""
        every = slice(None, None, max(-(-len(self.time_s) // most), 1))
        return LevelChanges(self.time_s[every], self.log[every], self.step_s)


def level_changes(time_s: Floats, value: Floats) -> LevelChanges:
    """Find changes by more than 1.4 times within three readings, all one way.

    Args:
        time_s: of the readings that have a value, seconds, rising, shape (n,).
        value: shape (n,); no NaN.
    """
    if len(value) < 2:
        return LevelChanges(np.zeros(0), np.zeros(0), 0.0)
    way = _ways(value)
    edges = np.flatnonzero(np.diff(way, prepend=np.int8(0), append=np.int8(0)))
    first, end = edges[:-1], edges[1:]
    moving = (way[first] != 0) & (end - first <= _MOST_STEPS)
    first, end = first[moving], end[moving]
    least = np.minimum(value[first], value[end])
    first, end = first[least > 0.0], end[least > 0.0]
    log = np.log(value[end] / value[first])
    large = np.abs(log) > _LEAST
    first, end, log = first[large], end[large], log[large]
    return LevelChanges(
        0.5 * (time_s[first] + time_s[end]), log, float(np.median(np.diff(time_s[:_FOR_STEP])))
    )


def _ways(value: Floats) -> NDArray[np.int8]:
    """1 where a reading is followed by one much larger, -1 by one much smaller, else 0; shape (n - 1,)."""
    way = np.zeros(len(value) - 1, dtype=np.int8)
    for part in parts(len(way)):
        before, after = value[part], value[part.start + 1 : part.stop + 1]
        way[part] = (after > (1.0 + _CALM) * before).astype(np.int8) - (after < (1.0 - _CALM) * before)
    return way


def followed(log: Floats, time_s: Floats, others: LevelChanges, apart_s: float) -> Flags:
    """Which changes the other stream makes too, at the one shift at which it makes most of them, shape (n,).

    Args:
        log: of the changes, shape (n,).
        time_s: their moments, shape (n,).
        others: those of the other stream.
        apart_s: by how much the moments of one change may differ.
    """
    mine = LevelChanges(time_s, log, 0.0)
    low_s, _ = _best_shift(mine, others, apart_s)
    if low_s is None:
        return np.zeros(len(log), dtype=np.bool_)
    first = np.searchsorted(others.time_s, time_s + low_s)
    last = np.searchsorted(others.time_s, time_s + low_s + 2.0 * apart_s, side="right")
    return np.array(
        [bool(np.any(np.abs(others.log[a:b] - x) < _SAME)) for a, b, x in zip(first, last, log, strict=True)],
        dtype=np.bool_,
    )


def shared_shift(mine: LevelChanges, others: LevelChanges) -> float | None:
    """By how much later the others make the same changes, s; None where they make none, or two shifts do as well."""
    apart_s = mine.step_s + others.step_s
    low_s, alone = _best_shift(mine, others, apart_s)
    return low_s + apart_s if low_s is not None and alone else None


def _best_shift(mine: LevelChanges, others: LevelChanges, apart_s: float) -> tuple[float | None, bool]:
    """The lower end of the shift at which most changes are shared, and whether no other does as well."""
    mine, others = mine.some(_MOST_HELD), others.some(_MOST_BESIDE)
    same = np.abs(mine.log[:, None] - others.log) < _SAME
    gap_s = np.sort((others.time_s - mine.time_s[:, None])[same])
    if len(gap_s) == 0:
        return None, False
    fits = np.searchsorted(gap_s, gap_s + 2.0 * apart_s, side="right") - np.arange(len(gap_s))
    best = int(np.argmax(fits))
    inside = gap_s[best : best + int(fits[best])]
    middle_s = 0.5 * float(inside[0] + inside[-1])
    elsewhere = np.abs(gap_s - middle_s) > 4.0 * apart_s
    alone = not bool(np.any(fits[elsewhere] >= fits[best]))
    return middle_s - apart_s, alone
