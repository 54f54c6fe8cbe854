"""The bulk way and the line by line way must agree on everything, also on what they refuse."""

from __future__ import annotations

import itertools
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.recording.bulk import bulk_columns
from daq.recording.lines import LineError, decode_row
from daq.recording.parse import Parsed, parse_block

WHOLE = [
    "0",
    "7",
    "9",
    "10",
    "00",
    "-0",
    "-1",
    "+1",
    "1.0",
    "1.",
    "1e2",
    "12e2",
    "1e0",
    "true",
    "null",
    "",
    " 1",
]
VALUES = [
    *("-0", "-0e0", "-0e5", "-0.00e2"),
    *("0", "-0.0", "0.0", "00.5", "007", ".5", "-.5", "5.", "5.e3", "+5", "-5", "--5", "5-5", "1e5", "1E5"),
    *("1e-5", "1e+5", "1e", "e5", "1e400", "-1e400", "1e-400", "1.5e300", "inf", "nan", "NaN", "Infinity"),
    *(
        "null",
        "nul",
        "nulll",
        "NULL",
        "",
        " 1",
        "1 ",
        "1_0",
        "0x10",
        "1.2.3",
        '"1"',
        "[1",
        "1]",
        "1[2",
        "1]2",
        "{",
        "\t1",
    ),
    *("0.1000000000000000055511151231257827", "123456789012345678901234567890", "-", "-null", "1,1", "\x00"),
]


def rows_of(text: bytes) -> list[tuple[int, int, float | None, int]] | None:
    """What the line by line way makes of lines; None where it refuses one."""
    try:
        return [decode_row(line, 1) for line in text[:-1].split(b"\n")]
    except LineError:
        return None


def assert_same(text: bytes) -> None:
    """Where the bulk way takes a text, the line by line way takes it too and gives the same bits."""
    bulk = bulk_columns(text, 1)
    if bulk is None:
        return
    rows = rows_of(text)
    assert rows is not None, text
    assert bulk.channel.tolist() == [row[0] for row in rows]
    assert bulk.t_ns.tolist() == [row[1] for row in rows]
    expected = [b"" if row[2] is None else struct.pack("<d", row[2]) for row in rows]
    found = [b"" if np.isnan(value) else struct.pack("<d", value) for value in bulk.value.tolist()]
    assert found == expected, text
    assert bulk.quality.tolist() == [row[3] for row in rows]


@pytest.mark.parametrize("value", VALUES)
def test_no_spelling_of_a_value_is_taken_that_json_refuses(value: str) -> None:
    assert_same(f"[0,5,{value},0]\n".encode())
    assert_same(f"[0,5,1.5,0]\n[1,6,{value},0]\n[0,7,2.5,0]\n".encode())


@pytest.mark.parametrize("field", [0, 1, 3])
@pytest.mark.parametrize("whole", WHOLE)
def test_no_spelling_of_a_whole_number_is_taken_that_json_refuses(whole: str, field: int) -> None:
    fields = ["0", "5", "1.5", "0"]
    fields[field] = whole
    assert_same(f"[{','.join(fields)}]\n".encode())
    assert_same(f"[12,345,6.5,0]\n[{','.join(fields)}]\n".encode())


@pytest.mark.parametrize(
    "text",
    [
        b"[0,1,2.5,0]\n",
        b"[0,1,null,1]\n[1023,4000000000000000000,-0.25,8]\n",
        b"[0,1,1e-7,0]\n[0,99,5e-324,0]\n[0,100,1.7976931348623157e308,0]\n",
        b"[0,0,20.123,0]\n" * 50,
    ],
)
def test_plain_readings_do_go_in_bulk(text: bytes) -> None:
    bulk = bulk_columns(text, 1)
    assert bulk is not None
    assert len(bulk.t_ns) == text.count(b"\n")
    assert_same(text)


@pytest.mark.parametrize(
    "text",
    [
        b"[0,1,2.5,0]\n[0,1,2.5]\n[0,1,2.5,0,0]\n",
        b"[0,1,2.5,0,0]\n[0,1,2.5]\n",
        b"[0,1,2.5,0]\n\n",
        b"[0,1,2.5,0]x\n",
        b"x[0,1,2.5,0]\n",
        b"[0,1,2.5,0]\r\n",
        b"[[0,1,2.5,0]\n",
        b"[0,1,2.5,0]]\n",
        b"[0,1,2.5,[0]\n",
        b"[0,1,\xc3\xa4,0]\n",
        b"[1024,1,2.5,0]\n",
        b"[0,4000000000000000001,2.5,0]\n",
        b"[0,99999999999999999999999,2.5,0]\n",
        b"[0,1,2.5,10]\n",
    ],
)
def test_what_is_not_plain_is_left_to_the_line_by_line_way(text: bytes) -> None:
    assert bulk_columns(text, 1) is None


FIELD = st.sampled_from(WHOLE + VALUES) | st.floats().map(repr) | st.integers().map(str)


