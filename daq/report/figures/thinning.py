"""Fewer points for a plot than were read, without hiding any peak."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["COLUMNS", "thinned", "thinned_words"]

Floats = NDArray[np.float64]

COLUMNS = 320
"""Upright strips into which a plot is divided: about one for each dot that a screen or printer shows apart."""


def thinned(x: Floats, y: Floats, columns: int = COLUMNS) -> NDArray[np.int64]:
    """Which points to draw: all of them, or the lowest and the highest of each strip.

    Args:
        x: shape (n,), in any order.
        y: shape (n,).
        columns: strips of equal width over the range of ``x``.

    Returns:
        Indices of points without NaN, in their order, at most ``2 * columns``.
    """
    there = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    if len(there) <= 2 * columns:
        return there
    x, y = x[there], y[there]
    low, width = float(np.min(x)), float(np.ptp(x))
    strip = np.zeros(len(x), dtype=np.int64)
    if width > 0.0:
        strip = np.minimum(((x - low) / width * columns).astype(np.int64), columns - 1)
    order = np.lexsort((y, strip))
    edges = np.flatnonzero(np.diff(strip[order])) + 1
    lowest = order[np.concatenate(([0], edges))]
    highest = order[np.concatenate((edges - 1, [len(order) - 1]))]
    return there[np.unique(np.concatenate((lowest, highest)))]


def thinned_words(total: int, drawn: int, what: str = "readings", columns: int = COLUMNS) -> str:
    """What was left out of the picture, as a sentence; "" where all are drawn."""
    if drawn >= total:
        return ""
    many = f"{total:,}".replace(",", " ")
    return f"Of {many} {what} the lowest and highest in each of {columns} equal strips are drawn; all of them count."
