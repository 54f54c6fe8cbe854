"""Readings that repeat the one before because the instrument is asked, or sends, faster than it measures.

A display that takes a new value once a second, read five times a second, gives each value five times::

    asked      |    |    |    |    |    |    |    |    |    |    |    |
    value      19.6 19.6 19.6 19.6 19.7 19.7 19.7 19.7 19.7 19.9 19.9 19.9
    new                            ^                        ^
    placed                       |                        |               the instrument's own pace

The first of each value came at most one question late, the others say nothing new. The moments at which the value
changes keep the instrument's own pace then, to within one question; those of an instrument that stands still by
itself do not. Each value counts once, at that pace.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.timebase import TimeBase, fit_time_base

__all__ = ["Repeats", "find_repeats"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_LEAST_CHANGES = 16
_REPEATED = 0.4
"""Least share of readings that repeat the one before."""
_SINGLE = 0.1
"""Share of the values that may be seen once only."""
_SLOWER = 1.8
"""Times that the instrument's pace is slower than that of the questions, at the least."""
_SCATTER, _BAND = 0.55, 1.5
"""Of the time between two questions: scatter of the changes around a pace, and the band of nearly all."""
_ENDS = (0.025, 0.975)
_SCATTER_OF_PACE = 0.2
"""The same of the pace; changes that keep none scatter by 0.29 of any."""
_ONE_PACE = 1.6
"""Times the usual time between two changes up to which no pace is left out."""
_ONE_AFTER_ANOTHER = 0.6
"""Least share of the changes that follow the one before after one pace."""
_FURTHER = 0.2
"""Least share of the changes that are more than one digit."""
_LOOKED_AT = 4096


@dataclass(frozen=True)
class Repeats:
    """Which readings are new, and where they belong."""

    base: TimeBase
    """Placed times of all readings, rising, with the instrument's own pace."""
    repeated: Flags
    """Readings that say nothing new, shape (n,)."""


def find_repeats(stamp_s: Floats, value: Floats) -> Repeats | None:
    """Find an instrument that is read faster than it measures; None where each reading may be its own.

    Args:
        stamp_s: arrival, seconds, not falling, shape (n,).
        value: NaN where there was none, shape (n,).
    """
    if len(value) < 2 * _LEAST_CHANGES or float(np.mean(_same(value[:_LOOKED_AT]))) < _REPEATED:
        return None
    changes = np.flatnonzero(~_same(value)) + 1  # since when the first value stood is not known
    if not _LEAST_CHANGES <= len(changes) <= (1.0 - _REPEATED) * len(value):
        return None
    if float(np.mean(np.diff(changes) == 1)) > _SINGLE or _by_single_digits(value):
        return None
    asked_s = float(np.median(np.diff(stamp_s)))
    steps = np.diff(stamp_s[changes])
    single = steps[steps <= _ONE_PACE * float(np.median(steps))]  # where no value came out the same
    base = fit_time_base(stamp_s[changes], guess_s=float(np.mean(single)))
    if base.period_s is None or base.period_s < _SLOWER * asked_s or base.coarse_step_s > 0.0:
        return None
    if float(np.mean(np.abs(steps - base.period_s) <= 1.1 * asked_s)) < _ONE_AFTER_ANOTHER:
        return None
    off = stamp_s[changes] - base.time_s
    low, high = np.quantile(off, _ENDS).tolist()
    if high - low > _BAND * asked_s:
        return None
    if float(np.std(off)) > min(_SCATTER * asked_s, _SCATTER_OF_PACE * base.period_s):
        return None
    new, at_s = _with_equal_ones(stamp_s, changes, base.time_s, base.period_s)
    repeated = np.ones(len(value), dtype=np.bool_)
    repeated[new] = False
    time_s = _spread(at_s, new, len(value), asked_s)
    return Repeats(TimeBase(time_s, base.period_s, base.jitter_s, base.pieces), repeated)


def _same(value: Floats) -> Flags:
    """Of each but the first, whether it is the one before."""
    return np.asarray((value[1:] == value[:-1]) | (np.isnan(value[1:]) & np.isnan(value[:-1])))


def _by_single_digits(value: Floats) -> bool:
    """Nearly all changes are the least that is seen: a value that creeps through its digits stands between them."""
    step = np.abs(np.diff(value))
    step = step[step > 0.0]
    return len(step) == 0 or float(np.mean(step > 1.5 * np.min(step))) < _FURTHER


def _with_equal_ones(
    stamp_s: Floats, changes: NDArray[np.intp], placed_s: Floats, period_s: float
) -> tuple[NDArray[np.intp], Floats]:
    """The changes and their times, and between, before and after them at each beat a value that came out the same."""
    asked_s = float(np.median(np.diff(stamp_s)))
    beat = np.concatenate(([0.0], np.cumsum(np.maximum(np.rint(np.diff(placed_s) / period_s), 1.0))))
    before = int((placed_s[0] - stamp_s[0]) / period_s)
    after = int((stamp_s[-1] - placed_s[-1]) / period_s)
    all_beats = np.arange(-before, int(beat[-1]) + after + 1)
    at_s = np.interp(all_beats, beat, placed_s)
    at_s += period_s * (np.minimum(all_beats, 0) + np.maximum(all_beats - beat[-1], 0))
    new = np.minimum(np.searchsorted(stamp_s, at_s - 0.5 * asked_s), len(stamp_s) - 1)
    new[before + beat.astype(np.intp)] = changes
    kept = np.concatenate(([True], np.diff(np.maximum.accumulate(new)) > 0))
    return new[kept], at_s[kept]


def _spread(placed_s: Floats, new: NDArray[np.intp], count: int, asked_s: float) -> Floats:
    """The new ones where they were placed, those that repeat them evenly between."""
    at = np.arange(count)
    time_s = np.interp(at, new, placed_s)
    time_s += asked_s * (np.minimum(at - new[0], 0) + np.maximum(at - new[-1], 0))
    return np.asarray(time_s)
