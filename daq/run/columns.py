"""The further channels of a run, brought to the rows of the aligned CSV."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.model.quantity import Quantity
from daq.run.channels import ChannelData, RunData

__all__ = ["further_columns"]

Floats = NDArray[np.float64]

_LONGEST_HOLD_S = 2.0


def further_columns(data: RunData, time_s: Floats) -> dict[str, Floats]:
    """A column for each channel that is not the volts or the speed of the rows.

    Each row takes the reading nearest in time, no further away than the
    channel's usual interval and never more than two seconds; NaN where there is
    none. Two channels of one quantity are told apart by ``_2``, ``_3`` …
    """
    columns: dict[str, Floats] = {}
    main = [c for c in (data.volts, data.speed) if c is not None]
    for channel in data.channels:
        if any(channel is m for m in main) or channel.entry.quantity is Quantity.DEVICE_TIME:
            continue
        name = base = f"{channel.entry.quantity.value}_{channel.entry.quantity.unit}"
        count = 1
        while name in columns:
            count += 1
            name = f"{base}_{count}"
        columns[name] = _nearest(channel, time_s)
    return columns


def _nearest(channel: ChannelData, time_s: Floats) -> Floats:
    out = np.full(len(time_s), np.nan)
    t, v = channel.time_s[channel.usable], channel.value[channel.usable]
    if len(t) == 0 or len(time_s) == 0:
        return out
    usual = float(np.median(np.diff(channel.time_s))) if len(channel.time_s) > 1 else _LONGEST_HOLD_S
    reach = min(max(usual, 0.01), _LONGEST_HOLD_S)
    after = np.clip(np.searchsorted(t, time_s), 0, len(t) - 1)
    before = np.maximum(after - 1, 0)
    nearer = np.where(np.abs(t[before] - time_s) <= np.abs(t[after] - time_s), before, after)
    close = np.abs(t[nearer] - time_s) <= reach
    out[close] = v[nearer[close]]
    return out
