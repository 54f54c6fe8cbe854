"""The physical quantities a channel can carry, each with its unit.

Units are the SI symbols in ASCII, so that a column name and a card need no
special characters.
"""

from __future__ import annotations

from enum import Enum

__all__ = ["Quantity"]


class Quantity(Enum):
    """A physical quantity; ``value`` is its name in cards, commands and recordings."""

    AC_VOLTAGE = "ac_voltage"
    DC_VOLTAGE = "dc_voltage"
    DC_CURRENT = "dc_current"
    RESISTANCE = "resistance"
    FREQUENCY = "frequency"
    ROTATIONAL_SPEED = "rotational_speed"
    TEMPERATURE = "temperature"
    REVOLUTIONS = "revolutions"
    """A running count of revolutions, from a counter; never asked for by name in ``import``."""
    DEVICE_TIME = "device_time"
    """The instrument's own clock, paired with the readings that carry the same stamp."""

    @property
    def unit(self) -> str:
        """The one unit in which readings of this quantity are recorded."""
        return _UNITS[self]

    @property
    def column(self) -> str:
        """The column's name in the aligned CSV."""
        return _COLUMNS.get(self, f"{self.value}_{self.unit}")


_UNITS = {
    Quantity.AC_VOLTAGE: "V",
    Quantity.DC_VOLTAGE: "V",
    Quantity.DC_CURRENT: "A",
    Quantity.RESISTANCE: "ohm",
    Quantity.FREQUENCY: "Hz",
    Quantity.ROTATIONAL_SPEED: "rpm",
    Quantity.TEMPERATURE: "degC",
    Quantity.REVOLUTIONS: "rev",
    Quantity.DEVICE_TIME: "s",
}
_COLUMNS = {Quantity.AC_VOLTAGE: "voltage_V", Quantity.ROTATIONAL_SPEED: "speed_rpm"}
