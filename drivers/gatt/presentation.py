"""Characteristic Presentation Format, the descriptor by which a characteristic says how its bytes are to be read.

Source: Bluetooth Core specification, volume 3, part G, 3.3.3.5 (CHECKS W21);
units from SIG Assigned Numbers (CHECKS W17). Format numbers that W21 does not
list are from memory.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from daq.driver_api import Quality, Quantity
from drivers.gatt.numbers import NUMBER_FORMATS, Number

__all__ = ["PresentationFormat", "parse_presentation_format"]

_SIZE = 7
_FORMATS = {
    **{4: "uint8", 6: "uint16", 7: "uint24", 8: "uint32", 9: "uint48", 10: "uint64"},
    **{12: "sint8", 14: "sint16", 15: "sint24", 16: "sint32", 17: "sint48", 18: "sint64"},
    **{20: "float32", 21: "float64", 22: "SFLOAT", 23: "FLOAT"},
}
_UNITLESS = 0x2700
_UNITS: dict[int, tuple[str, tuple[Quantity, ...], float]] = {
    0x2703: ("second", (Quantity.DEVICE_TIME,), 1.0),
    0x2704: ("ampere", (Quantity.DC_CURRENT,), 1.0),
    0x2722: ("hertz", (Quantity.FREQUENCY,), 1.0),
    0x2728: ("volt", (Quantity.AC_VOLTAGE, Quantity.DC_VOLTAGE), 1.0),
    0x272A: ("ohm", (Quantity.RESISTANCE,), 1.0),
    0x272F: ("degree Celsius", (Quantity.TEMPERATURE,), 1.0),
    # Not to be mixed up with revolutions a minute.
    0x2743: ("radian per second", (Quantity.ROTATIONAL_SPEED,), 60.0 / (2.0 * math.pi)),
    0x27A8: ("revolution per minute", (Quantity.ROTATIONAL_SPEED,), 1.0),
}


class PresentationFormat(NamedTuple):
    """A descriptor that we can read by."""

    format: str
    """A key of :data:`NUMBER_FORMATS`."""
    exponent: int
    """Power of ten for the integer formats."""
    unit: int
    """16-bit number of the unit."""

    @property
    def size(self) -> int:
        """Length of the value in bytes."""
        return NUMBER_FORMATS[self.format].size

    @property
    def unit_name(self) -> str:
        """The unit in words."""
        if self.unit == _UNITLESS:
            return "no unit"
        return _UNITS[self.unit][0] if self.unit in _UNITS else f"unit 0x{self.unit:04X}"

    def fits(self, quantity: Quantity) -> bool:
        """Whether a channel of this quantity can take the value; one without a unit suits any."""
        return self.unit == _UNITLESS or (self.unit in _UNITS and quantity in _UNITS[self.unit][1])

    def read(self, data: bytes) -> Number:
        """Read exactly ``size`` bytes into the unit of the quantity that it fits."""
        number = NUMBER_FORMATS[self.format].read(data, self.exponent)
        factor = _UNITS[self.unit][2] if self.unit in _UNITS else 1.0
        if number.value is None or math.isfinite(number.value * factor):
            return number if number.value is None else Number(number.value * factor)
        return Number(None, Quality.OVERLOAD)


def parse_presentation_format(data: bytes) -> PresentationFormat | None:
    """Read a descriptor; None where it is malformed or names a format that is not one number of whole bytes.

    The last three bytes (namespace and description) don't change the value.
    """
    if len(data) != _SIZE:
        return None
    name = _FORMATS.get(data[0])
    if name is None:
        return None
    exponent = int.from_bytes(data[1:2], "little", signed=True)
    return PresentationFormat(name, exponent, int.from_bytes(data[2:4], "little"))
