"""The stretches of a very long run that say most of the lag.

Hours at one speed say nothing of the lag, and tables over all of them cost time
and memory. Of a run with very many readings only some stretches are looked at:
those where the volts move most, and a few spread evenly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Pieces", "telling_stretches"]

Floats = NDArray[np.float64]

_FEW = 30_000
"""With no more volts readings than this the whole run is looked at."""
_LENGTH = 2000
_STEEPEST, _SPREAD = 8, 4


@dataclass(frozen=True)
class Pieces:
    """Readings of both streams within the chosen stretches; arrays of shape (n,) and (m,)."""

    speed_t: Floats
    speed: Floats
    volts_t: Floats
    volts: Floats


def telling_stretches(whole: Pieces, *, earliest_s: float, latest_s: float) -> Pieces:
    """Choose stretches.

    Args:
        whole: usable readings of the whole run, in order of time.
        earliest_s: how much before a volts reading speed may be needed.
        latest_s: how much after it.
    """
    count = len(whole.volts_t)
    if count <= _FEW or (earliest_s + latest_s) > 0.1 * (whole.volts_t[-1] - whole.volts_t[0]):
        return whole
    starts = np.arange(0, count - _LENGTH + 1, _LENGTH)
    ends = np.append(starts[1:], count)  # the last one may be longer
    steps = np.diff(whole.volts, append=whole.volts[-1])
    moves = np.add.reduceat(np.abs(steps, out=steps), starts) / (ends - starts)
    steepest = np.argsort(moves, kind="stable")[-_STEEPEST:]
    spread = np.linspace(0, len(starts) - 1, _SPREAD).astype(np.int64)
    chosen = np.union1d(steepest, spread)
    volts = np.concatenate([np.arange(starts[i], ends[i]) for i in chosen])
    begin = whole.volts_t[starts[chosen]] - earliest_s
    end = whole.volts_t[ends[chosen] - 1] + latest_s
    places = [
        np.arange(first, last)
        for first, last in zip(
            np.searchsorted(whole.speed_t, begin),
            np.searchsorted(whole.speed_t, end, side="right"),
            strict=True,
        )
    ]
    inside = np.unique(np.concatenate(places))  # those of neighbouring stretches overlap
    return Pieces(whole.speed_t[inside], whole.speed[inside], whole.volts_t[volts], whole.volts[volts])
