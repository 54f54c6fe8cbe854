"""Two levels of an output that the speed's own movement hides: a joint that opens under a hunting governor.

A row beside a moving speed is granted some lateness, and a robust mean that has
many rows on a second level widens until it weighs them too. So the rows are
asked in another way: what is left of them once one lateness and one slope over
speed are taken out is cut in two where that explains the most (Otsu, IEEE
Transactions on Systems, Man, and Cybernetics 9, 1979; from memory). They are
two levels where the two lie far apart against what is left within each, and
the second is not met mainly where the speed changes the fastest, nor only while
it goes one way: for that a wrong lag does.

=================== ==========================================================
scatter              distance of the halves over the standard deviation within
=================== ==========================================================
normal               2.6
even between limits  3.5
a sine               4.1
two levels           above 4.5, rows between them among them
=================== ==========================================================
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.parts import spread

__all__ = ["second_level"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_APART = 4.5
_LEAST_SHARE = 0.02
"""Share of the output by which levels lie apart at the least (judgement)."""
_LEAST_ROWS = 20
_FEW = 3
_QUICKER = 2.0
_STILL_S = 0.005
"""Rate of change, as a share of the speed, that is none."""
_ONE_WAY = 0.2


def second_level(off: Floats, slope_share_s: Floats, speed_rpm: Floats, digit_share: float) -> Flags:
    """The rows on the level with fewer of them; none where there is one level only.

    Args:
        off: distance of each row from the stated output, as a share of it, shape (n,).
        slope_share_s: rate of change of speed over the speed, shape (n,).
        speed_rpm: shape (n,).
        digit_share: the instruments' digits together, as a share of the output.
    """
    none = np.zeros(len(off), dtype=np.bool_)
    if len(off) < _LEAST_ROWS:
        return none
    some = spread(len(off))
    usual_rpm = float(np.mean(speed_rpm[some]))
    found = _fitted(off[some], slope_share_s[some], speed_rpm[some] / usual_rpm - 1.0)
    left = off - found[0] - found[1] * slope_share_s - found[2] * (speed_rpm / usual_rpm - 1.0)
    lower = left <= _cut(left[some])
    high, low = left[~lower], left[lower]
    if min(len(high), len(low)) <= _FEW:
        return none
    within = np.sqrt((len(high) * np.var(high) + len(low) * np.var(low)) / len(left))
    apart = float(np.mean(high) - np.mean(low))
    if apart < max(_LEAST_SHARE, _APART * float(within), 3.0 * digit_share):
        return none
    fewer = lower if len(low) <= len(high) else ~lower
    return fewer if _at_any_slope(slope_share_s, fewer) else none


def _fitted(off: Floats, slope_share_s: Floats, speed_share: Floats) -> list[float]:
    """A level, one lateness and one slope over speed."""
    beside = np.stack((np.ones_like(off), slope_share_s, speed_share), axis=1)
    return [float(x) for x in np.linalg.lstsq(beside, off, rcond=None)[0]]


def _cut(x: Floats) -> float:
    """Where the variance between the two parts is greatest."""
    ordered = np.sort(x)
    count = np.arange(1, len(x))
    below = np.cumsum(ordered)[:-1]
    apart = below / count - (ordered.sum() - below) / (len(x) - count)
    return float(ordered[int(np.argmax(count * (len(x) - count) * np.square(apart)))])


def _at_any_slope(slope_share_s: Floats, flags: Flags) -> bool:
    here, else_where = slope_share_s[flags], slope_share_s[~flags]
    usual = float(np.median(np.abs(here)))
    if usual > _QUICKER * float(np.median(np.abs(else_where))) + _STILL_S:
        return False
    return usual <= _STILL_S or _ONE_WAY <= float(np.mean(here > 0.0)) <= 1.0 - _ONE_WAY
