"""Openings of a joint in a stream of resistance readings, counted with their length."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

__all__ = ["LEAST_WATCH_S", "Opening", "find_openings"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_WATCH_S = 60.0
"""A minute of wiggling: one opening in it is a finding, none in less shows little (common practice, no source)."""

_RAISED_SHARE = 0.3
_RAISED_OHM = 0.3


class Opening(msgspec.Struct, frozen=True):
    """One time that the circuit opened."""

    from_s: float
    length_s: float
    """Known to one reading's interval: shorter openings look as long as that."""
    whole: bool
    """The meter showed an open circuit; False: only a raised reading, an opening shorter than its window."""


def find_openings(time_s: Floats, resistance_ohm: Floats, overload: Flags) -> tuple[Opening, ...]:
    """Find the openings.

    A reading counts as open where the meter is over range, and as raised where
    it lies more than 30 % and 0.3 ohm over the usual reading (the median of the
    lower half): a meter that averages shows a short opening so. Readings that
    follow each other are one opening.

    Args:
        time_s: arrival, shape (n,).
        resistance_ohm: NaN where there is none, shape (n,).
        overload: the meter was over range, shape (n,).
    """
    if len(time_s) == 0:
        return ()
    interval = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.0
    away = overload | (resistance_ohm > _limit(resistance_ohm[~overload]))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], away.astype(np.int8), [0]))))
    found = []
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        length = float(time_s[after - 1] - time_s[first]) + interval
        found.append(Opening(float(time_s[first]), length, bool(np.any(overload[first:after]))))
    return tuple(found)


def _limit(values: Floats) -> float:
    usable = np.sort(values[np.isfinite(values)])
    if len(usable) == 0:
        return float("inf")
    usual = float(np.median(usable[: max(1, (len(usable) + 1) // 2)]))
    return usual + max(_RAISED_OHM, _RAISED_SHARE * abs(usual))
