"""What a frame card may say in ``[settings]``: where what stands in a frame."""

from __future__ import annotations

from typing import Literal

import msgspec

from daq.driver_api import InstrumentCard
from drivers.card_settings import card_fault, one_value_a_channel, settings_of
from drivers.frame.checks import CHECKS

__all__ = [
    "DescribedFrame",
    "FrameFlag",
    "FrameValue",
    "SegmentFrame",
    "parse_settings",
]

_SIZES = {
    "uint8": 1,
    "int8": 1,
    "uint16": 2,
    "int16": 2,
    "uint32": 4,
    "int32": 4,
    "float32": 4,
    "float64": 8,
}


class FrameValue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where one channel's number stands; scale and offset are the channel's own."""

    at: int
    """Place of its first byte, counted from 0 at the first sync byte."""
    type: Literal[
        "uint8", "int8", "uint16", "int16", "uint32", "int32", "float32", "float64", "bcd", "ascii"
    ] = "uint16"
    """bcd: two decimal digits a byte; ascii: the number as printable characters."""
    size: int | None = None
    """Bytes; to be given for bcd and ascii only."""
    order: Literal["big", "little"] = "big"
    """Which byte comes first: big, the one that counts most."""
    decimals_at: int | None = None
    """Place of a byte whose low half says how many decimals the whole number has."""
    overload: tuple[int, ...] = ()
    """Numbers, before scaling, that mean beyond the range."""
    missing: tuple[int, ...] = ()
    """Numbers, before scaling, that mean no value."""

    def __post_init__(self) -> None:
        if self.type in ("bcd", "ascii"):
            if self.size is None or not 1 <= self.size <= 16:
                raise ValueError(f"size must be given for {self.type}, from 1 to 16 bytes")
        elif self.size not in (None, _SIZES[self.type]):
            raise ValueError(f"size = {self.size} does not fit {self.type}; leave it out")

    @property
    def end(self) -> int:
        """The place just behind it."""
        return self.at + (self.size or _SIZES[self.type])


class FrameFlag(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A bit, or several, that say something of the readings of its frame."""

    at: int
    """Place of its byte."""
    mask: int
    """Which of its bits count."""
    means: Literal["overload", "not_a_number", "hold", "low_battery", "wrong_function", "blank"]
    equals: int | None = None
    """The flag is up when the masked bits are this; None: when any of them is 1."""

    def __post_init__(self) -> None:
        if not 1 <= self.mask <= 255:
            raise ValueError(f"mask = {self.mask} must be from 1 to 255")
        if self.equals is not None and self.equals & ~self.mask:
            raise ValueError(f"equals = {self.equals} has bits that mask = {self.mask} leaves out")


class DescribedFrame(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A frame of fixed length."""

    sync: str
    """Its first bytes, in hexadecimal: "AA 55"."""
    length: int
    """All its bytes, sync and check included."""
    value: tuple[FrameValue, ...]
    layout: Literal["described"] = "described"
    tail: str = ""
    """Its last bytes, in hexadecimal."""
    check: Literal["none", "xor", "sum8", "lrc", "crc16-modbus", "crc16-ccitt"] = "none"
    check_at: int | None = None
    """Place of the check value; None: just before the tail."""
    check_from: int = 0
    """Place of the first byte that is checked; those up to the check value are."""
    check_order: Literal["big", "little"] = "little"
    """Which byte of a check value of two comes first."""
    flag: tuple[FrameFlag, ...] = ()
    """The first one that is up counts."""

    def __post_init__(self) -> None:
        sync, tail = _bytes("sync", self.sync), _bytes("tail", self.tail)
        if not 1 <= len(sync) <= 8:
            raise ValueError('sync must have 1 to 8 bytes, such as "AA 55"')
        if not 3 <= self.length <= 256:
            raise ValueError(f"length = {self.length} must be from 3 to 256 bytes")
        if self.check == "none" and len(sync) + len(tail) < 2:
            raise ValueError("a frame without a check value needs at least two bytes of sync and tail")
        end = self.length - len(tail)
        if not len(sync) <= self.check_place <= end - CHECKS[self.check].size:
            raise ValueError(f"check_at = {self.check_place} does not lie inside the frame, behind the sync")
        if not 0 <= self.check_from < max(self.check_place, 1):
            raise ValueError(f"check_from = {self.check_from} must lie before the check value")
        for value in self.value:
            places = [value.at, value.end - 1] + ([] if value.decimals_at is None else [value.decimals_at])
            if not all(0 <= place < self.length for place in places):
                raise ValueError(f"a value at {value.at} reaches beyond the frame's {self.length} bytes")
        if not all(0 <= flag.at < self.length for flag in self.flag):
            raise ValueError(f"a flag lies beyond the frame's {self.length} bytes")

    @property
    def sync_bytes(self) -> bytes:
        """The sync as bytes."""
        return _bytes("sync", self.sync)

    @property
    def tail_bytes(self) -> bytes:
        """The tail as bytes."""
        return _bytes("tail", self.tail)

    @property
    def check_place(self) -> int:
        """Where the check value begins."""
        if self.check_at is not None:
            return self.check_at
        return self.length - len(_bytes("tail", self.tail)) - CHECKS[self.check].size


class SegmentFrame(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The 14-byte picture of a seven-segment display; see :mod:`drivers.frame.segments`."""

    layout: Literal["segments"]
    celsius_bit: Literal[1, 2, 4, 8] | None = None
    """The bit of the last byte that lights °C; it differs from make to make. None: this meter has none."""


def parse_settings(card: InstrumentCard) -> DescribedFrame | SegmentFrame:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    if card.settings.get("layout") == "segments":
        if len(card.channel) != 1:
            raise card_fault(
                card, f"a display shows one value, so there is one [[channel]], not {len(card.channel)}"
            )
        return settings_of(card, SegmentFrame)
    settings = settings_of(card, DescribedFrame)
    one_value_a_channel(card, settings.value)
    return settings


def _bytes(key: str, text: str) -> bytes:
    try:
        return bytes.fromhex(text)
    except ValueError as error:
        raise ValueError(f'{key} = {text!r} must be bytes in hexadecimal, such as "AA 55"') from error
