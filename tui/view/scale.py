"""Axes: ranges that hold still, and ticks at round values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tui.view.numbers import fixed
from tui.view.state import Tick

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Range", "axis_range", "spread", "step_for", "ticks"]

Range = tuple[float, float]


def step_for(span: float, most: int) -> float:
    """The smallest step of the form 1, 2 or 5 times a power of ten that gives at most ``most`` steps."""
    raw = max(span, 1e-9) / most
    power = 10.0 ** math.floor(math.log10(raw))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * (1 - 1e-9))


def axis_range(wanted: Range, previous: Range | None, *, least: float) -> Range:
    """Round a range outwards to steps; keep the previous one while it still fits well.

    Args:
        wanted: what has to be seen.
        previous: the range in use.
        least: smallest length of the range, so that noise does not look like a storm.
    """
    low, high = wanted
    if high - low < least:
        middle = (low + high) / 2
        low, high = middle - least / 2, middle + least / 2
    if previous is not None and previous[0] <= low and high <= previous[1]:
        if high - low >= 0.4 * (previous[1] - previous[0]):
            return previous
    step = step_for(high - low, 4)
    return math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step


def ticks(limits: Range, most: int = 4) -> tuple[Tick, ...]:
    """Ticks at round values within a range, low to high, all with the same decimals."""
    low, high = limits
    step = step_for(high - low, most)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(Tick(i * step, fixed(i * step, decimals)) for i in range(first, last + 1))


def spread(values: NDArray[np.float64]) -> Range | None:
    """Where nearly all finite values lie: the outermost hundredth on each side is left out."""
    import numpy as np

    finite = values[np.isfinite(values)]
    if len(finite) == 0:
        return None
    low, high = np.percentile(finite, (1.0, 99.0))
    return float(low), float(high)
