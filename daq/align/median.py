"""The median of a few hundred values: numpy's own takes several times as long to begin as to work it out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["median"]

_SHORT = 4096


def median(x: NDArray[np.float64], *, overwrite: bool = False) -> float:
    """The same as :func:`numpy.median`, bit for bit; NaN where one of the values is.

    Args:
        x: shape (n,), n >= 1.
        overwrite: its order may be lost, which saves a copy of a long one.
    """
    n = len(x)
    if n > _SHORT:
        return float(np.median(x, overwrite_input=overwrite))
    ordered = np.sort(x)  # NaN goes last
    if np.isnan(ordered[-1]):
        return float("nan")
    half = n // 2
    return float(ordered[half]) if n % 2 else float((ordered[half - 1] + ordered[half]) / 2.0)
