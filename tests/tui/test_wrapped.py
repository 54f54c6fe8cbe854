"""Lines are broken between words on a terminal, and nowhere else."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.wrapped import say, wrapped


def test_further_parts_stand_under_the_text_of_the_first() -> None:
    line = "  ! Keep hands, sleeves, hair, leads and tools clear of fan, belt and flywheel."
    assert list(wrapped(line, 40)) == [
        "  ! Keep hands, sleeves, hair, leads and",
        "    tools clear of fan, belt and",
        "    flywheel.",
    ]


@pytest.mark.parametrize("columns", [0, 10])
def test_without_a_width_worth_it_a_line_stays_whole(columns: int) -> None:
    assert list(wrapped("one two three " * 10, columns)) == ["one two three " * 10]


def test_a_pipe_gets_whole_lines(capsys: pytest.CaptureFixture[str]) -> None:
    say(["word " * 60, ""])
    assert capsys.readouterr().out == "word " * 60 + "\n\n"


@given(st.lists(st.text("abc-", min_size=1, max_size=12), min_size=1, max_size=40), st.integers(30, 90))
def test_no_word_is_lost_or_broken(words: list[str], columns: int) -> None:
    parts = list(wrapped(" ".join(words), columns))
    assert " ".join(parts).split() == words
    assert all(len(part) <= columns for part in parts)
