"""Check values at the end of binary frames."""

from __future__ import annotations

import binascii
from collections.abc import Callable
from functools import reduce
from operator import xor
from typing import NamedTuple

__all__ = ["CHECKS", "Check", "crc16_modbus"]


class Check(NamedTuple):
    """How a check value is computed, and how many bytes it takes."""

    size: int
    compute: Callable[[bytes], int]


def _modbus_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        for _ in range(8):
            byte = (byte >> 1) ^ 0xA001 if byte & 1 else byte >> 1
        table.append(byte)
    return tuple(table)


_MODBUS_TABLE = _modbus_table()


def crc16_modbus(data: bytes) -> int:
    """CRC-16/MODBUS: polynomial 0x8005 reflected, start 0xFFFF; of ``123456789`` it is 0x4B37 (CRC catalogue)."""
    crc = 0xFFFF
    for byte in data:
        crc = (crc >> 8) ^ _MODBUS_TABLE[(crc ^ byte) & 0xFF]
    return crc


CHECKS: dict[str, Check] = {
    "none": Check(0, lambda _: 0),
    "xor": Check(1, lambda data: reduce(xor, data, 0)),
    "sum8": Check(1, lambda data: sum(data) & 0xFF),
    "lrc": Check(1, lambda data: -sum(data) & 0xFF),
    "crc16-modbus": Check(2, crc16_modbus),
    "crc16-ccitt": Check(2, lambda data: binascii.crc_hqx(data, 0xFFFF)),
}
"""By the name that a card gives. xor: all bytes exclusive-or; sum8: their sum; lrc: its two's complement;
crc16-ccitt: polynomial 0x1021, start 0xFFFF, of ``123456789`` it is 0x29B1 (from memory)."""
