"""Jumps of the speed by a whole multiple from one reading to the next, seen in the speed alone.

A tach that begins to count marks twice jumps so, steady before and after,
which the inertia of an engine forbids.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["sudden_levels"]

Floats = NDArray[np.float64]

FACTORS = (2.0, 0.5, 3.0, 1.0 / 3.0)
_LEAST = 12
_SUDDEN_S = 1.5
"""No engine doubles its speed from one reading to the next in less, and is steady at once."""
_STEADY = 0.06


def sudden_levels(time_s: Floats, speed: Floats) -> Floats | None:
    """Each reading's level as the logarithm of its multiple of the most frequent one; None without such a jump.

    Args:
        time_s: of the readings that have a value, seconds, rising, shape (n,).
        speed: rpm, shape (n,).
    """
    if len(speed) < _LEAST:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = speed[1:] / speed[:-1]
    calm = np.abs(ratio - 1.0) < _STEADY
    level = np.zeros(len(speed) - 1)
    for factor in FACTORS:
        jump = (np.abs(ratio / factor - 1.0) < _STEADY) & (np.diff(time_s) < _SUDDEN_S)
        jump[1:-1] &= calm[:-2] & calm[2:]
        jump[[0, -1]] = False
        level[jump] = np.log(factor)
    if not bool(np.any(level)):
        return None
    levels = np.round(np.concatenate(([0.0], np.cumsum(level))), 6)
    found, counts = np.unique(levels, return_counts=True)
    return np.asarray(levels - found[np.argmax(counts)])
