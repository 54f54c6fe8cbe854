"""The number formats of Bluetooth characteristics: bytes of one number into a value and its quality. Pure.

Integers and IEEE 754 floats are little-endian (Core specification, volume 3,
part G, 2.4). SFLOAT and FLOAT are the decimal floats of IEEE 11073-20601; their
special values are from memory, held against CHECKS W22.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable
from typing import NamedTuple

from daq.driver_api import Quality

__all__ = ["NUMBER_FORMATS", "Number", "NumberFormat", "decimal_scaled"]


class Number(NamedTuple):
    """What the bytes of one number are worth."""

    value: float | None
    quality: Quality = Quality.GOOD


class NumberFormat(NamedTuple):
    """One way to write a number.

    ``read`` takes exactly ``size`` bytes, lowest first, and a power of ten that
    the integer formats are multiplied by; floats carry their own and ignore it.
    """

    size: int
    read: Callable[[bytes, int], Number]


_NOT_A_NUMBER = Number(None, Quality.NOT_A_NUMBER)
_BEYOND_RANGE = Number(None, Quality.OVERLOAD)
_MOST_DIGITS = 400
"""Powers of ten beyond this are no float; no format here can ask for one."""


def decimal_scaled(mantissa: int, exponent: int) -> float:
    """``mantissa`` x 10 to the ``exponent``, rounded once: 123 and -1 give the float nearest to 12.3.

    Raises:
        OverflowError: the result is no finite float.
    """
    exponent = max(-_MOST_DIGITS, min(exponent, _MOST_DIGITS))
    if exponent >= 0:
        return float(mantissa * 10**exponent)
    return float(mantissa / 10**-exponent)


def _integer(size: int, *, signed: bool) -> NumberFormat:
    def read(data: bytes, exponent: int) -> Number:
        return Number(decimal_scaled(int.from_bytes(data, "little", signed=signed), exponent))

    return NumberFormat(size, read)


def _binary_float(code: str) -> NumberFormat:
    layout = struct.Struct(code)

    def read(data: bytes, _exponent: int) -> Number:
        value: float = layout.unpack(data)[0]
        if math.isnan(value):
            return _NOT_A_NUMBER
        return Number(value) if math.isfinite(value) else _BEYOND_RANGE

    return NumberFormat(layout.size, read)


def _decimal_float(size: int, mantissa_bits: int) -> NumberFormat:
    """SFLOAT (12 bits of mantissa, 4 of exponent) and FLOAT (24 and 8), both in two's complement."""
    half, full = 1 << (mantissa_bits - 1), 1 << mantissa_bits
    exponent_bits = 8 * size - mantissa_bits
    beyond = {half - 2, half + 2}  # +infinity and -infinity
    unusable = {half - 1, half, half + 1}  # not a number, not at this resolution, reserved

    def read(data: bytes, _exponent: int) -> Number:
        bits = int.from_bytes(data, "little")
        exponent, mantissa = bits >> mantissa_bits, bits & (full - 1)
        if exponent == 0 and mantissa in beyond:
            return _BEYOND_RANGE
        if exponent == 0 and mantissa in unusable:
            return _NOT_A_NUMBER
        if exponent >= 1 << (exponent_bits - 1):
            exponent -= 1 << exponent_bits
        return Number(decimal_scaled(mantissa - full if mantissa >= half else mantissa, exponent))

    return NumberFormat(size, read)


NUMBER_FORMATS: dict[str, NumberFormat] = {
    **{f"uint{8 * n}": _integer(n, signed=False) for n in (1, 2, 3, 4, 6, 8)},
    **{f"sint{8 * n}": _integer(n, signed=True) for n in (1, 2, 3, 4, 6, 8)},
    "float32": _binary_float("<f"),
    "float64": _binary_float("<d"),
    "SFLOAT": _decimal_float(2, 12),
    "FLOAT": _decimal_float(4, 24),
}
"""By the names that cards use."""
