"""What a stretch of lines holds, as columns; whichever way they were parsed."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Columns", "no_columns"]


class Columns(NamedTuple):
    """Readings as arrays of one length; a missing value is NaN."""

    channel: NDArray[np.int16]
    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]
    quality: NDArray[np.int8]

    def head(self, count: int) -> Columns:
        """The first so many."""
        return Columns(self.channel[:count], self.t_ns[:count], self.value[:count], self.quality[:count])


def no_columns() -> Columns:
    """Columns without a reading."""
    return Columns(
        np.empty(0, np.int16), np.empty(0, np.int64), np.empty(0, np.float64), np.empty(0, np.int8)
    )
