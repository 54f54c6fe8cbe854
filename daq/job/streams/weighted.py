"""Means over time of readings that do not come evenly.

A plain mean counts a second with ten readings ten times. Here each stretch
between two readings counts by its length (the trapezoid rule), and a stretch
longer than the limit is a gap: it counts for nothing and is told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.scatter import correlation_time
from daq.model.counted import counted

__all__ = ["TimeMean", "gap_words", "longest_hold_s", "time_mean"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class TimeMean:
    """A mean over time and what it stands on."""

    mean: float
    scatter_u: float
    """Standard uncertainty of the mean by the readings' scatter, with their autocorrelation."""
    covered_s: float
    """Time that the readings stand for, gaps left out."""
    gaps: int
    gap_s: float
    integral: float
    """Mean times covered time: ampere-seconds of amps."""


def longest_hold_s(time_s: Floats) -> float:
    """Longest time between two readings that is no gap: eight usual intervals, and at least 3 s.

    Args:
        time_s: shape (n,), not falling.
    """
    if len(time_s) < 2:
        return 3.0
    return max(3.0, 8.0 * float(np.median(np.diff(time_s))))


def gap_words(gaps: int, gap_s: float) -> str:
    """What is said of gaps, as in "1 gap of 5 s counts for nothing."."""
    if gaps == 1:
        return f"1 gap of {gap_s:.0f} s counts for nothing."
    return f"{counted(gaps, 'gap')} of {gap_s:.0f} s in all count for nothing."


def time_mean(time_s: Floats, value: Floats, *, hold_s: float | None = None) -> TimeMean:
    """Mean of readings over the time they cover.

    Args:
        time_s: shape (n,), not falling.
        value: shape (n,), no NaN.
        hold_s: longest time between two readings that is no gap; None: by the readings themselves.

    Raises:
        ValueError: no readings.
    """
    n = len(value)
    if n == 0:
        raise ValueError("a mean needs at least one reading")
    limit = longest_hold_s(time_s) if hold_s is None else hold_s
    step = np.diff(time_s)
    whole = step <= limit
    covered = float(step[whole].sum())
    gaps, gap_s = int(np.sum(~whole)), float(step[~whole].sum())
    if covered <= 0.0:
        mean = float(np.mean(value))
        return TimeMean(mean, _scatter(value, np.ones(n)), 0.0, gaps, gap_s, 0.0)
    integral = float(np.sum((0.5 * (value[1:] + value[:-1]) * step)[whole]))
    weight = np.zeros(n)
    weight[1:] += 0.5 * np.where(whole, step, 0.0)
    weight[:-1] += 0.5 * np.where(whole, step, 0.0)
    return TimeMean(integral / covered, _scatter(value, weight), covered, gaps, gap_s, integral)


def _scatter(value: Floats, weight: Floats) -> float:
    """Weighted standard deviation over the root of the number of independent readings."""
    if len(value) < 2:
        return 0.0
    share = weight / weight.sum()
    centre = float(share @ value)
    spread = float(share @ np.square(value - centre))
    effective = 1.0 / float(share @ share) / correlation_time(value - centre)
    if effective <= 1.5:
        return float(np.sqrt(spread))
    return float(np.sqrt(spread / (effective - 1.0)))
