"""Jumps of the speed by a whole multiple from one reading to the next, that the volts do not make.

A tach that begins to count marks twice jumps so, steady before and after. A
throttle that is snapped open can look the same, but then the volts jump too,
and by as much (:mod:`daq.align.snaps`): what they follow at some shift is real.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.snaps import followed, level_changes

__all__ = ["sudden_levels"]

Floats = NDArray[np.float64]

FACTORS = (2.0, 0.5, 3.0, 1.0 / 3.0)
_LEAST = 12
_SUDDEN_S = 1.5
"""No engine doubles its speed from one reading to the next in less, and is steady at once, unless the volts say so."""
_STEADY = 0.06


def sudden_levels(time_s: Floats, speed: Floats, volts_t: Floats, volts: Floats) -> Floats | None:
    """Each reading's level as the logarithm of its multiple of the most frequent one; None without such a jump.

    Args:
        time_s: of the readings that have a value, seconds, rising, shape (n,).
        speed: rpm, shape (n,).
        volts_t: of the volts that have a value, on a clock of their own, seconds, rising, shape (m,).
        volts: shape (m,).
    """
    if len(speed) < _LEAST:
        return None
    level = _jumps(time_s, speed)
    at = np.flatnonzero(level)
    if len(at) == 0:
        return None
    middle_s = 0.5 * (time_s[at] + time_s[at + 1])
    changes = level_changes(volts_t, volts)
    apart_s = float(np.median(np.diff(time_s))) + changes.step_s
    level[at[followed(level[at], middle_s, changes, apart_s)]] = 0.0
    if not bool(np.any(level)):
        return None
    levels = np.round(np.concatenate(([0.0], np.cumsum(level))), 6)
    found, counts = np.unique(levels, return_counts=True)
    return np.asarray(levels - found[np.argmax(counts)])


def _jumps(time_s: Floats, speed: Floats) -> Floats:
    """Logarithm of the multiple by which the speed jumps after each reading, 0 where it does not, shape (n - 1,)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = speed[1:] / speed[:-1]
    calm = np.abs(ratio - 1.0) < _STEADY
    level = np.zeros(len(speed) - 1)
    for factor in FACTORS:
        jump = (np.abs(ratio / factor - 1.0) < _STEADY) & (np.diff(time_s) < _SUDDEN_S)
        jump[1:-1] &= calm[:-2] & calm[2:]
        jump[[0, -1]] = False
        level[jump] = np.log(factor)
    return level
