"""Whether rated speed is being held, and for how long: a governor that hunts within the window holds.

The newest rows are provisional, and no governor stands still: neither a single row nor
a swing of some tens of rpm ends a hold. It ends when the speed is gone from the window,
swings widely, or is not seen any more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daq.run.rows import AlignedRows

    Floats = NDArray[np.float64]

__all__ = ["HOLD_S", "Hold", "held_s", "hold_now", "unsettled"]

HOLD_S = 10.0
"""A hold this long gives a result that more holding hardly betters (our choice)."""
_GAP_S = 2.0
_UNSEEN_S = 5.0
"""Rows come up to 2 s after their readings; without any for so long nothing is known of the speed."""
_OUTSIDE_S = 1.0
"""Outside the window for so long is no overswing any more."""
_SWING_S = 2.0
_SETTLED_SHARE, _WIDE_SHARE = 0.03, 0.04
"""Swing within that time, least to greatest, over the speed: below the one a hold begins, above the other it ends."""


class Hold(NamedTuple):
    """A hold that goes on."""

    began_s: float
    """Session time of its first row; of the first row there is, where it is longer than the rows reach back."""
    until_s: float
    """Session time of its newest row."""


def held_s(rows: AlignedRows, t_s: float) -> float:
    """How long rated speed has been held up to now, in seconds; 0 where it isn't."""
    hold = hold_now(rows, t_s)
    return 0.0 if hold is None else hold.until_s - hold.began_s


def hold_now(rows: AlignedRows, t_s: float) -> Hold | None:
    """The hold that goes on, if there is one.

    Args:
        rows: the run's aligned rows; those that are marked are passed over.
        t_s: the moment of the session.
    """
    time_s, speed_rpm, inside = _counted(rows)
    if len(time_s) == 0 or t_s - time_s[-1] > _UNSEEN_S:
        return None
    within = np.maximum.accumulate(np.where(inside, time_s, -np.inf))
    swing = _swing_share(time_s, speed_rpm)
    ends = (time_s - within > _OUTSIDE_S) | (swing > _WIDE_SHARE)
    after_gap = np.diff(time_s, prepend=time_s[0]) > _GAP_S
    begins = inside & (swing <= _SETTLED_SHARE) & ~ends
    if ends[-1]:
        return None
    first = max(_after_last(ends, 1), _after_last(after_gap, 0))
    found = np.flatnonzero(begins[first:])
    return Hold(float(time_s[first + found[0]]), float(time_s[-1])) if len(found) else None


def unsettled(rows: AlignedRows) -> bool:
    """Whether the speed swings or moves too much just now for a hold to begin."""
    time_s, speed_rpm, _ = _counted(rows)
    return len(time_s) > 0 and bool(_swing_share(time_s, speed_rpm)[-1] > _SETTLED_SHARE)


def _counted(rows: AlignedRows) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    good = (rows.mark == 0) & np.isfinite(rows.speed_rpm)
    return rows.time_s[good], rows.speed_rpm[good], rows.in_window[good]


def _swing_share(time_s: Floats, speed_rpm: Floats) -> Floats:
    """Greatest less least speed of the seconds up to each row, over its speed."""
    n = len(time_s)
    bounds = np.empty(2 * n, dtype=np.intp)
    bounds[::2] = np.searchsorted(time_s, time_s - _SWING_S)
    whole = np.searchsorted(time_s, time_s[0] + _SWING_S)  # the first rows have too little before them
    bounds[1::2] = np.maximum(np.arange(1, n + 1), whole)
    padded = np.append(speed_rpm, speed_rpm[-1])  # reduceat takes no bound beyond the end
    swing = np.maximum.reduceat(padded, bounds)[::2] - np.minimum.reduceat(padded, bounds)[::2]
    return swing / np.maximum(np.abs(speed_rpm), 1.0)


def _after_last(where: NDArray[np.bool_], step: int) -> int:
    """The row of the last one, or ``step`` beyond it; 0 where there is none."""
    found = np.flatnonzero(where)
    return int(found[-1]) + step if len(found) else 0
