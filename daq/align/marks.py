"""Why a speed reading or an aligned row does not count towards the result."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["Mark"]


class Mark(IntEnum):
    """0 counts; anything else keeps a reading in the CSV and out of the result."""

    GOOD = 0
    NO_VALUE = 1
    """The instrument gave no value: overload, blank, bad frame."""
    INSTRUMENT_FLAGGED = 2
    """The instrument itself flagged it: hold, low battery, wrong function."""
    NO_SPEED = 3
    """No speed readings near enough: a gap, or before the first or after the last."""
    FALSE_SPEED = 4
    """It would rest on tach readings that are false: marks counted twice or missed, or a spike."""
    VOLTAGE_SPIKE = 5
    """The volts jumped alone while the speed did not."""
    DROPOUT = 6
    """The volts fell away while the engine ran on."""
    STUCK = 7
    """The value stood still to the digit while the other instrument's moved."""
    STOPPED = 8
    """The engine stood or barely turned."""
    BRIDGED = 9
    """A missing tach reading was filled in from its neighbours."""
    APART = 10
    """At rated speed it lies too far from the others to weigh anything."""
    TOO_QUICK = 11
    """The speed changed so much from one tach reading to the next that its mean over the volts' window isn't known."""
    REPEATED = 12
    """The instrument was read faster than it measures, and the value is the one before."""

    @property
    def words(self) -> str:
        """The mark in plain words, as the CSV's ``quality`` column has it."""
        return self.name.lower().replace("_", " ")
