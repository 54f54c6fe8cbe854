"""One line of text into a value and its quality."""

from __future__ import annotations

import pytest

from daq.driver_api import Quality, Quantity
from drivers.text.line import Judged, judge_line
from drivers.text.settings import TextSettings

GOOD, OVER, WRONG, BAD = Quality.GOOD, Quality.OVERLOAD, Quality.WRONG_FUNCTION, Quality.BAD_FRAME
VOLTS, SPEED = Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED

VOLT_LINES: list[tuple[str, float | None, Quality]] = [
    ("AC 19.62 V", 19.62, GOOD),
    ("19.62", 19.62, GOOD),
    ("+19.62 V AC", 19.62, GOOD),
    ("19.62VAC", 19.62, GOOD),
    ("AC19.62V", 19.62, GOOD),
    ("19.62 V~", 19.62, GOOD),
    ("U=19.62", 19.62, GOOD),
    ("V 19.6", 19.6, GOOD),
    ("CH1 19.62 V", 19.62, GOOD),
    ("1962E-2", 19.62, GOOD),
    ("-0.02 V", -0.02, GOOD),
    ("- 0.02 V", -0.02, GOOD),
    (".5 V", 0.5, GOOD),
    ("19.62 V TRMS", 19.62, GOOD),
    ("19.62 true rms V", 19.62, GOOD),
    ("19.62,V,AC", 19.62, GOOD),
    ("19.62,3580", 19.62, GOOD),
    ("500 mV", 0.5, GOOD),
    ("500 MV AC", 0.5, GOOD),
    ("500 MV", 0.5, GOOD),
    ("500 ACMV", 0.5, GOOD),
    ("500 mvac", 0.5, GOOD),
    ("500000 UV", 0.5, GOOD),
    ("500000 µV", 0.5, GOOD),
    ("0.5 kV", 500.0, GOOD),
    ("OL", None, OVER),
    ("-OL-", None, OVER),
    ("O.L V", None, OVER),
    ("0L", None, OVER),
    (".OL", None, OVER),
    ("OVERLOAD", None, OVER),
    ("AC OL V", None, OVER),
    ("9.9E37", None, OVER),
    ("-9.9E37", None, OVER),
    ("9.91E37", None, Quality.NOT_A_NUMBER),
    ("9.8E37", 9.8e37, GOOD),
    ("nan", None, Quality.NOT_A_NUMBER),
    ("----", None, Quality.BLANK),
    ("- - - -", None, Quality.BLANK),
    ("-", None, BAD),
    ("-- no reading from this instrument --", None, BAD),
    ("--.-- V", None, Quality.BLANK),
    ("12.6 V DC", 12.6, WRONG),
    ("DC 12.6 V", 12.6, WRONG),
    ("12.6VDC", 12.6, WRONG),
    ("120 mVDC", 0.12, WRONG),
    ("1.2 kohm", None, WRONG),
    ("1.2 kΩ", None, WRONG),
    ("1.2 A", None, WRONG),
    ("60 Hz", None, WRONG),
    ("3600 rpm", None, WRONG),
    ("25 °C", None, WRONG),
    ("HOLD 19.6 V", 19.6, Quality.HOLD),
    ("19.6 V MAX", 19.6, Quality.HOLD),
    ("19.6 V LO BAT", 19.6, Quality.LOW_BATTERY),
    ("19.6 V LOWBATT", 19.6, Quality.LOW_BATTERY),
    ("hello", None, BAD),
    ("19,62 V", None, BAD),
    ("1,234", None, BAD),
    ("1.2.3", None, BAD),
    ("1..2", None, BAD),
    ("fw v2.1", None, BAD),
    ("12:34:56 19.62", None, BAD),
    ("2026-01-02 19.62", None, BAD),
    ("01/02/26 19.62", None, BAD),
    ("1e999", None, BAD),
    ("V", None, BAD),
    ("+", None, BAD),
]
SPEED_LINES: list[tuple[str, float | None, Quality]] = [
    ("3600 rpm", 3600.0, GOOD),
    ("3600rpm", 3600.0, GOOD),
    ("n=3580.5", 3580.5, GOOD),
    ("RPM:3580", 3580.0, GOOD),
    ("3600 r/min", 3600.0, GOOD),
    ("3600 1/min", 3600.0, GOOD),
    ("3600 min-1", 3600.0, GOOD),
    ("60 rps", 3600.0, GOOD),
    ("60 Hz", None, WRONG),
    ("12 m/min", None, WRONG),
    ("19.62 V", None, WRONG),
    ("3,600 rpm", None, BAD),
    ("OVER", None, OVER),
    ("3600 rpm MAX", 3600.0, Quality.HOLD),
]


