"""Lines are broken between words on a terminal, and nowhere else."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import termios
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.tui.program import COMMAND, environment
from tui.wrapped import say, wrapped

SAMPLE = Path(__file__).parents[2] / "recordings" / "weak-magnets-hunting.jsonl"


def in_a_terminal(columns: int, folder: Path, *arguments: str) -> str:
    """What the program prints where its output is a terminal of that width."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    surroundings = {name: value for name, value in environment(folder).items() if name != "COLUMNS"}
    command = [*COMMAND, *arguments]
    with subprocess.Popen(command, cwd=folder, env=surroundings, stdout=theirs, stderr=theirs) as process:
        os.close(theirs)
        told = b""
        try:
            while part := os.read(ours, 65536):
                told += part
        except OSError:  # so Linux tells that the other end is closed
            pass
        os.close(ours)
    assert process.returncode == 0, told
    return told.decode("utf-8")


def test_a_result_fits_the_terminal_and_no_number_loses_its_unit(tmp_path: Path) -> None:
    rows = re.sub(r"\r[^\n]*\x1b\[K", "", in_a_terminal(50, tmp_path, "result", str(SAMPLE))).splitlines()
    assert len(rows) > 8
    assert max(map(len, rows)) <= 50
    assert not [row for row in rows if re.search(r"(\d|±)$", row) or re.match(r" *(V|rpm|s|%|±)(\W|$)", row)]


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


def test_a_number_stays_with_its_unit() -> None:
    line = "  - The rated output rose by 11.06 V ± 0.18 V at 3600 rpm: the change is significant."
    assert list(wrapped(line, 31)) == [
        "  - The rated output rose by",
        "    11.06 V ± 0.18 V at",
        "    3600 rpm: the change is",
        "    significant.",
    ]


def test_a_path_stays_in_one_piece() -> None:
    line = "Recording: " + "/recordings of the nursery" * 4
    assert list(wrapped(line, 50)) == [line]
