"""Units in a header: read where they stand without doubt, and nowhere else."""

from __future__ import annotations

import pytest

from daq.importing.numbers import NumberReader
from daq.importing.times import TimeReader
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


@pytest.mark.parametrize(
    "header", ["U [mV]", "U (eff)[mV]", "U (true rms) ( mV ) ", "U ((mV)", "mV", "U,mV", "U_mV\n"]
)
def test_the_last_brackets_count(header: str) -> None:
    found = unit_factor(header, VOLTS)
    assert found is not None
    assert found[0] == "mV"


@pytest.mark.parametrize("header", ["U [mV] (eff)", "U [m V]", "[]mV]", "U [mV", "U mV]", "()", "mV x"])
def test_no_other_brackets_do(header: str) -> None:
    assert unit_factor(header, VOLTS) is None


@pytest.mark.parametrize("end", ["", "q", " " * 300_000 + "q", " mV"])
@pytest.mark.parametrize("piece", ["(", "( ", "(x", "[x ", "_x", " x", " ", "x", "(x)", "]"])
def test_a_header_of_any_length_is_looked_through_once(piece: str, end: str) -> None:
    """As a column's and as the time's; from each bracket anew, it would outlast the suite's patience with one test."""
    header = piece * (300_000 // len(piece)) + end
    found = unit_factor(header, VOLTS)
    assert (found is not None) == (end == " mV")
    reader = TimeReader(header, NumberReader(";"))
    assert reader.read("2") == 2_000_000_000
