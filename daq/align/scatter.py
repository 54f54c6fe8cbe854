"""Scatter of readings that follow each other: robust width, and how far they repeat each other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from daq.align.median import median

__all__ = ["correlation_time", "robust_sd"]

Floats = NDArray[np.float64]

_BY_HAND = 65
"""Lags up to here are summed one by one: most records end the sum among the first few."""


def robust_sd(x: Floats) -> float:
    """1.4826 times the median absolute deviation: the standard deviation of a normal scatter.

    0 for an empty array.
    """
    if len(x) == 0:
        return 0.0
    away = x - median(x)
    return 1.4826 * median(np.abs(away, out=away), overwrite=True)


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
    centred = np.clip(x - median(x), -4.0 * sd, 4.0 * sd)
    centred = centred - centred.mean()
    most = min(most, n / 4.0)
    whole = float(centred @ centred)
    # A single small correlation of a short record is no evidence.
    if whole <= 0.0 or centred[:-1] @ centred[1:] <= 2.0 / np.sqrt(n) * whole:
        return min(1.0, most)
    total = 0.0
    for pair in _pairs_of_lags(centred):
        if pair <= 0.0 or 1.0 + 2.0 * total >= most:
            break
        total += pair / whole
    return float(min(1.0 + 2.0 * total, most))


def _pairs_of_lags(x: Floats) -> Iterator[float]:
    """Sums of products of readings k and k + 1 places apart, for k = 1, 3, 5 … below half the length."""
    n = len(x)
    last = 1 + 2 * ((n // 2 - 1) // 2)
    for k in range(1, min(last, _BY_HAND), 2):
        yield float(x[:-k] @ x[k:] + x[: -k - 1] @ x[k + 1 :])
    if last > _BY_HAND:
        size = 1 << int(np.ceil(np.log2(2 * n)))
        spectrum = np.fft.rfft(x, size)
        products = np.fft.irfft(spectrum * np.conj(spectrum), size)[_BY_HAND:last]
        yield from products.reshape(-1, 2).sum(axis=1).tolist()
