"""What an AC reading means when the wave is no sine.

A true-rms meter shows the root mean square. An average-responding one shows
π/(2√2) times the mean of the rectified wave, which is the rms of a sine only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["AVERAGE_RESPONDING_FACTOR", "WaveFactors", "wave_factors"]

AVERAGE_RESPONDING_FACTOR = float(np.pi / (2.0 * np.sqrt(2.0)))


@dataclass(frozen=True)
class WaveFactors:
    """Factors of a wave over one whole period."""

    rms: float
    mean_rectified: float
    form_factor: float
    """rms over mean of the rectified wave."""
    crest_factor: float
    """Peak over rms."""
    average_responding_error: float
    """What an average-responding meter shows over the rms, less one."""


def wave_factors(samples: NDArray[np.float64], *, ac_coupled: bool = False) -> WaveFactors:
    """Factors of a wave sampled evenly over exactly one period.

    Args:
        samples: shape (n,), without the repeated end point.
        ac_coupled: take the mean off first, as a meter with a capacitor in front does.
    """
    x = samples - np.mean(samples) if ac_coupled else samples
    rms = float(np.sqrt(np.mean(np.square(x))))
    mean = float(np.mean(np.abs(x)))
    peak = float(np.max(np.abs(x)))
    if mean == 0.0:
        raise ValueError("a wave of nothing but zeros has no form factor")
    shown = AVERAGE_RESPONDING_FACTOR * mean
    return WaveFactors(rms, mean, rms / mean, peak / rms, shown / rms - 1.0)
