"""Columns of a recording within a stretch: speed in rpm whatever the tach counts, and a quantity's readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from daq.job.evidence.stretch import Stretch
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.run.channels import ChannelData, RunData

__all__ = ["Series", "quantity_series", "speed_series"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
_FALLING = 0.9


@dataclass(frozen=True)
class Series:
    """Readings of one channel; arrays of shape (n,), in order of time."""

    time_s: Floats
    value: Floats
    """NaN where a reading had no value."""
    usable: Flags
    overload: Flags
    wrong_function: Flags
    channel: ChannelData

    def within(self, from_s: float, to_s: float) -> Series:
        """The readings that arrived from then to then."""
        keep = (self.time_s >= from_s) & (self.time_s <= to_s)
        return Series(
            self.time_s[keep],
            self.value[keep],
            self.usable[keep],
            self.overload[keep],
            self.wrong_function[keep],
            self.channel,
        )

    @property
    def good(self) -> tuple[Floats, Floats]:
        """Times and values of what is usable."""
        return self.time_s[self.usable], self.value[self.usable]


def quantity_series(data: RunData, quantity: Quantity, stretches: Sequence[Stretch]) -> Series | None:
    """The readings of a quantity within the stretches; None where there is no such channel."""
    if quantity is Quantity.ROTATIONAL_SPEED:
        return _speed_as_series(data, stretches)
    channel = data.first(quantity)
    if channel is None:
        return None
    keep = _inside(channel.time_s, stretches)
    quality = channel.quality[keep]
    return Series(
        channel.time_s[keep],
        channel.value[keep],
        channel.usable[keep],
        quality == Quality.OVERLOAD,
        quality == Quality.WRONG_FUNCTION,
        channel,
    )


def speed_series(data: RunData, stretches: Sequence[Stretch]) -> tuple[Floats, Floats] | None:
    """Times and rpm within the stretches, single false readings taken out; None without a speed channel."""
    channel = data.speed
    if channel is None:
        return None
    time_s, value = channel.time_s[channel.usable], channel.value[channel.usable]
    if channel.entry.quantity is Quantity.REVOLUTIONS:
        time_s, value = _from_revolutions(time_s, value)
    keep = _inside(time_s, stretches)
    return time_s[keep], _without_single_jumps(value[keep])


def _speed_as_series(data: RunData, stretches: Sequence[Stretch]) -> Series | None:
    speed, channel = speed_series(data, stretches), data.speed
    if speed is None or channel is None:
        return None
    yes, no = np.ones(len(speed[0]), dtype=np.bool_), np.zeros(len(speed[0]), dtype=np.bool_)
    if channel.entry.quantity is Quantity.REVOLUTIONS:
        # A counter's card speaks of revolutions, not of rpm.
        channel = replace(channel, card=None)
    return Series(*speed, yes, no, no, channel)


def _inside(time_s: Floats, stretches: Sequence[Stretch]) -> Flags:
    keep = np.zeros(len(time_s), dtype=np.bool_)
    for from_s, to_s in stretches:
        keep |= (time_s >= from_s) & (time_s <= to_s)
    return keep


def _from_revolutions(time_s: Floats, revolutions: Floats) -> tuple[Floats, Floats]:
    step, turned = np.diff(time_s), np.diff(revolutions)
    moved = (step > 0.0) & (turned >= 0.0)  # a count that falls has begun anew
    rpm = 60.0 * turned[moved] / step[moved]
    return 0.5 * (time_s[1:] + time_s[:-1])[moved], rpm


def _without_single_jumps(value: Floats) -> Floats:
    """Replace a reading that jumped alone (marks counted twice or missed) by its neighbours' median."""
    if len(value) < 5:
        return value
    padded = np.concatenate([value[:2], value, value[-2:]])
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    alone = np.abs(value - middle) > 0.2 * np.maximum(np.abs(middle), 1.0)
    # At the two ends half of the neighbours are missing: what goes on with a fall is no jump.
    alone[0] &= not value[0] < value[1] < _FALLING * value[2]
    alone[-1] &= not value[-1] < value[-2] < _FALLING * value[-3]
    # Where the engine starts or stops the neighbours jump too, and the median follows them.
    return np.where(alone & (middle > 0.0), middle, value)
