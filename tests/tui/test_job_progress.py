"""A job whose recordings are long: a bar while one is taken in, and while all are read again."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pytest

from tests.tui.bars import bars_at_once
from tui.__main__ import main

SWEEP = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def bars(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> tuple[list[str], list[int]]:
    """The words beside the bars that a command draws, and how far each says that it is."""
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    assert main(arguments) == 0
    drawn = re.findall(r"\r([^\r\[]+) \[[#.]{30}\] +(\d+) % ", terminal.getvalue())
    assert terminal.getvalue().endswith("\r\x1b[K")
    return list(dict.fromkeys(words for words, _ in drawn)), [int(percent) for _, percent in drawn]


def test_taking_a_recording_in_and_reading_it_again_show_how_far_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bars_at_once(tmp_path, monkeypatch)
    assert main(["job", "start", "cart.jsonl", "--machine", "nursery-sprayer"]) == 0
    taking = ["job", "next", "cart.jsonl", "--step", "ac_output", str(SWEEP)]
    words, percents = bars(taking, monkeypatch)
    assert words == ["reading healthy-sweep.jsonl"]
    # What comes after the reading is told too, and 100 is said at the end alone.
    assert percents == sorted(percents)
    assert percents[-1] == 100
    assert [percent for percent in percents if 40 < percent < 100]
    assert percents.count(100) == 1
    for again in (["status", "cart.jsonl"], ["report", "cart.jsonl"]):
        words, percents = bars(["job", *again], monkeypatch)
        assert words == ["reading cart.jsonl"]
        assert percents == sorted(percents)
        assert percents[-1] == 100
        assert [percent for percent in percents if 40 < percent < 100]