@settings(max_examples=200)
@given(st.lists(st.lists(FIELD, min_size=3, max_size=5), min_size=1, max_size=4))
def test_any_mixture_of_fields_gives_the_same_both_ways(lines: list[list[str]]) -> None:
    assert_same("".join(f"[{','.join(fields)}]\n" for fields in lines).encode())


@settings(max_examples=60)
@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=50, max_size=200))
def test_any_float64_comes_through_in_bulk_bit_for_bit(values: list[float]) -> None:
    import msgspec

    text = b"".join(b"[0,1,%b,0]\n" % msgspec.json.encode(value) for value in values)
    bulk = bulk_columns(text, 1)
    assert bulk is not None
    assert np.array_equal(bulk.value.view(np.int64), np.array(values).view(np.int64))


@pytest.mark.parametrize("other", [b"", b"[0,6,1.5e3,0]\n", b"[12,6,1.5,0]\n"])
@pytest.mark.parametrize("value", [b"-0", b"-0.0", b"-0e0", b"0"])
def test_nought_has_the_sign_that_the_line_by_line_way_gives_it(value: bytes, other: bytes) -> None:
    """A whole number "-0" has none; "-0.0" has."""
    text = b"[0,5,%b,0]\n" % value + other
    assert bulk_columns(text, 1) is not None
    assert_same(text)


PLAIN = b"".join(b"[%d,%d,%.3f,0]\n" % (i % 2, i * 1000, 20 + i / 7) for i in range(8000))
MARK = b'{"entry":"mark","t_ns":5,"text":"a [b] {c}"}\n'


def summary(pieces: list[Parsed]) -> tuple[object, ...]:
    """What the pieces say in all, with places counted from the start of the block."""
    lines = size = readings = 0
    found: list[object] = []
    for piece in pieces:
        found += [(piece_line + lines, "bad") for piece_line, _ in piece.bad]
        found += [
            (e.line + lines, e.offset + size, e.reading + readings, e.entry.__class__.__name__)
            for e in piece.entries
        ]
        found.append((np.array(piece.line) + lines).tolist())
        lines, size = lines + piece.lines, size + piece.size
        readings += len(piece.line)
    flat = [line for item in found if isinstance(item, list) for line in item]
    rest = sorted(str(item) for item in found if not isinstance(item, list))
    values = np.concatenate([piece.columns.value for piece in pieces]).tolist()
    return lines, size, sum(piece.bad_count for piece in pieces), flat, rest, values


TORN_APART = b'[0,1,2.5,0{"entry":"mark","t_ns":5,"text":""}\n]\n'
"""What would be a reading if the entry in its middle were cut out."""


@pytest.mark.parametrize(
    "odd", [b"", MARK, TORN_APART, MARK * 3, b"junk\n", b"[0,1,+5,0]\n", b"\n", b'{"entry":"?"}\n']
)
@pytest.mark.parametrize("at", [0.0, 0.31, 1.0])
def test_places_and_values_agree_whatever_stands_between(odd: bytes, at: float) -> None:
    cut = PLAIN.rfind(b"\n", 0, int(len(PLAIN) * at)) + 1
    block = PLAIN[:cut] + odd + PLAIN[cut:]
    in_bulk, linewise = parse_block(block, bulk=True, tick_ns=1), parse_block(block, bulk=False, tick_ns=1)
    assert summary(in_bulk) == summary(linewise)
    assert summary(linewise)[3] == [
        i
        for i, line in enumerate(block.split(b"\n"))
        if line.startswith(b"[") and b"+" not in line and b"{" not in line
    ]


def test_one_odd_line_does_not_send_a_block_line_by_line() -> None:
    half = len(PLAIN) // 2
    cut = PLAIN.rfind(b"\n", 0, half) + 1
    pieces = parse_block(PLAIN[:cut] + b"junk\n" + PLAIN[cut:], bulk=True, tick_ns=1)
    assert [piece.bad_count for piece in pieces if piece.bad_count] == [1]
    assert len(PLAIN) > 150_000
    assert max(piece.size for piece in pieces if piece.bad_count) <= 64 * 1024


def test_a_line_longer_than_any_may_be_is_refused() -> None:
    (piece,) = parse_block(
        b'{"entry":"mark","t_ns":1,"text":"' + b"a" * 1_100_000 + b'"}\n', bulk=False, tick_ns=1
    )
    assert piece.bad == [(0, "longer than 1 MB")]


def test_nothing_gives_nothing() -> None:
    assert parse_block(b"", bulk=True, tick_ns=1) == []
    assert (
        list(itertools.chain(*(p.entries for p in parse_block(MARK, bulk=False, tick_ns=1))))[0].reading == 0
    )


@pytest.mark.parametrize("bulk", [True, False])
def test_a_reading_longer_than_any_line_may_be_is_refused_both_ways(bulk: bool) -> None:
    usual = b"[0,123456789,20.5,0]\n" * 5000
    long = b"[0,123456789,20." + b"5" * 1_100_000 + b",0]\n"
    pieces = parse_block(usual + long + usual, bulk=bulk, tick_ns=1000)
    assert sum(len(piece.columns.t_ns) for piece in pieces) == 10_000
    assert [piece.bad[0][1] for piece in pieces if piece.bad] == ["longer than 1 MB"]
