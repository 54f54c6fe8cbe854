"""Stretches of a stream, many at once: least and greatest value between two moments, rows of equal values."""

from __future__ import annotations

from collections.abc import Iterator

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
    for chosen, offset, values in _with_ends(some, first, last, value):
        bounds = np.stack((first[chosen], last[chosen]), axis=1).ravel() - offset
        if len(bounds):
            low[chosen] = np.minimum.reduceat(values, bounds)[::2]
            high[chosen] = np.maximum.reduceat(values, bounds)[::2]
    return low, high


def _with_ends(
    some: NDArray[np.bool_], first: NDArray[np.intp], last: NDArray[np.intp], value: Floats
) -> Iterator[tuple[NDArray[np.bool_], int, Floats]]:
    """Stretches with values in which their ends exist, as reduceat needs: for those at the very end a longer copy."""
    at_end = some & (last == len(value))
    yield some & ~at_end, 0, value
    if bool(at_end.any()):
        begin = int(first[at_end].min())
        yield at_end, begin, np.append(value[begin:], np.nan)


def equal_rows(value: Floats, least: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where equal values stand in a row.

    Args:
        value: shape (n,).
        least: how many there must be, 2 or more.

    Returns:
        First place of each row, and the place after its last.
    """
    same = value[1:] == value[:-1]  # as the one before
    if not _has_row(same, least - 1):
        none = np.empty(0, dtype=np.intp)
        return none, none
    equal = np.zeros(len(value) + 1, dtype=np.int8)
    equal[1:-1] = same
    step = np.diff(equal)
    starts, ends = np.flatnonzero(step == 1), np.flatnonzero(step == -1) + 1
    long = ends - starts >= least
    return starts[long], ends[long]


def _has_row(flags: NDArray[np.bool_], least: int) -> bool:
    """Whether so many flags are set in a row anywhere."""
    done = 1  # flag i says now that so many are set from place i on
    while done < least and len(flags):
        more = min(done, least - done)
        flags = flags[:-more] & flags[more:]
        done += more
    return bool(flags.any())
