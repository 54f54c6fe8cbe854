"""Decoder of packets that hold numbers at fixed places: known, described by the device, or by the card."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from daq.driver_api import ChannelCard, Quality, Reading
from drivers.gatt.numbers import Number

__all__ = ["Place", "ValuesDecoder"]

_LONGEST_PACKET = 512


class Place(NamedTuple):
    """Where one channel's number lies in a packet, and how it is read."""

    channel: int
    card: ChannelCard
    read: Callable[[bytes], Number]
    size: int
    offset: int = 0
    length: int | None = None
    """Exact length of the packet; None: at least up to the number's end."""
    magnitude: bool = False
    """The sign is dropped."""

    @property
    def needs(self) -> str:
        """The length in words."""
        end = self.offset + self.size
        return f"at least {end} bytes" if self.length is None else f"{self.length} bytes"


class ValuesDecoder:
    """One packet in, one reading a channel out. Holds nothing between packets.

    A packet of the wrong length is a bad frame on each channel that can't be read from it.
    """

    max_frame = _LONGEST_PACKET

    def __init__(self, places: Sequence[Place]) -> None:
        self._places = tuple(places)
        self.needs = " and ".join(dict.fromkeys(place.needs for place in places))
        self.awaited = ""
        """More than that a packet is due; nothing here."""

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        return [_reading(place, data, t_ns) for place in self._places]

    def flush(self) -> list[Reading]:
        return []

    def resync(self) -> None:
        """Packets were lost; each stands for itself, so nothing has to be forgotten."""


def _reading(place: Place, data: bytes, t_ns: int) -> Reading:
    end = place.offset + place.size
    if len(data) < end or (place.length is not None and len(data) != place.length):
        return Reading(place.channel, t_ns, None, Quality.BAD_FRAME)
    number = place.read(data[place.offset : end])
    if number.value is None:
        return Reading(place.channel, t_ns, None, number.quality)
    value = (abs(number.value) if place.magnitude else number.value) * place.card.scale + place.card.offset
    if not math.isfinite(value):
        return Reading(place.channel, t_ns, None, Quality.OVERLOAD)
    return Reading(place.channel, t_ns, value, number.quality)
