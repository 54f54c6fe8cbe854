"""Marks are looked up by their number in a table of words."""

from __future__ import annotations

from daq.align.marks import Mark


def test_marks_are_numbered_from_zero_without_a_gap() -> None:
    assert [int(mark) for mark in Mark] == list(range(len(Mark)))
    assert len({mark.words for mark in Mark}) == len(Mark) == 13
    assert int(Mark.GOOD) == 0
