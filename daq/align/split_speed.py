"""Part of a run at a whole multiple of the speed that the volts say beside the rest.

A tach that now and then counts a second spot gives a few false readings, which
:mod:`daq.align.false_readings` keeps out. One that does so for a good part of
the run splits it in two: each part is in proportion, one at twice the slope,
and the volts alone can't tell which part is right. The larger part may be the
wrong one, so nothing may rest on either.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.align.streams import PlacedStreams
from daq.align.sudden import sudden_levels

__all__ = ["SplitSpeed", "find_split_speed", "find_sudden_multiple"]

Floats = NDArray[np.float64]

SHARE = 0.15
"""Share of the speed readings from which on the others are no longer taken to be right."""
_LEAST = 6
_WITHIN = 0.08
_FACTORS = ((2.0, "twice"), (0.5, "half of"), (3.0, "three times"), (1.0 / 3.0, "a third of"))


@dataclass(frozen=True)
class SplitSpeed:
    """What splits the run."""

    count: int
    """Speed readings at the multiple."""
    total: int
    """Speed readings that could be held against the volts."""
    words: str
    """Their multiple of what the others say, such as "twice"."""
    above: bool
    """They are more than the others say, so these may have counted marks twice; else they may have missed some."""


def find_split_speed(streams: PlacedStreams, lag_s: float) -> SplitSpeed | None:
    """Look at which speed readings are multiples; None where few are, or the volts tell nothing.

    Args:
        streams: both, placed; a counter's readings are never split.
        lag_s: how much later the volts come.
    """
    if streams.counted or not bool(np.any(streams.marks.speed == Mark.FALSE_SPEED)):
        return None
    held = (streams.marks.speed == Mark.GOOD) | (streams.marks.speed == Mark.FALSE_SPEED)
    good = streams.marks.volts == Mark.GOOD
    if int(good.sum()) < _LEAST:
        return None
    volts_t = streams.volts_base.time_s[good] - lag_s
    at = np.interp(streams.speed_base.time_s[held], volts_t, streams.volts[good], left=np.nan, right=np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = streams.speed[held] / at
    right = ratio[(streams.marks.speed[held] == Mark.GOOD) & np.isfinite(ratio)]
    if len(right) == 0:
        return None
    ratio = ratio[np.isfinite(ratio)] / np.median(right)
    counts = [int((np.abs(ratio / factor - 1.0) < _WITHIN).sum()) for factor, _ in _FACTORS]
    most = int(np.argmax(counts))
    if counts[most] < max(_LEAST, SHARE * len(ratio)):
        return None
    factor, words = _FACTORS[most]
    return SplitSpeed(counts[most], len(ratio), words, factor > 1.0)


def find_sudden_multiple(streams: PlacedStreams) -> SplitSpeed | None:
    """Look at jumps of the speed that the volts make at no shift, where that between the two may be a wrong one."""
    known, valued = np.isfinite(streams.volts), np.isfinite(streams.speed)
    time_s, speed = streams.speed_base.time_s[valued], streams.speed[valued]
    levels = sudden_levels(time_s, speed, streams.volts_base.time_s[known], streams.volts[known])
    if levels is None:
        return None
    for factor, words in _FACTORS:
        count = int((np.abs(levels - np.log(factor)) < 1e-3).sum())
        if count >= max(_LEAST, SHARE * len(speed)):
            return SplitSpeed(count, len(speed), words, factor > 1.0)
    return None
