"""Characteristics that Bluetooth itself defines as one number: what their bytes mean, and what they measure.

Source: Bluetooth SIG, GATT Specification Supplement (CHECKS W18 to W20).
"""

from __future__ import annotations

from typing import NamedTuple

from daq.driver_api import Quality, Quantity
from drivers.gatt.numbers import Number
from drivers.gatt.uuids import ELECTRIC_CURRENT, ROTATIONAL_SPEED, VOLTAGE

__all__ = ["KNOWN", "KnownNumber"]


class KnownNumber(NamedTuple):
    """One number of a fixed size; value = raw / ``per_unit``, in the unit of its quantities."""

    size: int
    signed: bool
    per_unit: int
    not_known: int
    """The raw number that means: no value."""
    highest: int
    """The largest raw number that the definition allows."""
    quantities: tuple[Quantity, ...]
    """What a channel that takes it may be. Volts don't say whether they alternate: the channel does."""

    def read(self, data: bytes) -> Number:
        """Read exactly ``size`` bytes."""
        raw = int.from_bytes(data, "little", signed=self.signed)
        if raw == self.not_known:
            return Number(None, Quality.NOT_A_NUMBER)
        if raw > self.highest:
            return Number(None, Quality.OVERLOAD)
        return Number(raw / self.per_unit)


KNOWN: dict[int, KnownNumber] = {
    # Clockwise is positive.
    ROTATIONAL_SPEED: KnownNumber(4, True, 1, 0x7FFFFFFF, 0x7FFFFFFE, (Quantity.ROTATIONAL_SPEED,)),
    VOLTAGE: KnownNumber(2, False, 64, 0xFFFF, 1022 * 64, (Quantity.AC_VOLTAGE, Quantity.DC_VOLTAGE)),
    ELECTRIC_CURRENT: KnownNumber(2, False, 100, 0xFFFF, 0xFFFE, (Quantity.DC_CURRENT,)),
}
"""By 16-bit number."""
