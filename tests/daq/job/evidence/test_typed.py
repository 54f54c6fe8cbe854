"""Readings as people type them."""

from __future__ import annotations

import pytest

from daq.cards.instrument import parse_instrument_card
from daq.errors import UsageError
from daq.job.evidence.trouble import TroubleKind
from daq.job.evidence.typed import parse_number, typed_observation
from tests.daq.job.builders import CART, slot_of


@pytest.mark.parametrize(
    ("text", "value", "digit", "unit"),
    [
        ("12.61", 12.61, 0.01, ""),
        ("12,61 V", 12.61, 0.01, "V"),
        (" -2.0A ", -2.0, 0.1, "A"),
        ("0.25 ohm", 0.25, 0.01, "ohm"),
        ("250 mohm", 0.25, 0.001, "ohm"),
        ("1.2kΩ", 1200.0, 100.0, "ohm"),
        ("2 MOhm", 2e6, 1e6, "ohm"),
        ("160 mV", 0.16, 0.001, "V"),
        ("3600 rpm", 3600.0, 1.0, "rpm"),
        ("20 °C", 20.0, 1.0, "degC"),
        ("80 F", 26.6667, 0.5556, "degC"),
    ],
)
def test_numbers(text: str, value: float, digit: float, unit: str) -> None:
    found = parse_number(text)
    assert found.value == pytest.approx(value, rel=1e-4)
    assert found.digit == pytest.approx(digit, rel=1e-3)
    assert found.unit == unit


@pytest.mark.parametrize("text", ["OL", "0.L", "open", " overload "])
def test_over_range(text: str) -> None:
    assert parse_number(text).value is None
    assert typed_observation(text, slot_of("ground_resistance"), CART).overload


@pytest.mark.parametrize("text", ["", "lots", "12.6.1", "1e5", "12 bananas", "V", "nan", "--3"])
def test_what_is_no_reading_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="is no reading"):
        parse_number(text)


@pytest.mark.parametrize(
    ("slot", "text", "said"),
    [
        ("rest_voltage", "0.25 ohm", "Typed in ohm, but dc voltage is asked for"),
        ("rest_voltage", "12.6 V AC", "Typed in AC V"),
        ("load_current", "12.6 V", "but dc current"),
        ("ripple_voltage", "0.2 V DC", "but ac voltage"),
    ],
)
def test_the_wrong_function_is_named_kept_and_not_judged(slot: str, text: str, said: str) -> None:
    found = typed_observation(text, slot_of(slot), CART)
    assert found.value is not None
    assert not found.usable
    assert found.troubles[0].kind is TroubleKind.WRONG_FUNCTION
    assert said in found.troubles[0].text


def test_without_a_card_usual_limits_are_taken_and_named() -> None:
    found = typed_observation("12.61", slot_of("rest_voltage"), CART)
    assert "common practice, no source" in found.accuracy_source
    assert found.u == pytest.approx(((0.008 * 12.61) ** 2 / 3 + 0.03**2 / 3 + 0.01**2 / 12) ** 0.5)


def test_the_instruments_card_gives_its_limits() -> None:
    text = """
name = "my-meter"
title = "x"
protocol = "keyboard"
[[channel]]
quantity = "dc_voltage"
accuracy = { percent_of_reading = 0.1, counts = 1 }
"""
    found = typed_observation("12.61", slot_of("rest_voltage"), CART, parse_instrument_card(text, origin="x"))
    assert [found.share, found.counts] == pytest.approx([0.001, 0.01])
    assert found.accuracy_source == "card my-meter"


def test_pairs_of_volts_and_speed_are_brought_to_rated_speed() -> None:
    found = typed_observation("19.6 3500; 20.4 3650", slot_of("output"), CART)
    assert found.rated is not None
    expected = (19.6 * 3600 / 3500 + 20.4 * 3600 / 3650) / 2
    assert found.rated.rated_voltage_v == pytest.approx(expected)
    assert found.readings == 2
    # ±(1.5 % + 5 counts) of a hand meter rule it
    assert found.rated.u_rated_voltage_v == pytest.approx((0.015 * 20 + 0.5) / 3**0.5, rel=0.05)


