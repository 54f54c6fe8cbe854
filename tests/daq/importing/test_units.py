"""Units in a header: read where they stand without doubt, and nowhere else."""

from __future__ import annotations

import pytest

from daq.importing.units import unit_factor
from daq.model.quantity import Quantity

SPEED, VOLTS = Quantity.ROTATIONAL_SPEED, Quantity.AC_VOLTAGE


@pytest.mark.parametrize(
    "header", ["1/s", "speed [1/s]", "speed_rps", "rps", "tach (rev/s)", "speed, rps", "s-1"]
)
def test_revolutions_a_second_become_rpm(header: str) -> None:
    found = unit_factor(header, SPEED)
    assert found is not None
    assert found[1] == 60


@pytest.mark.parametrize("header", ["krpm", "speed [krpm]", "speed_krpm", "Speed (kRPM)", "engine krpm"])
def test_thousands_become_rpm(header: str) -> None:
    found = unit_factor(header, SPEED)
    assert found is not None
    assert found[1] == 1000


@pytest.mark.parametrize(
    "header", ["rpm", "speed [rpm]", "speed", "1/min", "Hz", "speed [Hz]", "krpm limit", "mV"]
)
def test_what_is_rpm_or_ambiguous_is_taken_as_it_stands(header: str) -> None:
    assert unit_factor(header, SPEED) is None


def test_the_last_word_counts_for_volts_too() -> None:
    found = unit_factor("stator mV", VOLTS)
    assert found is not None
    assert float(found[1]) == 0.001
    assert unit_factor("MV", VOLTS) is None
