"""The physical quantities a channel can carry, each with its unit.

Units are the SI symbols in ASCII, so that a column name and a card need no
special characters.
"""

from __future__ import annotations

from enum import Enum

__all__ = ["LEAST_SIZE", "Quantity"]

LEAST_SIZE = 1e-30
"""A value that is not 0 and smaller than this is no reading either: nothing measures so finely in any unit."""


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

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and most that a reading of this quantity can be, in its unit; whatever lies beyond is no reading.

        Far beyond anything that an engine, its alternator or a meter on them can have (common practice, no
        source): they keep a wrong card, a wrong decoder or a file from a stranger out of the reckoning, and
        judge nothing.
        """
        return _BOUNDS[self]


_BOUNDS = {
    Quantity.AC_VOLTAGE: (-1e5, 1e5),
    Quantity.DC_VOLTAGE: (-1e5, 1e5),
    Quantity.DC_CURRENT: (-1e5, 1e5),
    Quantity.RESISTANCE: (-1e3, 1e13),  # a meter nulled on long leads reads a little below nothing
    Quantity.FREQUENCY: (-1e9, 1e9),
    Quantity.ROTATIONAL_SPEED: (-1e6, 1e6),  # some tachs sign the direction
    Quantity.TEMPERATURE: (-273.15, 1e4),
    Quantity.REVOLUTIONS: (-1e12, 1e12),
    Quantity.DEVICE_TIME: (-1e12, 1e12),
}
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
