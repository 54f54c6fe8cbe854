"""The channels of a run as columns in seconds, and which of them are the volts and the speed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import msgspec
import numpy as np
from numpy.typing import NDArray

from daq.cards.instrument import ChannelCard, InstrumentCard
from daq.cards.machine import MachineCard
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.entries import ChannelEntry

__all__ = ["ChannelData", "RunData", "card_of"]


@dataclass(frozen=True)
class ChannelData:
    """One channel's readings, oldest first; arrays of shape (n,)."""

    entry: ChannelEntry
    card: ChannelCard | None
    """None where the recording's card could not be understood."""
    time_s: NDArray[np.float64]
    """Arrival, seconds since the session's start, not falling."""
    value: NDArray[np.float64]
    quality: NDArray[np.int8]

    @cached_property
    def usable(self) -> NDArray[np.bool_]:
        """Readings that have a value and no flag; asked for often, and kept."""
        good: NDArray[np.bool_] = (self.quality == Quality.GOOD) & np.isfinite(self.value)
        return good

    def first_values(self, most: int = 50_000) -> NDArray[np.float64]:
        """The first usable values, from which digits and steps are read; at most so many."""
        for head in (slice(0, 2 * most), slice(None)):
            value = self.value[head][self.usable[head]]
            if len(value) >= most:
                break
        return value[:most]

    def sample(self, most: int = 10_000) -> NDArray[np.float64]:
        """Usable values spread evenly over the run, for a look at the whole that costs little; at most so many."""
        step = -(-len(self.value) // most) if most < len(self.value) else 1
        value = self.value[::step]
        return np.asarray(value[(self.quality[::step] == Quality.GOOD) & np.isfinite(value)])


@dataclass(frozen=True)
class RunData:
    """A run, or a stretch of one, before alignment."""

    channels: tuple[ChannelData, ...]
    machine: MachineCard | None
    imported: bool = False
    """The logs come from devices whose clocks may differ by minutes."""
    problems: tuple[str, ...] = ()

    def first(self, *quantities: Quantity) -> ChannelData | None:
        """The channel of a quantity with the most usable readings; earlier quantities first."""
        for quantity in quantities:
            found = [c for c in self.channels if c.entry.quantity is quantity and len(c.time_s)]
            if found:
                return max(found, key=lambda c: int(np.count_nonzero(c.usable)))
        return None

    @property
    def own_clocks(self) -> bool:
        """Volts and speed come from two devices' logs, whose clocks may be minutes apart."""
        volts, speed = self.volts, self.speed
        one_log = volts is not None and speed is not None and volts.entry.address == speed.entry.address
        return self.imported and not one_log

    @property
    def volts(self) -> ChannelData | None:
        """The AC volts channel."""
        return self.first(Quantity.AC_VOLTAGE)

    @property
    def speed(self) -> ChannelData | None:
        """The speed channel: a counter of revolutions before a tach, because it says more."""
        return self.first(Quantity.REVOLUTIONS, Quantity.ROTATIONAL_SPEED)

    def device_time_of(self, channel: ChannelData) -> ChannelData | None:
        """The clock of the channel's own instrument, if it sends one."""
        for other in self.channels:
            same = other.entry.instrument == channel.entry.instrument
            if same and other.entry.quantity is Quantity.DEVICE_TIME and len(other.time_s):
                return other
        return None


def card_of(entry: ChannelEntry) -> ChannelCard | None:
    """The channel's card, or None where it can't be understood."""
    try:
        return msgspec.convert(entry.card, InstrumentCard).channel[entry.card_channel]
    except (msgspec.ValidationError, IndexError):
        return None
