"""What the shape of the speed between two tach readings can do to the lag.

Where the throttle jumps, all readings around it are off the same way, which no
scatter shows, and the lag that brings them nearest to proportion is off with
them. :mod:`daq.align.kink_moments` finds the moment of many kinks and takes
nearly all of that away; what is granted here is for those whose moment can't be
found, and so is too much where it was.

How much was worked out for one kink alone, without random runs: a known speed
with a kink (a step through a first-order engine, a bounded acceleration, a
ramp) is read by windows of length T, R(t) is drawn through the edges, and the
lag that the error of the window means looks like is Σ e·n' / Σ n'². Over all places of the
kink within the window its mean is nothing and its width, as a share of T::

    engine's time constant over T   0.3    0.6    0.8    1.6    3.0
    sharpness of the readings       1.14   1.00   0.94   0.74   0.57
    width of the lag                0.038  0.024  0.025  0.011  0.006

with the sharpness of the readings, rms of second over first differences. So it
goes with the square of the sharpness, and with the root of the number of kinks
it shrinks; a smooth swing of the speed, whose differences are spread evenly,
has none. tests/daq/align/test_kink.py works the table out anew.

That is so where the meter's windows lie one beside the other: the error of the
window means over a whole tach window is nothing, for R is exact at its edges.
A meter that shows a reading a second and averages 0.4 s of it looks at a part
of the change only, once, and the errors do not cancel. The width grows by 2.3
with half of the time covered and by 2.3 to 3.5 with 0.4 of it, for an engine of
0.5 to 2 tach windows; with the one reading on each change a robust fit finds
those that agree by chance, so the square is granted.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.parts import parts

__all__ = ["kink_uncertainty"]

Floats = NDArray[np.float64]

_SHARE = 0.028
"""Share of a tach window by which one kink of sharpness 1 can shift the lag (standard uncertainty)."""
_SHARPEST = 1.25
"""All of the change within one window: sharper it can't become, but by noise."""
_LEAST_COVERED = 0.3
"""A meter that covers less of the time is granted no more: the prior of the lag is hardly wider."""
_PER_KINK = 2.0
"""Second differences that one kink makes large."""


def kink_uncertainty(speed: Floats, period_s: float, covered: float = 1.0) -> float:
    """Standard uncertainty that kinks add to the lag, seconds.

    Args:
        speed: readings in order of time, rpm, shape (n,).
        period_s: the tach's interval.
        covered: share of the time that the meter's windows cover, 0 to 1.
    """
    if len(speed) < 4:
        return 0.0
    moved = power = fourth = 0.0
    for part in parts(len(speed)):
        first = np.diff(speed[part.start : part.stop + 1])
        second = np.diff(speed[part.start : part.stop + 2], 2)
        moved += float(np.square(first, out=first).sum())
        power += float(np.square(second, out=second).sum())
        fourth += float(np.square(second, out=second).sum())
    if power == 0.0 or moved == 0.0:
        return 0.0
    rows = len(speed)
    sharpness = min(_SHARPEST, float(np.sqrt(power / (rows - 2) / (moved / (rows - 1)))))
    kinks = max(1.0, power**2 / fourth / _PER_KINK)
    seen = max(min(covered, 1.0), _LEAST_COVERED)
    return _SHARE * period_s * sharpness**2 / float(np.sqrt(kinks)) / seen**2
