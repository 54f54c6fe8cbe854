"""Number formats, against CHECKS W22, IEEE 754 by Python's struct, and decimal arithmetic."""

from __future__ import annotations

import struct
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import Quality
from drivers.gatt.numbers import NUMBER_FORMATS, Number, decimal_scaled


def read(name: str, number: int, exponent: int = 0) -> Number:
    number_format = NUMBER_FORMATS[name]
    return number_format.read(number.to_bytes(number_format.size, "little"), exponent)


@pytest.mark.parametrize(
    ("bits", "quality"),
    [
        (0x07FF, Quality.NOT_A_NUMBER),
        (0x0800, Quality.NOT_A_NUMBER),
        (0x0801, Quality.NOT_A_NUMBER),
        (0x07FE, Quality.OVERLOAD),
        (0x0802, Quality.OVERLOAD),
    ],
)
def test_sfloat_specials_have_no_value(bits: int, quality: Quality) -> None:
    assert read("SFLOAT", bits) == Number(None, quality)


@pytest.mark.parametrize(
    ("bits", "quality"),
    [
        (0x007FFFFF, Quality.NOT_A_NUMBER),
        (0x00800000, Quality.NOT_A_NUMBER),
        (0x00800001, Quality.NOT_A_NUMBER),
        (0x007FFFFE, Quality.OVERLOAD),
        (0x00800002, Quality.OVERLOAD),
    ],
)
def test_float_specials_have_no_value(bits: int, quality: Quality) -> None:
    assert read("FLOAT", bits) == Number(None, quality)


@pytest.mark.parametrize(
    ("name", "bits", "value"),
    [
        ("SFLOAT", 0xF07B, 12.3),  # CHECKS W22; a negative exponent
        ("SFLOAT", 0x0072, 114.0),
        ("SFLOAT", 0x2F85, -12300.0),
        ("SFLOAT", 0x17FF, 20470.0),  # these two look like specials, but carry an exponent
        ("SFLOAT", 0x17FE, 20460.0),
        ("FLOAT", 0xFF00016C, 36.4),
        ("FLOAT", 0x01FFFFFE, -20.0),
    ],
)
def test_decimal_floats(name: str, bits: int, value: float) -> None:
    assert read(name, bits) == Number(value, Quality.GOOD)


@given(st.integers(-(2**23), 2**23 - 1), st.integers(-60, 60))
def test_decimal_scaling_rounds_once(mantissa: int, exponent: int) -> None:
    assert decimal_scaled(mantissa, exponent) == float(Decimal(mantissa).scaleb(exponent))


@pytest.mark.parametrize("bits", [8, 16, 24, 32, 48, 64])
def test_integers_take_their_whole_range(bits: int) -> None:
    assert read(f"uint{bits}", 2**bits - 1).value == float(2**bits - 1)
    assert read(f"sint{bits}", 2**bits - 1).value == -1.0
    assert read(f"sint{bits}", 2 ** (bits - 1)).value == -float(2 ** (bits - 1))


@given(st.binary(min_size=4, max_size=4))
def test_float32_is_ieee_754(data: bytes) -> None:
    expected = struct.unpack("<f", data)[0]
    number = NUMBER_FORMATS["float32"].read(data, 3)
    if expected != expected:
        assert number == Number(None, Quality.NOT_A_NUMBER)
    elif abs(expected) == float("inf"):
        assert number == Number(None, Quality.OVERLOAD)
    else:
        assert number == Number(expected)


def test_only_integers_take_an_exponent() -> None:
    assert read("uint16", 3892, -3).value == 3.892
    assert read("uint8", 23, 2).value == 2300.0
    assert read("SFLOAT", 0xF07B, 2).value == 12.3
