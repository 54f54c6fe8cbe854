"""The bounds of the quantities: far beyond what instruments show, far within what can be reckoned with."""

from __future__ import annotations

import pytest

from daq.model.quantity import LEAST_SIZE, Quantity

SEEN = {
    Quantity.AC_VOLTAGE: (0.0, 1000.0),
    Quantity.DC_VOLTAGE: (-1000.0, 1000.0),
    Quantity.DC_CURRENT: (-1000.0, 1000.0),
    Quantity.RESISTANCE: (-1.0, 2e11),
    Quantity.FREQUENCY: (0.0, 1e8),
    Quantity.ROTATIONAL_SPEED: (-99_999.0, 99_999.0),
    Quantity.TEMPERATURE: (-200.0, 1372.0),
    Quantity.REVOLUTIONS: (-(2.0**31), 2.0**32),
    Quantity.DEVICE_TIME: (0.0, 4e9),
}
"""What instruments of the trade can show, or count to (common practice, no source)."""


@pytest.mark.parametrize("quantity", Quantity, ids=lambda quantity: quantity.value)
def test_the_bounds_hold_what_instruments_show_and_can_be_reckoned_with(quantity: Quantity) -> None:
    least, most = quantity.bounds
    low, high = SEEN[quantity]
    assert least < low
    assert high < most
    assert (most / LEAST_SIZE) ** 4 < 1e300, "fourth powers of quotients are finite"
    assert most <= 1e13
