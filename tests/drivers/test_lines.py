"""Cutting a stream into lines."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.lines import LineSplitter, RawLine


def whole(*lines: bytes) -> list[RawLine]:
    return [RawLine(line, True) for line in lines]


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\r\n", b"\n\r", b"\r\n\r\n"])
def test_every_kind_of_line_end_ends_a_line_once(end: bytes) -> None:
    assert LineSplitter(64).feed(b"one" + end + b"two" + end) == whole(b"one", b"two")


def test_the_same_lines_come_wherever_the_stream_is_cut() -> None:
    stream = b"AC 19.62 V\r\n3600 rpm\r\nOL\r\n"
    for cut in range(len(stream) + 1):
        splitter = LineSplitter(64)
        assert splitter.feed(stream[:cut]) + splitter.feed(stream[cut:]) == whole(
            b"AC 19.62 V", b"3600 rpm", b"OL"
        )


def test_a_line_over_the_limit_is_given_once_cut_and_marked() -> None:
    splitter = LineSplitter(8)
    assert splitter.feed(b"123456789") == [RawLine(b"12345678", False)]
    assert splitter.feed(b"x" * 1000) == []
    assert splitter.feed(b"tail\nnext\n") == whole(b"next")


def test_a_line_of_just_the_limit_is_whole() -> None:
    assert LineSplitter(8).feed(b"12345678\n123456789\n") == [
        RawLine(b"12345678", True),
        RawLine(b"12345678", False),
    ]


def test_after_resync_the_rest_of_a_line_is_not_taken_for_one() -> None:
    splitter = LineSplitter(64)
    splitter.feed(b"held")
    splitter.resync()
    assert splitter.feed(b"9.62 V\r\n19.63 V\r\n") == whole(b"19.63 V")


def test_flush_gives_the_unfinished_line_and_starts_afresh() -> None:
    splitter = LineSplitter(64)
    splitter.feed(b"19.6")
    assert splitter.flush() == b"19.6"
    assert splitter.flush() == b""
    assert splitter.feed(b"20.1\n") == whole(b"20.1")


@given(st.binary(max_size=400), st.lists(st.integers(0, 400), max_size=8))
def test_chunks_of_any_size_give_the_same_lines(stream: bytes, cuts: list[int]) -> None:
    at_once, in_parts = LineSplitter(32), LineSplitter(32)
    expected = at_once.feed(stream)
    edges = [0, *sorted(min(cut, len(stream)) for cut in cuts), len(stream)]
    found = [line for a, b in zip(edges, edges[1:], strict=False) for line in in_parts.feed(stream[a:b])]
    assert found == expected
    assert in_parts.flush() == at_once.flush()
