"""Stretches of a run in which the engine held a speed."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = ["Plateau", "STOPPED_RPM", "plateau_nearest", "plateaus"]

Floats = NDArray[np.float64]

STOPPED_RPM = 200.0
"""Below this an engine does not run by itself."""

_LOOK_BACK_S = 1.6
_MOVED_SHARE = 0.06
"""Share of rated speed by which the speed may move within the look back; a hunting governor stays below it."""
_DRIFTED_SHARE = 0.09
_LEAST_S = 1.5
_LONGEST_GAP_S = 4.0


@dataclass(frozen=True)
class Plateau:
    """From when to when the speed was held, and the mean speed."""

    from_s: float
    to_s: float
    speed_rpm: float

    @property
    def length_s(self) -> float:
        """How long it was held."""
        return self.to_s - self.from_s


def plateaus(time_s: Floats, speed_rpm: Floats, rated_rpm: float) -> tuple[Plateau, ...]:
    """Stretches of held speed, in order of time; a standing engine is none.

    Args:
        time_s: arrival of the speed readings, shape (n,), not falling.
        speed_rpm: shape (n,), no NaN.
        rated_rpm: rated test speed, the measure of what counts as moved.
    """
    if len(time_s) == 0:
        return ()
    found: list[Plateau] = []
    bounds = [0, *_breaks(time_s, speed_rpm, rated_rpm), len(time_s)]
    for first, end in pairwise(bounds):
        plateau = _plateau(time_s[first:end], speed_rpm[first:end])
        if plateau is not None:
            found.append(plateau)
    return tuple(found)


def _breaks(time_s: Floats, speed_rpm: Floats, rated_rpm: float) -> list[int]:
    """The places at which something new begins. One pass, whatever the length: a day holds a million readings."""
    looked_back = np.searchsorted(time_s, time_s - _LOOK_BACK_S)
    moved_rpm = _range_since(speed_rpm, looked_back).tolist()
    gap = np.diff(time_s, prepend=time_s[0]) > _LONGEST_GAP_S
    most_moved, most_drifted = _MOVED_SHARE * rated_rpm, _DRIFTED_SHARE * rated_rpm
    breaks: list[int] = []
    first, total, low, high = 0, 0.0, float("inf"), float("-inf")
    for i, (speed, back, late) in enumerate(
        zip(speed_rpm.tolist(), looked_back.tolist(), gap.tolist(), strict=True)
    ):
        low, high, total = min(low, speed), max(high, speed), total + speed
        # What lies before the beginning of this stretch is no part of it.
        moved = moved_rpm[i] if back > first else high - low
        drifted = abs(speed - total / (i + 1 - first))
        if i > first and (late or not (moved <= most_moved and drifted <= most_drifted)):
            breaks.append(i)
            first, total, low, high = i, speed, speed, speed
    return breaks


def _range_since(value: Floats, begin: NDArray[np.intp]) -> Floats:
    """Greatest minus least value from each one's beginning to itself, both included.

    Two stretches of a length that is a power of two cover any stretch; they are doubled step by step.
    """
    last = np.arange(len(value))
    count = last - begin + 1
    found = np.empty_like(value)
    high, low, length = value, value, 1
    while len(high):
        fits = np.flatnonzero((count >= length) & (count < 2 * length))
        one, other = begin[fits], last[fits] - length + 1
        found[fits] = np.maximum(high[one], high[other]) - np.minimum(low[one], low[other])
        high, low = np.maximum(high[:-length], high[length:]), np.minimum(low[:-length], low[length:])
        length *= 2
        if length > count.max():
            break
    return found


def _plateau(time_s: Floats, speed_rpm: Floats) -> Plateau | None:
    if len(time_s) < 2 or time_s[-1] - time_s[0] < _LEAST_S:
        return None
    mean = float(np.mean(speed_rpm))
    if mean < STOPPED_RPM:
        return None
    return Plateau(float(time_s[0]), float(time_s[-1]), mean)


def plateau_nearest(found: tuple[Plateau, ...], speed_rpm: float) -> Plateau | None:
    """The plateau whose speed lies nearest to ``speed_rpm``; of two within 2 % of it the longer one."""
    if not found:
        return None
    least = min(abs(each.speed_rpm - speed_rpm) for each in found)
    near = [each for each in found if abs(each.speed_rpm - speed_rpm) <= least + 0.02 * speed_rpm]
    return max(near, key=lambda each: each.length_s)
