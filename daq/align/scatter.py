"""Scatter of readings that follow each other: robust width, and how far they repeat each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["correlation_time", "robust_sd"]

Floats = NDArray[np.float64]


def robust_sd(x: Floats) -> float:
    """1.4826 times the median absolute deviation: the standard deviation of a normal scatter.

    0 for an empty array.
    """
    if len(x) == 0:
        return 0.0
    return 1.4826 * float(np.median(np.abs(x - np.median(x))))


def correlation_time(x: Floats, *, most: float = 25.0) -> float:
    """How many readings in a row carry the information of one: 1 + 2 Σ ρ_k, at least 1.

    The sum runs over pairs of neighbouring lags as long as their sum stays
    positive and stops there (initial positive sequence, Geyer, Statistical
    Science 7, 1992; from memory). Outliers are clipped to four robust standard
    deviations first. ``most`` bounds what short records can claim.

    Args:
        x: residuals in order of time, shape (n,).
        most: largest value given.
    """
    n = len(x)
    sd = robust_sd(x)
    if n < 8 or sd == 0.0:
        return 1.0
    centred = np.clip(x - np.median(x), -4.0 * sd, 4.0 * sd)
    centred = centred - centred.mean()
    size = 1 << int(np.ceil(np.log2(2 * n)))
    spectrum = np.fft.rfft(centred, size)
    full = np.fft.irfft(spectrum * np.conj(spectrum), size)[: n // 2]
    if full[0] <= 0.0:
        return 1.0
    rho = full / full[0]
    pairs = rho[1 : 1 + 2 * ((len(rho) - 1) // 2)].reshape(-1, 2).sum(axis=1)
    ended = np.flatnonzero(pairs <= 0.0)
    kept = pairs[: int(ended[0])] if len(ended) else pairs
    # A clipped noise level: single small correlations of a short record are not evidence.
    total = float(kept.sum()) if len(kept) and (rho[1] > 2.0 / np.sqrt(n)) else 0.0
    return float(min(max(1.0, 1.0 + 2.0 * total), most, n / 4.0))
