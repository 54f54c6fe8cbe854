"""Typed lines through a real capture process into its recording."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.capture.launch import CaptureProcess
from tests.daq.capture.runs import events, eventually, lines, of_channel, quiet, spec


@pytest.mark.parametrize("name", ["keyboard", "keyboard-pair"])
def test_typed_lines_are_recorded_and_bad_ones_given_back(name: str, tmp_path: Path) -> None:
    """Under the instrument's address as well as under its name; and nobody who types slowly is called silent."""
    path = tmp_path / "run.jsonl"
    with CaptureProcess.start(spec(path, quiet("keyboard-pair", "keyboard", 0.1))) as capture:
        capture.key("19,6 3580", name)
        eventually(lambda: len(of_channel(path, 1)) == 1)
        capture.key("oops", name)
        capture.key("- 3600", name)
        capture.key("19.7 3590", "somebody-else")
        eventually(lambda: len(of_channel(path, 1)) == 2 and len(events(path, "note")) == 1)
        capture.stop()
        closed = capture.wait(30)
    assert [line[2:] for line in of_channel(path, 0)] == [[19.6, 0], [None, 6]]
    assert [line[2:] for line in of_channel(path, 1)] == [[3580.0, 0], [3600.0, 0]]
    assert of_channel(path, 0)[0][1] == of_channel(path, 1)[0][1], "both of one line have one stamp"
    (note,) = events(path, "note")
    assert note["text"] == (
        "“oops” was not taken: 2 values are due, 1 came. Type AC volts, then rpm, such as 19.6 3580."
    )
    assert [line["quantity"] for line in lines(path)[1:3]] == ["ac_voltage", "rotational_speed"]
    assert events(path, "silent") == []
    assert closed.readings == 4
