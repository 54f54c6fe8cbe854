"""Readings that are typed: what to do is said in those words, the run stays in sight, and each line is answered."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.spec import Heard
from daq.model.reading import Quality
from daq.run.snapshot import ChannelNow, Snapshot
from tests.daq.capture.runs import eventually, spec
from tests.tui.builders import RecordingControl, StillFeed, empty_snapshot, health, snapshot
from tests.tui.screen_text import wait_until
from tests.tui.snapshots import assert_same_screen, screen_text
from tui.control import Answer
from tui.dashboard.app import Dashboard
from tui.dashboard.run_screen import RunScreen
from tui.view.build import build_view

KEYBOARD = {"address": "keyboard", "rate_hz": None}


def typed(age_s: float | None, quality: Quality = Quality.GOOD, text: str = "") -> Snapshot:
    """A run of the keyboard alone, whose newest line is that old."""
    keyboard = health("keyboard-pair", **KEYBOARD, age_s=age_s, text=text)
    if age_s is None:
        return empty_snapshot(health=(keyboard,))
    value = None if quality is not Quality.GOOD else 27.6
    return snapshot(
        voltage=ChannelNow("V", value, quality, age_s),
        speed=ChannelNow("rpm", 3585.0, Quality.GOOD, age_s),
        health=(keyboard,),
    )


@pytest.mark.parametrize("age_s", [None, 10.0, 32.0])
def test_while_nobody_types_it_says_what_to_press(age_s: float | None) -> None:
    now = build_view(typed(age_s), typing="key").now
    assert now.startswith("Press k and type what the displays show")
    assert "cable" not in now
    assert "beam" not in now


def test_without_a_screen_a_line_is_asked_for_and_a_looker_on_is_asked_for_nothing() -> None:
    assert build_view(typed(10.0), typing="line").now.startswith("Type what the displays show, in one line")
    assert build_view(typed(10.0)).now == (
        "The readings are typed by whoever records this run; the last line came 10 s ago."
    )


def test_a_line_that_was_refused_is_no_fault_of_a_cable() -> None:
    told = "“27.6 3,58” was not taken: the decimal sign is not clear."
    assert build_view(typed(1.0, Quality.BAD_FRAME, told), typing="key").now == told


def test_a_fresh_line_is_worked_with_as_any_reading() -> None:
    assert "type" not in build_view(typed(1.0), typing="key").now


def test_a_tach_that_falls_silent_beside_typed_volts_is_told() -> None:
    both = (health("keyboard-pair", **KEYBOARD, age_s=1.0), health("text-speed", age_s=32.0))
    state = snapshot(speed=ChannelNow("rpm", 3585.0, Quality.GOOD, 32.0), health=both)
    assert "the beam" in build_view(state, typing="key").now


def answers_to(lines: list[str], folder: Path) -> list[Heard]:
    """What a real capture answers to typed lines."""
    heard: list[Heard] = []
    with CaptureProcess.start(spec(folder / "run.jsonl", ("keyboard-pair", "keyboard"))) as capture:
        for line in lines:
            capture.key(line)

        def all_came() -> bool:
            heard.extend(each for each in capture.poll_status() if isinstance(each, Heard))
            return len(heard) == len(lines)

        eventually(all_came)
        capture.stop()
        capture.wait(30)
    return heard


def test_a_capture_answers_each_line(tmp_path: Path) -> None:
    good, comma, swapped, missing = answers_to(["27.6 3585", "27.6 3,58", "19 rpm 99 V", "OL -"], tmp_path)
    assert good == Heard("Taken: 27.6 V, 3585 rpm.", understood=True)
    assert not comma.understood
    assert comma.text.startswith("“27.6 3,58” was not taken: it has both a point and a comma")
    assert not swapped.understood
    assert "“19 rpm 99 V” was not taken" in swapped.text
    assert missing.understood
    assert "overload" in missing.text


@pytest.mark.parametrize(("size", "name"), [((80, 24), "80x24"), ((120, 40), "120x40")])
async def test_the_run_stays_in_sight_while_a_line_is_typed_and_answered(
    size: tuple[int, int], name: str
) -> None:
    control, feed = RecordingControl(), StillFeed(typed(1.0))
    control.keyed = True
    app = Dashboard(RunScreen(feed, control), light=False)
    async with app.run_test(size=size) as pilot:
        await wait_until(app, pilot, "● recording")
        await pilot.press("k", *"27.6 3,58", "enter")
        await wait_until(app, pilot, "sent, no answer yet: 27.6 3,58")
        control.understood = [Answer("“27.6 3,58” was not taken: write a point.", understood=False)]
        await wait_until(app, pilot, "✗ NOT TAKEN. “27.6 3,58” was not taken: write a point.")
        shown = screen_text(app)
        assert "± 0.31 V" in shown
        assert "meets its limit" in shown
        feed.snapshot = typed(20.0)
        await wait_until(app, pilot, "the last line came 20 s ago")
        control.understood = [Answer("Taken: 27.6 V, 3585 rpm.", understood=True)]
        await wait_until(app, pilot, "✓ Taken: 27.6 V, 3585 rpm.")
        assert_same_screen(app, f"keyed-in-{name}")
    assert control.lines == ["27.6 3,58"]
