"""What a person sees while a command works: one bar over all of its stages, in words, and wiped off at the end."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pytest

from tests.tui.bars import bars_at_once
from tui.__main__ import main

_HEALTHY = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("arguments", "stages"),
    [
        (["result", str(_HEALTHY)], ["reading healthy-sweep.jsonl", "working out"]),
        (
            ["export", str(_HEALTHY), "--to", "rows.csv"],
            ["reading healthy-sweep.jsonl", "working out", "writing rows.csv"],
        ),
        (
            ["report", str(_HEALTHY), "--to", "page.html"],
            ["reading healthy-sweep.jsonl", "working out", "writing page.html"],
        ),
    ],
)
def test_no_stage_is_without_its_word(
    arguments: list[str], stages: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bars_at_once(tmp_path, monkeypatch)
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    assert main(arguments) == 0
    drawn = re.findall(r"\r([^\r\[]+) \[[#.]{30}\] +(\d+) % ", terminal.getvalue())
    assert list(dict.fromkeys(words for words, _ in drawn)) == stages
    percents = [int(percent) for _, percent in drawn]
    assert percents == sorted(percents)
    assert percents[-1] == 100
    assert terminal.getvalue().endswith("\r\x1b[K")
