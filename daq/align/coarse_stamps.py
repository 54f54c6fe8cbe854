"""Stamps that are too coarse for the pace of the readings, as whole seconds beside two readings a second.

A logger that writes its clock in whole seconds gives several readings one stamp::

    reading    0    1    2    3    4    5    6    7
    true       0.2  0.6  1.0  1.4  1.8  2.2  2.6  3.0
    stamp      0    0    1    1    1    2    2    3
    line       '----- stamp = offset + pace x number, within one step of the stamps -----'

At a steady pace with nothing missing the stamps lie within one step of a straight line over the readings' numbers,
and that line places them far better than a stamp does: of all lines the one with the narrowest band around it is
taken. Where no such line exists, readings are missing or keep no pace, and where they belong can't be known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CoarseStamps", "find_coarse_stamps", "narrowest_band"]

Floats = NDArray[np.float64]

_LEAST = 8
_LEAST_SHARE = 0.05
"""Share of readings with the stamp of the one before, from which on stamps are too coarse."""
_MUCH_SHARE, _PARTS = 0.15, 4
"""Where no line fits: the share, in each of so many parts of the log, from which on that is said."""
_FINEST_S = 0.05
"""Steps below this cost nothing that matters."""
_ON_GRID = 1e-3
"""Of a step: how far a stamp may lie off the grid of whole steps."""
_ROOM = 1.15
"""Steps within which the stamps lie around the line; the readings' own jitter needs a little room."""
_LOOKED_AT = 4096
_HALVINGS = 60


@dataclass(frozen=True)
class CoarseStamps:
    """What is known of such stamps."""

    step_s: float
    """The stamps are multiples of this."""
    period_s: float | None
    """The pace at which the readings came; None where they keep none and can't be placed."""
    time_s: Floats
    """Placed times, shape (n,); the stamps where the readings can't be placed."""


def find_coarse_stamps(stamp_s: Floats) -> CoarseStamps | None:
    """Place readings whose stamps are too coarse; None where the stamps are fine enough.

    Args:
        stamp_s: seconds, not falling, shape (n,).
    """
    if len(stamp_s) < _LEAST:
        return None
    share = _shared(np.diff(stamp_s[:_LOOKED_AT]))
    if share < _LEAST_SHARE:
        return None
    steps = np.diff(stamp_s)
    step_s = float(np.min(steps[steps > 0.0], initial=np.inf))
    if not _FINEST_S <= step_s < np.inf or not _on_grid(steps, step_s):
        return None
    number = np.arange(len(stamp_s), dtype=np.float64)
    period_s, width_s = narrowest_band(number, stamp_s)
    if width_s <= _ROOM * step_s:
        away = stamp_s - period_s * number
        placed = period_s * number + 0.5 * (float(np.min(away)) + float(np.max(away)))
        return CoarseStamps(step_s, period_s, np.asarray(placed, dtype=np.float64))
    # A burst after a stall shares stamps too, but in one place.
    throughout = min(_shared(part) for part in np.array_split(steps, _PARTS))
    return CoarseStamps(step_s, None, stamp_s) if throughout >= _MUCH_SHARE else None


def _shared(steps: Floats) -> float:
    return float(np.mean(steps == 0.0))


def _on_grid(steps: Floats, step_s: float) -> bool:
    beats = steps / step_s
    return bool(np.all(np.abs(beats - np.rint(beats)) < _ON_GRID))


def narrowest_band(number: Floats, stamp_s: Floats) -> tuple[float, float]:
    """Slope of the line over the readings' numbers with the narrowest band around it, and the band's width.

    Args:
        number: of each reading, rising, shape (n,), n > 1.
        stamp_s: seconds, not falling, shape (n,).
    """
    usual = float(stamp_s[-1] - stamp_s[0]) / float(number[-1] - number[0])

    def width(period_s: float) -> float:
        return float(np.ptp(stamp_s - period_s * number))

    # The width is convex in the slope: thirds are cut off until it is found.
    low, high = 0.5 * usual, 1.5 * usual
    for _ in range(_HALVINGS):
        a, b = low + (high - low) / 3.0, high - (high - low) / 3.0
        low, high = (low, b) if width(a) <= width(b) else (a, high)
    best = 0.5 * (low + high)
    return best, width(best)
