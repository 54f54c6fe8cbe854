"""Limits of error from a card, and digits read off the values."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.cards.instrument import Accuracy, ChannelCard
from daq.model.quantity import Quantity
from daq.rated.instrument_limits import InstrumentLimits, digit_of, step_of

Floats = NDArray[np.float64]


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


def auto_ranging(volts: Floats) -> Floats:
    """Three decimals under 20 V, two above."""
    return np.asarray(np.where(volts < 20.0, np.round(volts, 3), np.round(volts, 2)), dtype=np.float64)


def test_counts_are_digits_of_the_range_in_use() -> None:
    card = ChannelCard(quantity=Quantity.AC_VOLTAGE, accuracy=Accuracy(percent_of_reading=0.1, counts=30.0))
    noise = np.random.default_rng(2).normal(0.0, 0.004, 80)
    shown = auto_ranging(np.linspace(10.0, 22.2, 80) + noise)
    whole = InstrumentLimits.of(card, shown)
    assert whole.digit == pytest.approx(0.001)
    assert whole.at(shown[shown > 20.1]).limit(np.array([21.0]))[0] == pytest.approx(0.021 + 0.30)
    assert whole.at(shown[shown < 19.0]).digit == pytest.approx(0.001)
    across = auto_ranging(np.linspace(18.1, 22.2, 80) + noise)
    assert whole.at(across).digit == pytest.approx(0.01)  # the middle is 20.15 V
    # Below the change of range with a part of the rows above: the mean of their digits at least.
    mostly_under = auto_ranging(np.linspace(17.0, 20.8, 80) + noise)
    assert 0.0025 < whole.at(mostly_under).digit < 0.004
    stated = ChannelCard(quantity=Quantity.AC_VOLTAGE, resolution=0.001)
    assert InstrumentLimits.of(stated, shown).at(shown[shown > 20.1]).digit == 0.001


def test_a_value_that_stands_still_says_little_of_its_digit() -> None:
    limits = InstrumentLimits.of(None, np.array([19.62, 24.0]))
    assert limits.at(np.full(50, 24.0)).digit == pytest.approx(0.1)
    assert limits.at(np.tile([24.01, 24.02, 24.03, 24.04], 10)).digit == pytest.approx(0.01)


def test_readings_that_move_in_coarser_steps_than_they_are_written() -> None:
    rng = np.random.default_rng(3)
    smooth = 20.5 + np.cumsum(rng.normal(0.0, 0.4, 80))
    halves = np.round(smooth / 0.5) * 0.5
    assert InstrumentLimits.of(None, halves).digit == pytest.approx(0.5)
    assert InstrumentLimits.of(None, np.round(smooth, 2)).digit == pytest.approx(0.01)
    tens = np.round((3600.0 + rng.normal(0.0, 12.0, 80)) / 10.0) * 10.0
    assert InstrumentLimits.of(None, tens).digit == pytest.approx(10.0)
    stated = ChannelCard(quantity=Quantity.ROTATIONAL_SPEED, resolution=1.0)
    assert InstrumentLimits.of(stated, tens).digit == pytest.approx(10.0)


def test_steps_are_believed_only_where_accident_is_ruled_out() -> None:
    ramp = np.arange(1800.0, 3600.0, 20.0)
    assert step_of(ramp, 1.0) == 1.0  # even steps are those of the ramp
    levels = np.repeat([2000.0, 2600.0, 3100.0, 3600.0, 3900.0, 3400.0, 2800.0, 3600.0], 10)
    assert step_of(levels, 1.0) == 1.0  # the throttle's steps, not the tach's
    few = np.array([3600.0, 3602.0, 3600.0, 3598.0, 3600.0, 3602.0, 3604.0, 3602.0])
    assert step_of(few, 1.0) == 1.0  # seven even moves are one chance in a hundred
    assert step_of(np.tile(few, 4), 1.0) == 2.0
    assert step_of(np.array([]), 0.0) == 0.0
