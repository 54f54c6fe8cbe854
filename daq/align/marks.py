"""Why an aligned row does not count towards the result."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["Mark"]


class Mark(IntEnum):
    """0 is a row that counts; anything else keeps it in the CSV and out of the result."""

    GOOD = 0
    NO_VALUE = 1
    """The meter gave no value: overload, blank, bad frame."""
    METER_FLAGGED = 2
    """The meter itself flagged it: hold, low battery, wrong function."""
    NO_SPEED = 3
    """No speed readings near enough: a gap, or before the first or after the last."""
    FALSE_SPEED = 4
    """The tach readings it would rest on are false: marks counted twice or missed, a spike."""
    VOLTAGE_SPIKE = 5
    """The volts jumped alone while the speed did not."""
    DROPOUT = 6
    """The volts fell away while the engine ran."""
    STUCK = 7
    """The value stood still to the digit while the engine's speed moved."""
    STOPPED = 8
    """The engine stood or barely turned."""

    @property
    def words(self) -> str:
        """The mark in plain words, as the CSV's ``quality`` column has it."""
        return self.name.lower().replace("_", " ")
