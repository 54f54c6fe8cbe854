"""Aligned rows as columns, the form in which everything after alignment sees a run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

__all__ = ["AlignedRows", "RawSeries"]


@dataclass(frozen=True)
class RawSeries:
    """Readings of one channel as they came; arrays of shape (n,)."""

    time_s: NDArray[np.float64]
    value: NDArray[np.float64]
    """NaN where a reading had no value."""


@dataclass(frozen=True)
class AlignedRows:
    """One row for each AC volts reading, in order of time; every array has shape (n,)."""

    time_s: NDArray[np.float64]
    """Arrival of the volts reading, seconds since the session's start."""
    speed_rpm: NDArray[np.float64]
    """Mean speed over the meter's window; NaN where it isn't known."""
    voltage_V: NDArray[np.float64]
    rated_voltage_V: NDArray[np.float64]
    u_rated_voltage_V: NDArray[np.float64]
    """Standard uncertainty of the rated volts."""
    steady: NDArray[np.bool_]
    in_window: NDArray[np.bool_]
    mark: NDArray[np.uint8]
    """Why a row is kept out of the result, as :class:`daq.align.marks.Mark`; 0 where it counts."""

    @classmethod
    def empty(cls) -> Self:
        """No rows."""
        none = np.empty(0)
        flags = np.empty(0, dtype=np.bool_)
        return cls(none, none, none, none, none, flags, flags, np.empty(0, dtype=np.uint8))
