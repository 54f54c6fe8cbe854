"""Stretches of a stream, many at once: least and greatest value between two moments, rows of equal values."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["equal_rows", "range_between"]

Floats = NDArray[np.float64]


def range_between(time_s: Floats, value: Floats, begin_s: Floats, end_s: Floats) -> tuple[Floats, Floats]:
    """Least and greatest value between two moments each, both included.

    Args:
        time_s: rising, shape (n,).
        value: shape (n,); no NaN.
        begin_s: shape (m,).
        end_s: shape (m,).

    Returns:
        Two arrays of shape (m,); NaN where no value lies between.
    """
    low, high = np.full(len(begin_s), np.nan), np.full(len(begin_s), np.nan)
    first = np.searchsorted(time_s, begin_s, side="left")
    last = np.searchsorted(time_s, end_s, side="right")
    some = first < last
    bounds = np.stack((first[some], last[some]), axis=1).ravel()
    padded = np.append(value, np.nan)  # reduceat needs an end that exists
    if len(bounds):
        low[some] = np.minimum.reduceat(padded, bounds)[::2]
        high[some] = np.maximum.reduceat(padded, bounds)[::2]
    return low, high


def equal_rows(value: Floats, least: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where equal values stand in a row.

    Args:
        value: shape (n,).
        least: how many there must be, 2 or more.

    Returns:
        First place of each row, and the place after its last.
    """
    equal = np.zeros(len(value) + 1, dtype=np.int8)
    equal[1:-1] = value[1:] == value[:-1]  # to the one before
    step = np.diff(equal)
    starts, ends = np.flatnonzero(step == 1), np.flatnonzero(step == -1) + 1
    long = ends - starts >= least
    return starts[long], ends[long]
