"""Readings that can't be true are named, kept and not judged."""

from __future__ import annotations

import pytest

from daq.job.evidence.plausible import plausibility
from daq.job.evidence.trouble import TroubleKind
from tests.daq.job.builders import CART, observed, slot_of


@pytest.mark.parametrize(
    ("slot", "value", "said"),
    [
        ("rest_voltage", 40.0, "at a 12 V battery can't be true"),
        ("rest_voltage", -12.6, "the leads are reversed"),
        ("voltage_work", 0.0, "even a flat battery shows more"),
        ("drop_voltage", -0.9, "the leads are reversed"),
        ("winding_resistance", -0.3, "the circuit is not dead"),
        ("lead_resistance", 47.0, "the leads do not touch"),
        ("ripple_voltage", -0.2, "AC volts have no sign"),
        ("current_work", 900.0, "can't be true"),
        ("governed_speed", 14_400.0, "marks are counted double"),
        ("winding_temperature", 900.0, "can't be true"),
        ("battery_temperature", 199.0, "an F"),
        ("battery_temperature", 81.0, "an F"),
        ("battery_temperature", -41.0, "can't be true"),
        ("governed_speed", 0.0, "the engine stands or the tach sees no mark"),
        ("wiggle_count", -1.0, "a count starts at 0"),
    ],
)
def test_what_can_not_be(slot: str, value: float, said: str) -> None:
    (trouble,) = plausibility(observed(slot, value), slot_of(slot), CART)
    assert trouble.kind is TroubleKind.CANNOT_BE_TRUE
    assert said in trouble.text
    assert trouble.text.endswith("Kept, not judged.")


@pytest.mark.parametrize(
    ("slot", "value", "digit", "said"),
    [
        ("rest_voltage", 0.000499034, 0.001, "0.000 V for battery volts at rest"),
        ("rest_voltage", -0.00032, 0.001, "0.000 V for battery volts at rest"),
        ("rest_voltage", 0.000499034, 0.0, "0.000499 V for battery volts at rest"),
        ("rest_voltage", -12.604817, 0.01, "-12.60 V for battery volts at rest"),
        ("rest_voltage", 40.0, 0.1, "40.0 V for battery volts at rest"),
        ("governed_speed", 14_400.02, 1.0, "14400 rpm for "),
        ("governed_speed", 14_400.02, 0.0, "14400 rpm for "),
        ("lead_resistance", 47_000.0, 1000.0, "47000 Ω for "),
        ("battery_temperature", 198.888889, 0.1 / 1.8, "198.89 °C for "),
    ],
)
def test_it_is_told_to_the_last_digit_of_the_display(
    slot: str, value: float, digit: float, said: str
) -> None:
    (trouble,) = plausibility(observed(slot, value, digit=digit), slot_of(slot), CART)
    assert trouble.text.startswith(said)


@pytest.mark.parametrize(
    ("slot", "value"),
    [
        ("rest_voltage", 12.6),
        ("voltage_work", 17.0),
        ("winding_resistance", -0.01),
        ("winding_resistance", None),
        ("ground_resistance", None),
        ("fuse_resistance", None),
        ("current_work", -8.0),
        ("output", 28.0),
        ("terminal_voltage", 0.0),
        ("drop_voltage", -12.4),
        ("plugged_in_dc_voltage", -2.5),
        ("battery_temperature", 79.0),
        ("battery_temperature", -39.0),
        ("winding_temperature", 120.0),
        ("governed_speed", 2900.0),
    ],
)
def test_what_can_be(slot: str, value: float | None) -> None:
    assert plausibility(observed(slot, value), slot_of(slot), CART) == ()


def test_over_range_makes_sense_on_ohms_only() -> None:
    for slot in ("rest_voltage", "current_work", "lead_resistance"):
        (trouble,) = plausibility(observed(slot, None), slot_of(slot), CART)
        assert "Over range" in trouble.text
