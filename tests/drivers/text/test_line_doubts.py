"""Lines that leave open which number is meant, or that tell of another function than is due."""

from __future__ import annotations

import pytest

from daq.driver_api import Quality, Quantity
from drivers.text.line import Judged, judge_line
from drivers.text.settings import TextSettings

BAD, GOOD, WRONG = Judged(None, Quality.BAD_FRAME), Quality.GOOD, Quality.WRONG_FUNCTION
VOLTS, SPEED = Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED


def judged(line: str, quantity: Quantity = VOLTS, settings: TextSettings | None = None) -> Judged:
    return judge_line(line.encode(), quantity, settings or TextSettings())


@pytest.mark.parametrize(
    "line",
    [
        *("3,580.5 rpm", "3,580 rpm", "3 580 rpm", "3'580 rpm", "3’580 rpm", "3_580 rpm", "3.580,5 rpm"),
        *(
            "1,234,567.8 rpm",
            "rpm 3,580.5",
            "rpm 3 580 rpm",
            "3580 rpm 3600 rpm",
            "2 3580 rpm",
            "+3 580.5 rpm",
        ),
        *("3580 3600", "n=3580 m=3600", "3580 rpm AC 60 rps"),
    ],
)
def test_a_speed_whose_number_is_ambiguous_is_no_reading(line: str) -> None:
    assert judged(line, SPEED) == BAD


@pytest.mark.parametrize(
    "line",
    [
        *("1,234.5 V", "1.234,5 V", "1 234.5 V", "1'234.5 V", "2 19.6 V AC", "2,19.6 V AC", "2; 19.6 V AC"),
        *("Auto AC 600.0 V range 19.6 V", "CH 1: 19.6 V", "3 AC 19.6 V", "V 19.6 V 12.1", "19.6 V 500 mV"),
        *("12,5 V", "AC 19.6 range 600 V", "19.6 V AC 12.1 V DC"),
    ],
)
def test_volts_whose_number_is_ambiguous_are_no_reading(line: str) -> None:
    assert judged(line) == BAD


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("19.62 V 60.0 Hz", 19.62),
        ("19.62 V 3", 19.62),
        ("19.62 V FREQ 60.0 Hz", 19.62),
        ("CH1 19.62 V", 19.62),
        ("19.62,3580", 19.62),
        ("V 19.62 60.0 Hz", 19.62),
        ("U=19.62 V 12:34:56", 19.62),
        ("19.62 V 2026-01-02", 19.62),
        ("U=19.62 f=60.0 Hz", 19.62),
    ],
)
def test_a_line_that_says_which_number_is_meant_is_read(line: str, value: float) -> None:
    assert judged(line) == Judged(value, GOOD)


@pytest.mark.parametrize("line", ["3600 1/min", "3600 min-1", "3600 min^-1", "1/min 3600", "min-1 3600"])
def test_the_digit_of_a_unit_is_no_number(line: str) -> None:
    assert judged(line, SPEED) == Judged(3600.0, GOOD)


@pytest.mark.parametrize("line", ["1.234,5 V", "1 234,5 V", "1'234,5 V", "1,234.5 V"])
def test_grouped_digits_are_refused_with_a_decimal_comma_too(line: str) -> None:
    assert judged(line, VOLTS, TextSettings(decimal_comma=True)) == BAD


@pytest.mark.parametrize(
    "line",
    [
        *("Ω 19.6", "\u2126 19.6", "RES 19.6", "res 19.6", "FREQ 60.0", "Freq: 60.0", "TEMP 23.4", "CAP 3.2"),
        *("CONT 0.1", "DIODE 0.5 V", "Diode 0.5 V", "0.5 V diode", "19.6 RES", "DUTY 45.0", "2 AMPS"),
        *("REL 19.6 V AC", "rel 19.6 V", "19.6 V AC REL", "Δ 19.6 V", "\u2206 19.6 V"),
    ],
)
def test_another_function_is_caught(line: str) -> None:
    assert judged(line) == Judged(None, WRONG)


@pytest.mark.parametrize(
    "line",
    [
        "19.6 V=",
        "19.6 V =",
        "19.6 V==",
        "19.6 V⎓",
        "19.6 V ⎓",
        "19.6 V d.c.",
        "19.6 V D.C.",
        "d.c. 19.6 V",
        "19.6Vd.c.",
    ],
)
def test_every_way_to_say_direct_is_direct(line: str) -> None:
    assert judged(line) == Judged(19.6, WRONG)
    assert judged(line, Quantity.DC_VOLTAGE) == Judged(19.6, GOOD)


@pytest.mark.parametrize("line", ["19.6 V a.c.", "19.6 V∼", "19.6 V ～", "19.6Va.c."])
def test_every_way_to_say_alternating_is_alternating(line: str) -> None:
    assert judged(line) == Judged(19.6, GOOD)
    assert judged(line, Quantity.DC_VOLTAGE) == Judged(19.6, WRONG)


@pytest.mark.parametrize(
    "line",
    [
        "Hold 19.6 V",
        "hold 19.6 V",
        "19.6 V AutoHold",
        "19.6 V auto-hold",
        "HLD 19.6 V",
        "19.6 V Max",
        "19.6 V Min",
    ],
)
def test_a_held_reading_is_known_by_its_word(line: str) -> None:
    assert judged(line) == Judged(19.6, Quality.HOLD)


@pytest.mark.parametrize(
    "line",
    [
        "V=19.6",
        "V= 19.6",
        "19.6 V threshold",
        "relay 19.6 V",
        "19.6 V capture",
        "contact 19.6 V",
        "present 19.6 V",
    ],
)
def test_such_words_inside_others_mean_nothing(line: str) -> None:
    assert judged(line) == Judged(19.6, GOOD)


def test_the_minute_is_no_held_minimum() -> None:
    assert judged("3600 rev/min", SPEED) == Judged(3600.0, GOOD)
    assert judged("3600 rev / min", SPEED) == Judged(3600.0, GOOD)


def test_the_function_that_is_due_may_be_named() -> None:
    assert judged("FREQ 60.0", Quantity.FREQUENCY) == Judged(60.0, GOOD)
    assert judged("RES 0.5 Ω", Quantity.RESISTANCE) == Judged(0.5, GOOD)
    assert judged("Temp 23.4 °C", Quantity.TEMPERATURE) == Judged(23.4, GOOD)
