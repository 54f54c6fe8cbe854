"""A slow drift of volts over speed during a run, as of a winding that gets hot, and what a shift costs beside it.

Two logs whose clocks have nothing to do with each other are brought together by
the shift that leaves least. A drift left in would let a wrong shift win that
meets fewer rows, among which the drift does less.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["drift_course", "squares_beside_drift"]

Floats = NDArray[np.float64]

_RIDGE = 1e-13
"""Share of the diagonal that keeps shifts solvable under which few rows are known."""


def drift_course(volts_t: Floats) -> Floats:
    """A drift over the run and its curve, from first to last reading: τ and τ² − 1/3; shape (2, n).

    Args:
        volts_t: times of the volts readings, rising, shape (n,), n >= 1.
    """
    half_s = max(0.5 * float(volts_t[-1] - volts_t[0]), 1e-9)
    tau = (volts_t - 0.5 * (volts_t[0] + volts_t[-1])) / half_s
    return np.stack((tau, np.square(tau) - 1.0 / 3.0))


def squares_beside_drift(n: Floats, v: Floats, course: Floats) -> Floats:
    """Sum of squares that V = k · n · (1 + drift) leaves of each shift, drift and curve free; shape (shifts,).

    Args:
        n: mean speeds, 0 where not known, shape (shifts, readings).
        v: volts, 0 where the speed is not known, shape (shifts, readings).
        course: from :func:`drift_course`, shape (2, readings).
    """
    drift, curve = course
    columns = np.stack((np.ones_like(drift), drift, curve))
    nn = (n * n) @ np.stack([a * b for a in columns for b in columns], axis=1)
    normal = nn.reshape(len(n), 3, 3)
    normal = normal + _RIDGE * normal[:, :1, :1] * np.eye(3)
    right = (n * v) @ columns.T
    usable = normal[:, 0, 0] > 0.0
    taken = np.zeros(len(n))
    if bool(usable.any()):
        solved = np.linalg.solve(normal[usable], right[usable][..., None])[..., 0]
        taken[usable] = np.sum(solved * right[usable], axis=1)
    return np.asarray((v * v).sum(axis=1) - taken)
