"""Readings that an instrument hands over several at once, as a second's worth each second.

Only the newest reading of such a burst was taken shortly before its stamp, and the others were taken before it at
the instrument's own pace::

    taken      |     |     |     |     |     |     |     |     |     |
    stamp                     |||               ||                |||
    line       '--- through the newest of each burst, over the readings' numbers ---'

The newest of each burst lie within one pace of a straight line over the readings' numbers where none is missing,
and all are placed on that line. Its constant is a part of the lag. Where there is no such line, where the readings
belong can't be known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.coarse_stamps import narrowest_band

__all__ = ["Bursts", "find_bursts"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_LEAST = 16
_LEAST_BURSTS = 6
_INSIDE, _BETWEEN = 0.2, 0.8
"""Of the mean interval: steps below the one are inside a burst, those above the other lie between two."""
_UNCLEAR = 0.05
"""Share of the steps that may lie between these."""
_LEAST_SHARE, _PARTS = 0.25, 4
"""Share of the steps that lie inside a burst, in each of so many parts of the run."""
_LOOKED_AT = 4096
_ROOM = 1.6
"""Paces within which the newest of the bursts lie around the line; hand-over and jitter need a little room."""
_MOST_WITHIN = 0.9
"""Share of the bursts that are handed over in time."""
_ROUNDS = 4


@dataclass(frozen=True)
class Bursts:
    """What is known of such readings."""

    apart_s: float
    """Usual time from one burst to the next."""
    period_s: float | None
    """The pace at which the readings were taken; None where they keep none and can't be placed."""
    time_s: Floats
    """Placed times, shape (n,); the stamps where the readings can't be placed."""
    scatter_s: float
    """Standard deviation of the newest of each burst around their places."""


def find_bursts(stamp_s: Floats) -> Bursts | None:
    """Place readings that arrive in bursts; None where they arrive one by one.

    Args:
        stamp_s: arrival, seconds, not falling, shape (n,).
    """
    if len(stamp_s) < _LEAST or not _clear(np.diff(stamp_s[:_LOOKED_AT])):
        return None
    steps = np.diff(stamp_s)
    if not _clear(steps):
        return None
    newest = np.flatnonzero(np.append(steps > _BETWEEN * float(np.mean(steps)), True))
    if len(newest) < _LEAST_BURSTS:
        return None
    stamps = stamp_s[newest]
    apart_s = float(np.median(np.diff(stamps)))
    in_time = _in_time(newest.astype(np.float64), stamps)
    period_s, width_s = narrowest_band(newest[in_time].astype(np.float64), stamps[in_time])
    if width_s > _ROOM * period_s or float(np.mean(in_time)) < _MOST_WITHIN:
        return Bursts(apart_s, None, stamp_s, 0.0)
    away = (stamps - period_s * newest)[in_time]
    placed = period_s * np.arange(len(stamp_s)) + float(np.mean(away))
    return Bursts(apart_s, period_s, np.asarray(placed), float(np.std(away)))


def _clear(steps: Floats) -> bool:
    """Many steps throughout are far shorter than the mean, and hardly any are a little shorter."""
    share = steps / max(float(np.mean(steps)), 1e-12)
    inside, between = share < _INSIDE, share > _BETWEEN
    if float(np.mean(~inside & ~between)) > _UNCLEAR:
        return False
    return min(float(np.mean(part)) for part in np.array_split(inside, _PARTS)) >= _LEAST_SHARE


def _in_time(number: Floats, stamp_s: Floats) -> Flags:
    """Which lie within one pace of a line of least squares through those that do, shape (n,)."""
    chosen = np.ones(len(number), dtype=np.bool_)
    for _ in range(_ROUNDS):
        x, y = number[chosen], stamp_s[chosen]
        middle = float(np.mean(x))
        slope = float((x - middle) @ y / np.sum(np.square(x - middle)))
        off = stamp_s - slope * (number - middle)
        kept = np.abs(off - float(np.median(off))) <= slope
        if int(kept.sum()) < _LEAST_BURSTS:
            break
        chosen = kept
    return chosen
