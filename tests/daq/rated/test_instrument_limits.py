"""Limits of error from a card, and digits read off the values."""

from __future__ import annotations

import numpy as np
import pytest

from daq.cards.instrument import Accuracy, ChannelCard
from daq.model.quantity import Quantity
from daq.rated.instrument_limits import InstrumentLimits, digit_of


def test_from_a_card() -> None:
    card = ChannelCard(
        quantity=Quantity.AC_VOLTAGE, resolution=0.1, accuracy=Accuracy(percent_of_reading=1.0, counts=5.0)
    )
    limits = InstrumentLimits.of(card, np.array([20.5]))
    assert limits.known
    assert limits.limit(np.array([20.0, -20.0, 0.0])) == pytest.approx([0.7, 0.7, 0.5])


def test_without_a_card_or_without_its_accuracy() -> None:
    values = np.array([19.62, 20.5])
    bare = ChannelCard(quantity=Quantity.AC_VOLTAGE)
    for limits in (InstrumentLimits.of(None, values), InstrumentLimits.of(bare, values)):
        assert not limits.known
        assert limits.digit == 0.01
        assert limits.limit(values) == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize(
    ("values", "digit"),
    [
        ([19.62, 20.5], 0.01),
        ([3600.0, 3601.0], 1.0),
        ([3600.5, 3601.0], 0.5 * 0.2),
        ([0.1, 0.2, 0.30000000000000004], 0.1),
        ([1.234567], 1e-6),
        ([float("nan"), 5.25], 0.01),
        ([], 0.0),
        ([float("nan")], 0.0),
    ],
)
def test_last_digit_of_values(values: list[float], digit: float) -> None:
    assert digit_of(np.array(values)) == pytest.approx(digit)
