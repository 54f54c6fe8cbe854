"""Numeric answers: CHECKS W1 (SCPI-99 vol. 1, 7.2.1.4-7.2.1.5) and W2 (IEEE 488.2, 8.7.2-8.7.4; from memory)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import Quality
from drivers.scpi.numbers import parse_number


@pytest.mark.parametrize(
    ("answer", "value"),
    [
        # W2: NR1 an integer, NR2 with a point, NR3 with an exponent.
        (b"+12", 12.0),
        (b"-0.5", -0.5),
        (b"12.", 12.0),
        (b"1.2E+3", 1200.0),
        (b"0", 0.0),
        (b"+1.96200000E+01", 19.62),
        (b"-3.1E-05", -3.1e-05),
        (b"1.2e3", 1200.0),
    ],
)
def test_w2_numbers_of_the_three_forms(answer: bytes, value: float) -> None:
    assert parse_number(answer) == (value, Quality.GOOD)


@pytest.mark.parametrize("answer", [b"9.9E37", b"-9.9E37", b"+9.90000000E+37", b"-9.90000000E+37", b"1E38"])
def test_w1_infinity_is_overload_and_never_a_value(answer: bytes) -> None:
    assert parse_number(answer) == (None, Quality.OVERLOAD)


@pytest.mark.parametrize("answer", [b"9.91E37", b"+9.91000000E+37"])
def test_w1_not_a_number_is_never_a_value(answer: bytes) -> None:
    assert parse_number(answer) == (None, Quality.NOT_A_NUMBER)


@pytest.mark.parametrize(
    "answer",
    [
        *(b"", b" ", b"+", b"-", b".", b"E3", b"1E", b"1E+", b"+-1", b"1.2.3", b"1,2", b"1 2", b"19.6V"),
        *(b"nan", b"inf", b"NAN", b"1_000", b"0x10", b"\xd9\xa1", b'0,"No error"', b"1" * 41, b"1.0\n2.0"),
    ],
)
def test_anything_else_is_no_number(answer: bytes) -> None:
    assert parse_number(answer) is None


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e37, max_value=1e37))
def test_nr3_comes_back_bit_for_bit(value: float) -> None:
    assert parse_number(f"{value:+.17E}".encode()) == (value, Quality.GOOD)


@given(st.binary(max_size=60))
def test_no_bytes_whatever_raise(answer: bytes) -> None:
    number = parse_number(answer)
    assert number is None or (number[0] is None) == (number[1] is not Quality.GOOD)
