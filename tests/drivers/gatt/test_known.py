"""Bluetooth's own characteristics and the Presentation Format, against CHECKS W17 to W21."""

from __future__ import annotations

import math

import pytest

from daq.driver_api import Quality, Quantity
from drivers.gatt.known import KNOWN
from drivers.gatt.numbers import NUMBER_FORMATS, Number
from drivers.gatt.presentation import parse_presentation_format
from drivers.gatt.uuids import ELECTRIC_CURRENT, ROTATIONAL_SPEED, VOLTAGE, full_uuid, named_uuid, short_uuid


@pytest.mark.parametrize(
    ("characteristic", "data", "expected"),
    [
        (VOLTAGE, "4000", Number(1.0)),
        (VOLTAGE, "4003", Number(13.0)),
        (VOLTAGE, "80ff", Number(1022.0)),
        (VOLTAGE, "81ff", Number(None, Quality.OVERLOAD)),
        (VOLTAGE, "ffff", Number(None, Quality.NOT_A_NUMBER)),
        (VOLTAGE, "0000", Number(0.0)),
        (ELECTRIC_CURRENT, "e204", Number(12.5)),
        (ELECTRIC_CURRENT, "feff", Number(655.34)),
        (ELECTRIC_CURRENT, "ffff", Number(None, Quality.NOT_A_NUMBER)),
        (ROTATIONAL_SPEED, "f0f1ffff", Number(-3600.0)),
        (ROTATIONAL_SPEED, "100e0000", Number(3600.0)),
        (ROTATIONAL_SPEED, "ffffff7f", Number(None, Quality.NOT_A_NUMBER)),
        (ROTATIONAL_SPEED, "00000080", Number(-2147483648.0)),
    ],
)
def test_published_values(characteristic: int, data: str, expected: Number) -> None:
    assert KNOWN[characteristic].read(bytes.fromhex(data)) == expected


def test_presentation_format_of_the_notes() -> None:
    """uint16, exponent 0, volt, assigned by the SIG."""
    described = parse_presentation_format(bytes.fromhex("06002827010000"))
    assert described is not None
    assert (described.format, described.exponent, described.size) == ("uint16", 0, 2)
    assert described.fits(Quantity.AC_VOLTAGE)
    assert described.fits(Quantity.DC_VOLTAGE)
    assert not described.fits(Quantity.ROTATIONAL_SPEED)


@pytest.mark.parametrize(
    ("number", "name"),
    [(6, "uint16"), (14, "sint16"), (16, "sint32"), (20, "float32"), (22, "SFLOAT"), (23, "FLOAT")],
)
def test_format_numbers(number: int, name: str) -> None:
    described = parse_presentation_format(bytes([number]) + bytes.fromhex("002827010000"))
    assert described is not None
    assert described.format == name
    assert described.size == NUMBER_FORMATS[name].size


@pytest.mark.parametrize(("raw", "exponent", "value"), [(23, "02", 2300.0), (3892, "fd", 3.892)])
def test_exponent_is_a_power_of_ten(raw: int, exponent: str, value: float) -> None:
    described = parse_presentation_format(bytes.fromhex(f"06{exponent}0027010000"))
    assert described is not None
    assert described.read(raw.to_bytes(2, "little")) == Number(value)


@pytest.mark.parametrize(
    ("unit", "quantity", "value"),
    [
        ("a827", Quantity.ROTATIONAL_SPEED, 100.0),
        ("4327", Quantity.ROTATIONAL_SPEED, 100.0 * 60.0 / (2.0 * math.pi)),  # rad/s, not rpm
        ("0427", Quantity.DC_CURRENT, 100.0),
        ("2a27", Quantity.RESISTANCE, 100.0),
        ("2227", Quantity.FREQUENCY, 100.0),
        ("0327", Quantity.DEVICE_TIME, 100.0),
        ("2f27", Quantity.TEMPERATURE, 100.0),
        ("0027", Quantity.REVOLUTIONS, 100.0),
    ],
)
def test_units(unit: str, quantity: Quantity, value: float) -> None:
    described = parse_presentation_format(bytes.fromhex(f"0600{unit}010000"))
    assert described is not None
    assert described.fits(quantity)
    assert described.read(b"\x64\x00") == Number(value)


@pytest.mark.parametrize("data", ["", "060028270100", "0600282701000000", "19002827010000", "1b002827010000"])
def test_descriptors_that_describe_no_number(data: str) -> None:
    """Cut, too long, UTF-8 text, a structure."""
    assert parse_presentation_format(bytes.fromhex(data)) is None


def test_uuids_in_every_spelling() -> None:
    assert full_uuid("2A5B") == full_uuid("0x2a5b") == "00002a5b-0000-1000-8000-00805f9b34fb"
    assert short_uuid(full_uuid("0x2A5B")) == 0x2A5B
    own = "5B1F0002-3C2A-4F7E-9D10-7A1C0E55C001"
    assert full_uuid(own) == own.lower()
    assert short_uuid(full_uuid(own)) is None
    assert named_uuid(full_uuid("2B18")) == "Voltage (0x2B18)"
    assert named_uuid(full_uuid("2A19")) == "0x2A19"


@pytest.mark.parametrize("text", ["", "2A5", "0x2A5B0", "volts", "5b1f0002-3c2a-4f7e-9d10-7a1c0e55c00"])
def test_what_is_no_uuid(text: str) -> None:
    with pytest.raises(ValueError, match="four hex digits"):
        full_uuid(text)
