"""What a gatt card may say in ``[settings]``: which characteristic carries which channel, and how it is read."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from daq.driver_api import ChannelCard, InstrumentCard, Quantity
from drivers.card_settings import card_fault, one_value_a_channel, settings_of
from drivers.gatt.known import KNOWN
from drivers.gatt.numbers import NUMBER_FORMATS
from drivers.gatt.uuids import CSC_MEASUREMENT, full_uuid, named_uuid, short_uuid

__all__ = ["GattSettings", "GattText", "GattValue", "parse_settings"]

_LONGEST_VALUE = 512
"""Longest attribute value (Core specification, volume 3, part F, 3.2.9)."""


def _check_uuids(characteristic: str, service: str | None) -> None:
    for key, text in (("characteristic", characteristic), ("service", service)):
        if text is not None:
            try:
                full_uuid(text)
            except ValueError as error:
                raise ValueError(f"{key}: {error}") from None


class GattValue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where one channel is found, and how its bytes are read.

    Without ``format`` the characteristic must be one that Bluetooth defines
    (0x2C09, 0x2A5B, 0x2B18, 0x2AEE) or carry a Presentation Format descriptor.
    """

    characteristic: str
    """Four hex digits such as 0x2B18, or a whole UUID."""
    service: str | None = None
    """Only needed where a device has the characteristic more than once."""
    format: str | None = None
    """A number format, for a characteristic that the card describes itself."""
    offset: int = 0
    """Bytes before the number."""
    byte_order: Literal["little", "big"] = "little"
    length: int | None = None
    """Exact length of the whole packet in bytes; None: as long as it takes, or longer."""
    not_known: int | None = None
    """The raw whole number by which the device says that it has no value."""
    counter: Literal["wheel", "crank", "either"] = "either"
    """CSC Measurement: which of its two counts; "either": the wheel's where it is sent, else the crank's."""
    most_rpm: float = 30_000.0
    """CSC Measurement: no shaft turns faster; a count that would need it is taken for a new start."""
    poll_s: float | None = None
    """For a characteristic that sends nothing by itself: read it this often. Where it notifies, it is not read."""
    direction: Literal["ignored", "kept"] = "ignored"
    """Rotational Speed: whether the sign (counter-clockwise is negative) is kept."""

    def __post_init__(self) -> None:
        _check_uuids(self.characteristic, self.service)
        if self.format is not None and self.format not in NUMBER_FORMATS:
            raise ValueError(f"format = {self.format!r} must be one of {', '.join(NUMBER_FORMATS)}")
        if not 0 <= self.offset < _LONGEST_VALUE:
            raise ValueError(f"offset = {self.offset} must be from 0 to {_LONGEST_VALUE - 1} bytes")
        if self.length is not None and not self.end <= self.length <= _LONGEST_VALUE:
            raise ValueError(f"length = {self.length} must be from {self.end} to {_LONGEST_VALUE} bytes")
        if self.format is None and (self.offset or self.length is not None or self.not_known is not None):
            raise ValueError("offset, length and not_known need a format")
        if not 1.0 <= self.most_rpm <= 1e6:
            raise ValueError(f"most_rpm = {self.most_rpm} must be from 1 to 1000000")
        if self.poll_s is not None and not 0.05 <= self.poll_s <= 60.0:
            raise ValueError(f"poll_s = {self.poll_s} must be from 0.05 to 60 s")
        if self.not_known is not None and self.format is not None and "int" not in self.format:
            raise ValueError("not_known is for the uint and sint formats")

    @property
    def uuid(self) -> str:
        """The characteristic in full."""
        return full_uuid(self.characteristic)

    @property
    def end(self) -> int:
        """Bytes up to the number's end."""
        return self.offset + (0 if self.format is None else NUMBER_FORMATS[self.format].size)

    @property
    def is_csc(self) -> bool:
        """Whether this is a count out of CSC Measurement."""
        return self.format is None and short_uuid(self.uuid) == CSC_MEASUREMENT


class GattText(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Lines of text over notifications; all the card's channels come out of them."""

    characteristic: str
    service: str | None = None
    packets: Literal["pieces", "lines"] = "pieces"
    """"pieces": a line may be cut over several packets; "lines": each packet is one line, with or without its end."""
    settings: dict[str, Any] = {}
    """What protocol ``text`` has in its ``[settings]``."""

    def __post_init__(self) -> None:
        _check_uuids(self.characteristic, self.service)

    @property
    def uuid(self) -> str:
        """The characteristic in full."""
        return full_uuid(self.characteristic)


class GattSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Either one ``[[settings.value]]`` for each ``[[channel]]``, or ``[settings.text]``."""

    value: tuple[GattValue, ...] = ()
    text: GattText | None = None
    adapter: str | None = None
    """Bluetooth adapter, such as hci1; None: the first that is switched on. Linux only."""


def parse_settings(card: InstrumentCard) -> GattSettings:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    settings = settings_of(card, GattSettings)
    if (settings.text is None) == (not settings.value):
        raise card_fault(card, "[settings] needs either [[settings.value]] tables or one [settings.text]")
    if settings.text is None:
        one_value_a_channel(card, settings.value)
        for channel, value in zip(card.channel, settings.value, strict=True):
            _check_channel(card, channel, value)
        _check_counters(card, settings.value)
    return settings


def _check_channel(card: InstrumentCard, channel: ChannelCard, value: GattValue) -> None:
    known = KNOWN.get(short_uuid(value.uuid) or 0) if value.format is None else None
    if known is not None and channel.quantity not in known.quantities:
        accepted = " or ".join(quantity.value for quantity in known.quantities)
        raise card_fault(
            card,
            f"{named_uuid(value.uuid)} gives {accepted}, so its channel can't be {channel.quantity.value}",
        )
    if value.is_csc:
        if channel.quantity not in (Quantity.REVOLUTIONS, Quantity.DEVICE_TIME):
            raise card_fault(
                card,
                f"{named_uuid(value.uuid)} gives revolutions and device_time, "
                f"so its channel can't be {channel.quantity.value}",
            )
        if channel.scale != 1.0 or channel.offset != 0.0:
            raise card_fault(
                card,
                "a counter takes no scale and no offset; marks_per_revolution says how many counts "
                "make a revolution",
            )


def _check_counters(card: InstrumentCard, values: tuple[GattValue, ...]) -> None:
    """A clock without the count it belongs to would be of no use, and two counts could be mixed up."""
    pairs = [
        (value.uuid, value.service, channel.quantity)
        for channel, value in zip(card.channel, values, strict=True)
        if value.is_csc
    ]
    if not pairs:
        return
    if len(set(pairs)) != len(pairs) or len({pair[:2] for pair in pairs}) > 1:
        raise card_fault(card, "CSC Measurement can fill one revolutions channel and one device_time channel")
    if Quantity.REVOLUTIONS not in {pair[2] for pair in pairs}:
        raise card_fault(
            card, "a device_time channel of CSC Measurement needs a revolutions channel beside it"
        )
