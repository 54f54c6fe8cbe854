"""Whole runs whose readings have another last digit near rated speed than elsewhere, or coarser steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.cards.instrument import Accuracy, ChannelCard
from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from tests.daq.run.builders import held, run, with_value
from tests.runs import machine_of


def test_counts_of_a_meter_that_chooses_its_range_are_those_near_rated_speed() -> None:
    """±(0.1 % + 30 counts), three decimals under 20 V and two above: ±0.3 V there, and not ±0.05 V."""
    data = replace(run(), machine=machine_of(3300.0, 20.0))
    rng = np.random.default_rng(5)
    volts = 20.16 / 22.0 * data.channels[0].value + rng.normal(0.0, 0.002, len(data.channels[0].value))
    shown = np.where(volts < 20.0, np.round(volts, 3), np.round(volts, 2))
    card = ChannelCard(quantity=Quantity.AC_VOLTAGE, accuracy=Accuracy(percent_of_reading=0.1, counts=30.0))
    meter = replace(data.channels[0], card=card, value=shown)
    result = analyse(replace(data, channels=(meter, data.channels[1]))).result
    assert result.verdict == "too_close"
    assert result.expanded_uncertainty_V == pytest.approx(0.3, abs=0.03)


def test_a_meter_that_moves_in_half_volts_has_half_volts_for_its_digit() -> None:
    data = held(3560.0, 20.0)
    rng = np.random.default_rng(6)
    halves = np.round((20.2 + rng.normal(0.0, 0.4, len(data.channels[0].value))) * 2.0) / 2.0
    result = analyse(with_value(data, 0, halves)).result
    assert any("only its last digit, 0.5 V, is in the uncertainty" in reason for reason in result.reasons)
    assert result.expanded_uncertainty_V is not None
    assert result.expanded_uncertainty_V > 0.23