@pytest.mark.parametrize(("line", "value", "quality"), VOLT_LINES)
def test_lines_of_a_volt_meter(line: str, value: float | None, quality: Quality) -> None:
    judged = judge_line(line.encode(), VOLTS, TextSettings())
    assert judged.quality is quality
    assert judged.value == (None if value is None else pytest.approx(value, rel=1e-12))


@pytest.mark.parametrize(("line", "value", "quality"), SPEED_LINES)
def test_lines_of_a_tachometer(line: str, value: float | None, quality: Quality) -> None:
    assert judge_line(line.encode(), SPEED, TextSettings()) == Judged(value, quality)


def test_dc_is_right_where_dc_is_due_and_ac_then_wrong() -> None:
    assert judge_line(b"12.60 V DC", Quantity.DC_VOLTAGE, TextSettings()) == Judged(12.60, GOOD)
    assert judge_line(b"12.60 V AC", Quantity.DC_VOLTAGE, TextSettings()) == Judged(12.60, WRONG)


@pytest.mark.parametrize(
    ("line", "value", "quality"),
    [
        ("1.2 ADC", 1.2, GOOD),
        ("120 mADC", 0.12, GOOD),
        ("120 DCMA", 0.12, GOOD),
        ("120 MA", 0.12, GOOD),
        ("500 uADC", 5e-4, GOOD),
        ("500 UA", 5e-4, GOOD),
        ("2 Amps", 2.0, GOOD),
        ("1.2 AAC", 1.2, WRONG),
        ("1.2 A~", 1.2, WRONG),
        ("1.2 V", None, WRONG),
    ],
)
def test_lines_of_an_ammeter(line: str, value: float | None, quality: Quality) -> None:
    judged = judge_line(line.encode(), Quantity.DC_CURRENT, TextSettings())
    assert judged.quality is quality
    assert judged.value == (None if value is None else pytest.approx(value, rel=1e-12))


@pytest.mark.parametrize(("line", "celsius"), [("25.0 °C", 25.0), ("77.0 °F", 25.0), ("77 F", 25.0)])
def test_temperatures_come_in_celsius(line: str, celsius: float) -> None:
    judged = judge_line(line.encode(), Quantity.TEMPERATURE, TextSettings())
    assert judged.quality is GOOD
    assert judged.value == pytest.approx(celsius)


def test_a_degree_sign_of_one_byte_is_understood() -> None:
    assert judge_line(b"25.0 \xb0C", Quantity.TEMPERATURE, TextSettings()) == Judged(25.0, GOOD)


@pytest.mark.parametrize("junk", [b"\x00\x01\x02", b"19.62\x00", b"\xff\xfe19.62 V", b"\x1b[2J19.62"])
def test_bytes_that_are_no_text_make_a_bad_frame_even_with_a_number_in_it(junk: bytes) -> None:
    assert judge_line(junk, VOLTS, TextSettings()) == Judged(None, BAD)


def test_a_decimal_comma_is_read_where_the_card_says_so() -> None:
    assert judge_line(b"19,62 V", VOLTS, TextSettings(decimal_comma=True)) == Judged(19.62, GOOD)


def test_a_card_may_insist_on_the_unit() -> None:
    settings = TextSettings(require_unit=True)
    assert judge_line(b"19.62 V", VOLTS, settings) == Judged(19.62, GOOD)
    assert judge_line(b"19.62", VOLTS, settings) == Judged(None, BAD)


def test_a_card_may_add_overload_words() -> None:
    assert judge_line(b"UEBERLAUF 9", VOLTS, TextSettings(overload_words=("UEBERLAUF",))) == Judged(
        None, OVER
    )


def test_the_longest_lines_are_judged_quickly_whatever_they_hold() -> None:
    # One number of 4096 characters, and the patterns that make backtracking engines slow.
    for line in (
        b"1" * 4096,
        b"- " * 2048,
        b"1," * 2048,
        b"A" * 4096,
        b" " * 4095 + b"x",
        b"_" * 4095 + b"x",
    ):
        assert judge_line(line, VOLTS, TextSettings(max_line=4096)).quality is not GOOD
