"""Stretches of a run in which the engine held a speed."""

from __future__ import annotations

from dataclasses import dataclass

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
    found: list[Plateau] = []
    first = 0
    for i in range(len(time_s) + 1):
        ends = i == len(time_s) or not _goes_on(time_s, speed_rpm, first, i, rated_rpm)
        if not ends:
            continue
        plateau = _plateau(time_s[first:i], speed_rpm[first:i])
        if plateau is not None:
            found.append(plateau)
        first = i
    return tuple(found)


def _goes_on(time_s: Floats, speed_rpm: Floats, first: int, i: int, rated_rpm: float) -> bool:
    if i > first and time_s[i] - time_s[i - 1] > _LONGEST_GAP_S:
        return False
    recent = max(first, int(np.searchsorted(time_s, time_s[i] - _LOOK_BACK_S)))
    moved = float(np.ptp(speed_rpm[recent : i + 1]))
    drifted = abs(float(speed_rpm[i]) - float(np.mean(speed_rpm[first : i + 1])))
    return moved <= _MOVED_SHARE * rated_rpm and drifted <= _DRIFTED_SHARE * rated_rpm


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
