"""Frames that a card describes: sync, numbers at places, flags, tail, check value."""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Callable, Sequence

from daq.driver_api import ChannelCard, Quality, Reading
from drivers.frame.checks import CHECKS
from drivers.frame.settings import DescribedFrame, FrameFlag, FrameValue

__all__ = ["DescribedLayout"]

_STRUCT_CODES = {
    "uint8": "B",
    "int8": "b",
    "uint16": "H",
    "int16": "h",
    "uint32": "I",
    "int32": "i",
    "float32": "f",
    "float64": "d",
}
_QUALITIES = {
    "overload": Quality.OVERLOAD,
    "not_a_number": Quality.NOT_A_NUMBER,
    "hold": Quality.HOLD,
    "low_battery": Quality.LOW_BATTERY,
    "wrong_function": Quality.WRONG_FUNCTION,
    "blank": Quality.BLANK,
}
_VALUE_STAYS = {Quality.HOLD, Quality.LOW_BATTERY, Quality.WRONG_FUNCTION}
_NUMBER = re.compile(rb"[+-]? {0,8}(?:[0-9]{1,15}(?:\.[0-9]{0,15})?|\.[0-9]{1,15})")
_OVERLOAD = re.compile(rb"[+-]? {0,8}\.?[0O]\.?L\.?")

Judged = tuple[float | None, Quality]


class DescribedLayout:
    """See :class:`drivers.frame.layout.Layout`."""

    def __init__(self, channels: Sequence[ChannelCard], settings: DescribedFrame) -> None:
        self.length = settings.length
        self._sync, self._tail = settings.sync_bytes, settings.tail_bytes
        self.confirm = len(self._sync) if settings.check == "none" else 0
        self._check = CHECKS[settings.check]
        self._check_from, self._check_at = settings.check_from, settings.check_place
        self._check_order = settings.check_order
        self._channels = channels
        self._values = [_reader(value) for value in settings.value]
        self._flags = settings.flag

    def start_from(self, data: bytes, place: int) -> int:
        sync = self._sync
        found = data.find(sync, place)
        if found >= 0:
            return found
        for begun in range(max(place, len(data) - len(sync) + 1), len(data)):
            if sync.startswith(data[begun:]):
                return begun
        return len(data)

    def valid(self, frame: bytes) -> bool:
        if not (frame.startswith(self._sync) and frame.endswith(self._tail)):
            return False
        size, compute = self._check
        if not size:
            return True
        came = int.from_bytes(frame[self._check_at : self._check_at + size], self._check_order)
        return came == compute(frame[self._check_from : self._check_at])

    def readings(self, frame: bytes, t_ns: int) -> list[Reading]:
        flagged = _flagged(frame, self._flags)
        readings: list[Reading] = []
        for index, (channel, read) in enumerate(zip(self._channels, self._values, strict=True)):
            value, quality = read(frame)
            if flagged is not None and quality is not Quality.BAD_FRAME:
                quality = flagged
                if flagged not in _VALUE_STAYS:
                    value = None
            if value is not None:
                value = value * channel.scale + channel.offset
            readings.append(Reading(index, t_ns, value, quality))
        return readings

    def take_remarks(self) -> list[str]:
        return []


def _flagged(frame: bytes, flags: Sequence[FrameFlag]) -> Quality | None:
    for flag in flags:
        bits = frame[flag.at] & flag.mask
        if bits if flag.equals is None else bits == flag.equals:
            return _QUALITIES[flag.means]
    return None


def _reader(value: FrameValue) -> Callable[[bytes], Judged]:
    """A function that reads one number out of a frame."""
    if value.type == "ascii":
        return lambda frame: _ascii(frame[value.at : value.end])
    if value.type == "bcd":
        return lambda frame: _judged(_bcd(frame[value.at : value.end], value.order), frame, value)
    packed = struct.Struct((">" if value.order == "big" else "<") + _STRUCT_CODES[value.type])
    return lambda frame: _judged(packed.unpack_from(frame, value.at)[0], frame, value)


def _judged(number: float | None, frame: bytes, value: FrameValue) -> Judged:
    if number is None:
        return None, Quality.BAD_FRAME
    if number in value.overload or math.isinf(number):
        return None, Quality.OVERLOAD
    if number in value.missing or math.isnan(number):
        return None, Quality.NOT_A_NUMBER
    if value.decimals_at is not None:
        number /= 10.0 ** (frame[value.decimals_at] & 0x0F)
    return float(number), Quality.GOOD


def _bcd(data: bytes, order: str) -> int | None:
    digits = (data if order == "big" else data[::-1]).hex()
    return int(digits) if digits.isdecimal() else None


def _ascii(data: bytes) -> Judged:
    text = data.strip(b" \0")
    if not text:
        return None, Quality.BLANK
    if _OVERLOAD.fullmatch(text):
        return None, Quality.OVERLOAD
    if _NUMBER.fullmatch(text) is None:
        return None, Quality.BAD_FRAME
    return float(text.replace(b" ", b"")), Quality.GOOD