@pytest.mark.parametrize("text", ["19.6", "19.6 0", "19.6 3500 7", "OL 3600", "19.6 -3600"])
def test_a_pair_needs_volts_and_a_speed(text: str) -> None:
    with pytest.raises(UsageError):
        typed_observation(text, slot_of("output"), CART)


def test_the_doubt_of_a_pair_by_hand() -> None:
    """±(1.5 % + 5 counts) of the volts and ±(0.1 % + 1 count) of the speed, rectangular, and both last digits."""
    found = typed_observation("20.00 3600", slot_of("output"), CART)
    assert found.rated is not None
    u_volts = ((0.015 * 20 + 0.05) ** 2 / 3 + 0.01**2 / 12) ** 0.5
    u_speed = ((0.001 * 3600 + 1) ** 2 / 3 + 1 / 12) ** 0.5 * 20.0 / 3600
    assert found.rated.u_rated_voltage_v == pytest.approx((u_volts**2 + u_speed**2) ** 0.5, rel=1e-9)


@pytest.mark.parametrize(
    "text", ["27.6 V 3600 rpm", "27.6V 3600rpm", "27.6 V AC 3600", "27.6 3600 rpm; 20.1V 3500"]
)
def test_units_of_a_pair_may_stand_apart(text: str) -> None:
    found = typed_observation(text, slot_of("output"), CART)
    assert found.usable
    assert found.rated is not None
    assert found.rated.rated_voltage_v is not None


@pytest.mark.parametrize(
    "text", ["27.6A 3600V", "27.6DC 3600", "27.6ohm 3600C", "27.6V 3600Hz", "27.6 3600; 27.6A 3600"]
)
def test_a_pair_of_anything_but_ac_volts_and_rpm_is_kept_and_not_judged(text: str) -> None:
    found = typed_observation(text, slot_of("output"), CART)
    assert not found.usable
    assert "Kept, not judged" in found.troubles[0].text


@pytest.mark.parametrize("text", ["13.8 1800", "2.80 360", "32.0 4100"])
def test_pairs_from_far_away_state_no_output(text: str) -> None:
    found = typed_observation(text, slot_of("output"), CART).rated
    assert found is not None
    assert found.rated_voltage_v is None
    assert "near 3600 rpm" in found.reasons[0]


def test_pairs_off_rated_speed_carry_what_one_speed_can_not_show() -> None:
    off = typed_observation("18.0 3240", slot_of("output"), CART).rated
    assert off is not None
    # Half widths at 10 % off: an offset of 0.24 x 0.1 / 0.9 and a bend of 0.1 x (1/0.9 - 1)^2, both rectangular.
    stretch = 3600 / 3240 - 1
    unseen = ((0.24 * stretch / (1 + stretch)) ** 2 + (0.1 * stretch**2) ** 2) / 3
    unseen += (0.005 * stretch) ** 2
    instruments = typed_observation("20.0 3600", slot_of("output"), CART).rated
    assert instruments is not None
    by_instruments = (off.u_rated_voltage_v**2 - 20.0**2 * unseen) ** 0.5
    # The meter's counts and the digits weigh more by 3600/3240, its percents do not.
    assert instruments.u_rated_voltage_v < by_instruments < instruments.u_rated_voltage_v * 3600 / 3240


def test_a_wrong_unit_or_a_wrong_kind_is_enough() -> None:
    for text in ("20 A", "20 V DC"):
        assert not typed_observation(text, slot_of("ripple_voltage"), CART).usable
    assert typed_observation("0.20 V AC", slot_of("ripple_voltage"), CART).usable
    assert typed_observation("3", slot_of("wiggle_count"), CART).usable


@pytest.mark.parametrize("text", ["{}1{}q", "{}1 V{}q", "1 m{}V{}", "1 V {}AC{}q"])
def test_a_long_run_of_blanks_is_looked_through_once(text: str) -> None:
    """A job file of a stranger's may hold one; shared out among three parts, it would take hours."""
    blanks = " " * 200_000
    with pytest.raises(UsageError):
        parse_number(text.format(blanks, blanks))
    assert parse_number(f"{blanks}1{blanks}mV{blanks}AC{blanks}").value == 0.001
