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
_CLEAR = 4.0
"""A drift counts from this many of its standard errors on; the scatter of arrivals is far from normal."""


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
        return f"{', '.join(told)} and {more} more time{'s' if more > 1 else ''}"
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
    pieces = [usable[a:b] for a, b in zip(bounds[:-1], bounds[1:], strict=True)]
    drift = _drift([(time_s[p], own[p]) for p in pieces if len(p) >= _FEW])
    placed = np.maximum.accumulate(np.concatenate([_shifted(time_s[p], own[p], drift) for p in pieces]))
    if len(usable) == len(time_s):
        return placed
    late = np.interp(time_s, time_s[usable], time_s[usable] - placed)
    every: Floats = time_s - late
    every[usable] = placed
    return np.maximum.accumulate(every)


def _drift(pieces: list[tuple[Floats, Floats]]) -> float:
    """How much slower than ours the instrument's clock runs, from how lateness grows within the pieces.

    It is one clock in all of them. Lateness scatters, and over a short piece
    that looks like a drift of percents, which would be taken for speed: what is
    not seen clearly is taken for 0, for a crystal or a resonator is truer than that.
    """
    weight = total = 0.0
    for arrival_s, own_s in pieces:
        late, third = arrival_s - own_s, len(own_s) // 3
        span_s = float(np.median(own_s[-third:]) - np.median(own_s[:third]))
        if span_s <= 0.0:
            continue
        grown_s = float(np.median(late[-third:]) - np.median(late[:third]))
        spread_s = float(np.median(np.abs(late - np.median(late)))) + 1e-6
        # Standard error of the difference of two medians of normal scatter, 1.2533 each.
        error = 1.4826 * spread_s * 1.2533 * np.sqrt(2.0 / third) / span_s
        weight += 1.0 / error**2
        total += grown_s / span_s / error**2
    drift = total / weight if weight else 0.0
    return drift if weight and abs(drift) > _CLEAR / np.sqrt(weight) else 0.0


def _shifted(arrival_s: Floats, own_s: Floats, drift: float) -> Floats:
    """A piece on our clock: stretched by the drift, and shifted by its middle lateness."""
    if len(own_s) < _FEW:
        return arrival_s
    placed: Floats = own_s + drift * (own_s - own_s[0])
    placed += float(np.median(arrival_s - placed))
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
