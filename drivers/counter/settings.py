"""What a counter card may say in ``[settings]``."""

from __future__ import annotations

from typing import Literal

import msgspec

from daq.driver_api import InstrumentCard, Quantity
from drivers.card_settings import card_fault, settings_of

__all__ = ["CounterSettings", "parse_settings"]

_TICKS_A_SECOND = {"ns": 1_000_000_000, "us": 1_000_000, "ms": 1000, "s": 1}


class CounterSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How a line is read."""

    fields: tuple[Literal["count", "time", "-"], ...] = ("count", "time")
    """What stands in each field of a line; "-" is passed over."""
    delimiter: str = ","
    prefix: str = ""
    """What every line that counts begins with; other lines are let pass."""
    time_unit: Literal["ns", "us", "ms", "s"] = "us"
    """Unit of the device time, a whole number."""
    count_bits: int = 32
    """The count starts again from 0 after this many bits are full."""
    time_bits: int = 32
    most_rpm: float = 30_000.0
    """No shaft turns faster: a count that would need it is not believed."""
    max_line: int = 80
    """Longest line, in bytes."""

    def __post_init__(self) -> None:
        if sorted(f for f in self.fields if f != "-") != ["count", "time"] or len(self.fields) > 16:
            raise ValueError('fields must name "count" and "time" once each, and "-" for what is passed over')
        if not (
            len(self.delimiter) == 1 and self.delimiter.isascii() and self.delimiter not in "0123456789-\r\n"
        ):
            raise ValueError(
                f'delimiter = {self.delimiter!r} must be one character such as ",", ";" or a space'
            )
        for key, bits in (("count_bits", self.count_bits), ("time_bits", self.time_bits)):
            if not 8 <= bits <= 64:
                raise ValueError(f"{key} = {bits} must be from 8 to 64")
        if not 1.0 <= self.most_rpm <= 1e6:
            raise ValueError(f"most_rpm = {self.most_rpm} must be from 1 to 1000000")
        if not 8 <= self.max_line <= 1024:
            raise ValueError(f"max_line = {self.max_line} must be from 8 to 1024 bytes")
        if len(self.prefix) > 16 or not self.prefix.isascii() or not self.prefix.isprintable():
            raise ValueError(f"prefix = {self.prefix!r} must have at most 16 printable ASCII characters")

    @property
    def ticks_a_second(self) -> int:
        """Steps of the device time in a second."""
        return _TICKS_A_SECOND[self.time_unit]


def parse_settings(card: InstrumentCard) -> CounterSettings:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    settings = settings_of(card, CounterSettings)
    if [channel.quantity for channel in card.channel] != [Quantity.REVOLUTIONS, Quantity.DEVICE_TIME]:
        raise card_fault(
            card,
            "protocol counter has exactly two [[channel]] tables: the first with "
            'quantity = "revolutions", the second with quantity = "device_time"',
        )
    return settings
