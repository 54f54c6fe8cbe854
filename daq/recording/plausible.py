"""Readings that can't be, whatever sent them: beyond the bounds of their quantity."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daq.model.quantity import LEAST_SIZE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from daq.recording.entries import ChannelEntry

__all__ = ["beyond_bounds"]


def beyond_bounds(
    channel: NDArray[np.int16], value: NDArray[np.float64], channels: Mapping[int, ChannelEntry]
) -> NDArray[np.intp]:
    """Places of the readings that can't be; those of a channel that is not declared are not looked at.

    Args:
        channel: channel numbers, shape (n,).
        value: values in their channel's unit, NaN where there is none; shape (n,).
        channels: the channels declared so far.
    """
    if not len(value):
        return np.empty(0, np.intp)
    size = np.abs(value)
    outside = (size < LEAST_SIZE) & (size > 0.0)
    # As good as always all readings lie within what any channel may have: two looks at a block are enough.
    low, high = float(np.fmin.reduce(value)), float(np.fmax.reduce(value))
    for number, entry in channels.items():
        least, most = entry.quantity.bounds
        if low < least or high > most:
            outside |= (channel == number) & ((value < least) | (value > most))
    return np.flatnonzero(outside)
