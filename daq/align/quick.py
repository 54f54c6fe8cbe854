"""Rows beside a change of throttle that is too fast for the tach to show: they are kept out, and nothing is blamed.

Between two tach readings of which one is half as much again as the other the
speed may have changed at any moment, and so may the mean over a volts window
have been nearly either; the windows next to it are drawn from the same
readings. While the lag is not known, that goes for all rows within it::

    tach     1800  1800 | 3600  3600
    rows      o  o  x x x x x  o  o        x is kept out
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.parts import parts

__all__ = ["QuickChanges", "quick_changes"]

Floats = NDArray[np.float64]

_QUICK = 1.4
"""Multiple from one reading to the next (judgement, common practice, no source)."""
_WINDOWS = 2.5
"""Tach windows on either side of a change whose mean, or course, it spoils."""
_UNKNOWN_LAG_S = 1.5
"""How far a lag is searched where none is known: more than any two delays differ."""
_SURE = 3.0


@dataclass(frozen=True)
class QuickChanges:
    """Arrays of shape (k,), seconds."""

    before_s: Floats
    """The last reading before each change."""
    after_s: Floats
    """The first after it."""
    period_s: float
    """Usual time from one reading to the next."""

    def beside(self, middle_s: Floats, window_s: float, lag_u_s: float | None) -> NDArray[np.bool_]:
        """Which rows lie beside a change, shape (n,).

        Args:
            middle_s: middle of each row's window on the tach's time, rising, shape (n,).
            window_s: the meter's window.
            lag_u_s: standard uncertainty of the lag; None where the run does not show it.
        """
        unsure_s = _UNKNOWN_LAG_S if lag_u_s is None else min(_SURE * lag_u_s, _UNKNOWN_LAG_S)
        reach_s = 0.5 * window_s + unsure_s + (_WINDOWS - 0.5) * self.period_s
        step = np.zeros(len(middle_s) + 1, dtype=np.int64)
        np.add.at(step, np.searchsorted(middle_s, self.before_s - reach_s), 1)
        np.add.at(step, np.searchsorted(middle_s, self.after_s + reach_s, side="right"), -1)
        return np.asarray(np.cumsum(step[:-1]) > 0)


def quick_changes(speed_t: Floats, speed: Floats, *, longest_s: float) -> QuickChanges:
    """Find the changes that the tach can't show.

    Args:
        speed_t: times of the tach readings that count, seconds, rising, shape (m,).
        speed: rpm, shape (m,).
        longest_s: readings further apart have a hole between them, over which no row goes.
    """
    found = [
        part.start + np.flatnonzero(_quick(speed[part.start : part.stop + 1]))
        for part in parts(max(len(speed) - 1, 0))
    ]
    at = np.concatenate(found) if found else np.zeros(0, dtype=np.intp)
    at = at[speed_t[at + 1] - speed_t[at] <= longest_s]
    period_s = float(np.median(np.diff(speed_t))) if len(at) else 0.0
    return QuickChanges(speed_t[at], speed_t[at + 1], period_s)


def _quick(speed: Floats) -> NDArray[np.bool_]:
    before, after = speed[:-1], speed[1:]
    return np.asarray((after > _QUICK * before) | (before > _QUICK * after))
