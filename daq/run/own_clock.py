"""An instrument's own clock and count: followed piece by piece, for either may begin anew in mid-run.

A counting board that is switched off and on starts again from 0, as does a
sensor on Bluetooth LE after a long silence. Each piece is put on our clock by
itself, and nothing is derived across the place between two::

    count      0  40  81 120        0  39  80      a new start: the count falls
    pieces     '----- 1 ----'       '-- 2 --'
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.run.channels import ChannelData, RunData

__all__ = ["Followed", "follow", "new_start_notes"]

Floats = NDArray[np.float64]
_FEW = 8
"""Fewer readings than this say nothing of how a clock runs; their arrivals stand."""
_MOST_TOLD = 5


@dataclass(frozen=True)
class Followed:
    """A channel with its times on our clock; arrays of shape (n,)."""

    time_s: Floats
    value: Floats
    """As it came; a count falls at the first reading of each piece, and nowhere else."""
    own_clock: bool
    """The times are the instrument's own."""
    anew_s: tuple[float, ...] = ()
    """Arrival of the first reading after each new start of clock or count."""


def follow(channel: ChannelData, data: RunData) -> Followed:
    """Put a channel on our clock by its instrument's own, where it sends one."""
    device = data.device_time_of(channel)
    counts = channel.entry.quantity is Quantity.REVOLUTIONS
    if device is None and not counts:
        return Followed(channel.time_s, channel.value, False)
    own = _own_times(channel, device)
    usable = np.flatnonzero(channel.usable & np.isfinite(own))
    falls = _falls(own[usable])
    if counts:
        falls |= _falls(channel.value[usable])
    first_of_piece = falls.copy()
    if counts:
        first_of_piece |= _after_a_loss(channel, usable)
    starts = np.flatnonzero(first_of_piece)
    return Followed(
        channel.time_s if device is None else _placed(channel.time_s, own, usable, starts),
        _falling_at(channel.value, usable, starts) if counts else channel.value,
        device is not None,
        tuple(channel.time_s[usable[falls]].tolist()),
    )


def new_start_notes(data: RunData) -> list[str]:
    """A sentence for each instrument of the pair whose clock or count began anew."""
    notes: dict[str, str] = {}
    for channel in (data.speed, data.volts):
        if channel is None or channel.entry.instrument in notes:
            continue
        anew_s = follow(channel, data).anew_s
        if anew_s:
            counts = channel.entry.quantity is Quantity.REVOLUTIONS
            notes[channel.entry.instrument] = (
                f"The {'count' if counts else 'clock'} of {channel.entry.instrument} began anew at "
                f"{_listed(anew_s)}: it was off for a moment, or silent for too long. "
                "Nothing is derived across such a place."
            )
    return list(notes.values())


def _listed(times_s: tuple[float, ...]) -> str:
    told = [f"{t:.0f} s" for t in times_s[:_MOST_TOLD]]
    more = len(times_s) - len(told)
    if more:
        return f"{', '.join(told)} and {more} more times"
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def _own_times(channel: ChannelData, device: ChannelData | None) -> Floats:
    """What the instrument's clock showed at each reading; arrivals where it has none."""
    if device is None:
        return channel.time_s
    here, there = np.flatnonzero(channel.usable), np.flatnonzero(device.usable)
    own = np.full(len(channel.time_s), np.nan)
    if len(here) == len(there) and bool(np.all(channel.time_s[here] == device.time_s[there])):
        # In pairs, also where several lines arrived at once.
        own[here] = device.value[there]
    elif len(there):
        own[here] = np.interp(channel.time_s[here], device.time_s[there], device.value[there])
    return own


def _falls(values: Floats) -> NDArray[np.bool_]:
    """Where a value is less than the one before."""
    falls = np.zeros(len(values), dtype=np.bool_)
    falls[1:] = values[1:] < values[:-1]
    return falls


def _after_a_loss(channel: ChannelData, usable: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Readings with a loss between them and the usable one before: what was counted in it isn't known for sure."""
    lost = np.cumsum(channel.quality == Quality.LOST)[usable]
    after = np.zeros(len(usable), dtype=np.bool_)
    after[1:] = lost[1:] > lost[:-1]
    return after


def _placed(time_s: Floats, own: Floats, usable: NDArray[np.int64], starts: NDArray[np.int64]) -> Floats:
    """Each piece on our clock; readings that are not usable keep to their neighbours."""
    if len(usable) < _FEW:
        return time_s
    bounds = [0, *starts.tolist(), len(usable)]
    parts = [
        _placed_piece(time_s[usable[a:b]], own[usable[a:b]])
        for a, b in zip(bounds[:-1], bounds[1:], strict=True)
    ]
    placed = np.maximum.accumulate(np.concatenate(parts))
    if len(usable) == len(time_s):
        return placed
    late = np.interp(time_s, time_s[usable], time_s[usable] - placed)
    every: Floats = time_s - late
    every[usable] = placed
    return np.maximum.accumulate(every)


def _placed_piece(arrival_s: Floats, own_s: Floats) -> Floats:
    """The instrument's own times on our clock: shifted and stretched by a robust line over the arrivals."""
    if len(own_s) < _FEW:
        return arrival_s
    late = arrival_s - own_s
    third = max(1, len(own_s) // 3)
    first, last = float(np.median(late[:third])), float(np.median(late[-third:]))
    middle_first, middle_last = float(np.median(own_s[:third])), float(np.median(own_s[-third:]))
    drift = (last - first) / (middle_last - middle_first) if middle_last > middle_first else 0.0
    placed: Floats = own_s + first + drift * (own_s - middle_first)
    return placed


def _falling_at(value: Floats, usable: NDArray[np.int64], starts: NDArray[np.int64]) -> Floats:
    """The count, shifted piece by piece so that it falls wherever a piece begins: that is how the kernel sees it."""
    if len(starts) == 0:
        return value
    shifted = value.copy()
    for start, end in zip(starts, [*starts[1:], len(usable)], strict=True):
        first, before = usable[start], shifted[usable[start - 1]]
        if shifted[first] >= before:
            piece = usable[start:end]
            shifted[piece] -= shifted[first] - before + 1.0
    return shifted
