"""The quick way for usual lines takes what is usual, and nothing that the line by line way would refuse."""

from __future__ import annotations

import json
import random
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.recording.lines import LineError, decode_row
from daq.recording.plain_lines import plain_columns


def assert_same(text: bytes, *, taken: bool | None = None) -> None:
    """What is taken is what the line by line way takes, to the bit; whether it must be taken may be said."""
    found = plain_columns(text, 1)
    assert taken is None or (found is not None) == taken, text
    if found is None:
        return
    try:
        rows = [decode_row(line, 1) for line in text[:-1].split(b"\n")]
    except LineError:
        raise AssertionError(f"taken, and no row: {text!r}") from None
    assert found.channel.tolist() == [row[0] for row in rows]
    assert found.t_ns.tolist() == [row[1] for row in rows]
    assert found.quality.tolist() == [row[3] for row in rows]
    expected = [b"" if row[2] is None else struct.pack("<d", row[2]) for row in rows]
    assert [struct.pack("<d", value) for value in found.value.tolist()] == expected


@pytest.mark.parametrize("digits", [1, 2, 7, 8, 9, 15, 16])
def test_a_time_of_any_usual_length_is_read(digits: int) -> None:
    t = "1234567890987654"[:digits]
    assert_same(f"[0,{t},21.93,0]\n[9,{t},-0.5,8]\n".encode(), taken=True)


def test_every_decimal_of_up_to_eight_digits_before_and_seven_behind_is_read_to_the_bit() -> None:
    rng = random.Random(5)
    lines = []
    for before in range(1, 9):
        for behind in range(8):
            for _ in range(40):
                whole = str(rng.randrange(10 ** (before - 1) if before > 1 else 0, 10**before))
                share = "".join(rng.choice("0123456789") for _ in range(behind))
                value = rng.choice(("", "-")) + whole + ("." + share if behind else "")
                lines.append(
                    f"[{rng.randrange(10)},{rng.randrange(10**11, 10**12)},{value},{rng.randrange(9)}]\n"
                )
    assert_same("".join(lines).encode(), taken=True)


@pytest.mark.parametrize(
    "value",
    [
        *(
            "",
            "-",
            ".",
            "-.",
            ".5",
            "-.5",
            "5.",
            "-5.",
            "00",
            "-00",
            "01",
            "-01.5",
            "00.5",
            "+5",
            "--5",
            "5-",
        ),
        *(
            "1.2.3",
            "1..2",
            "1.2.",
            "..",
            "1e5",
            "1E5",
            "12e-3",
            "null",
            "nan",
            "1_0",
            "0x1",
            " 1",
            "1 ",
            "1:2",
        ),
        *("1/2", "1;5", "?1", "1?", "\x001", "1\xfa", "\xff", "9\x80", "1,1", "[1", "1]", "12]345", "1234:"),
        *("123456789", "1.12345678", "123456789.5", "-123456789", "0.1000000000000000055511151231257827"),
    ],
)
def test_an_unusual_value_is_left_to_the_others(value: str) -> None:
    line = f"[0,123456789,{value},0]\n".encode("latin-1")
    usual = b"[0,123456789,21.5,0]\n"
    for text in (line, usual + line, line + usual, usual + line + usual):
        assert_same(text, taken=False)


@pytest.mark.parametrize(
    "text",
    [
        b"[0,12,1,0]",
        b"\n",
        b"[0,12,1,0]\n\n",
        b"[0,12,1,0]\r\n",
        b"[0,12,1,0]\n[0,123,1,0]\n",
        b"[0,012,1,0]\n",
        b"[0,-12,1,0]\n",
        b"[0,1:2,1,0]\n",
        b"[0,,1,0]\n",
        b"[0,12345678909876543,1,0]\n",
        b"[0,12,1,9999]\n",
        b"[10,12,1,0]\n",
        b"[:,12,1,0]\n",
        b"[/,12,1,0]\n",
        b"[0,12,1,:]\n",
        b"[0,12,1,/]\n",
        b"[0,12,1 0]\n",
        b"[0 12,1,0]\n",
        b"[0,12;1,0]\n",
        b"(0,12,1,0]\n",
        b"[0,12,1,0)\n",
        b"[0,12,1]\n",
        b"[0,12,1,0,0]\n",
        b'{"entry":"clock"}\n',
    ],
)
def test_an_unusual_line_is_left_to_the_others(text: bytes) -> None:
    assert_same(text, taken=False)


def test_a_quality_that_there_is_not_and_a_time_beyond_all_are_left_to_the_others() -> None:
    assert plain_columns(b"[0,4000000000000000,1,0]\n", 1000) is not None
    assert plain_columns(b"[0,4000000000000001,1,0]\n", 1000) is None


def test_times_are_given_in_nanoseconds() -> None:
    found = plain_columns(b"[3,1234,21.5,0]\n[3,1235,21.25,0]\n", 1000)
    assert found is not None
    assert found.t_ns.tolist() == [1_234_000, 1_235_000]
    assert found.value.dtype == np.float64
    assert found.channel.dtype == np.int16


@settings(max_examples=300)
@given(st.data())
def test_no_byte_goes_by_unseen(data: st.DataObject) -> None:
    """One byte of usual lines is changed: what is still taken is what stands there."""
    text = bytearray(b"[0,123456789,21.93,0]\n[1,123456790,-3299.5,0]\n[2,123456799,0.0001,3]\n")
    place = data.draw(st.integers(0, len(text) - 1))
    text[place] = data.draw(st.integers(0, 255))
    assert_same(bytes(text))


@settings(max_examples=100)
@given(st.lists(st.decimals(-99_999_999, 99_999_999, places=4), min_size=1, max_size=30))
def test_decimals_are_the_nearest_float64(values: list[object]) -> None:
    lines = "".join(f"[0,123456,{value},0]\n" for value in values)
    found = plain_columns(lines.encode(), 1)
    assert found is not None
    assert found.value.tolist() == [json.loads(str(value)) for value in values]
