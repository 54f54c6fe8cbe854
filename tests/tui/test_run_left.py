"""Leaving a run that was started in the dashboard: its capture is waited for once, however long that takes."""

from __future__ import annotations

import threading
from pathlib import Path

from daq.errors import RecordingError
from tests.tui.builders import CLOSED, RecordingControl, StillFeed, snapshot
from tests.tui.screen_text import screen_text, shown_screen, wait_until
from tests.tui.shelf.builders import StillSummaries
from tui.dashboard.key_in_screen import KeyInScreen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.shelf_screen import ShelfScreen
from tui.session import RunEnd


class SlowClose:
    """A capture that takes its time to end."""

    def __init__(self) -> None:
        self.calls = 0
        self.done = threading.Event()

    def __call__(self) -> RunEnd:
        self.calls += 1
        assert self.done.wait(20)
        return RunEnd(Path("run.jsonl"), False, "The capture was killed.")


async def test_a_capture_that_died_is_waited_for_once_and_its_end_is_told(tmp_path: Path) -> None:
    control, close, told = RecordingControl(), SlowClose(), list[RunEnd | None]()
    async with shown_screen(ShelfScreen(tmp_path, StillSummaries())) as (app, pilot):
        screen = RunScreen(StillFeed(snapshot()), control, close=close)
        app.push_screen(screen, told.append)
        await wait_until(app, pilot, "● recording")
        control.sentence = "The capture has ended."
        for _ in range(5):
            screen.tick()
            await pilot.pause(0.01)
        await pilot.press("q")
        assert app.screen is screen
        close.done.set()
        await wait_until(app, pilot, "No recordings")
    assert close.calls == 1
    assert told == [RunEnd(Path("run.jsonl"), False, "The capture was killed.")]


async def test_s_ends_the_run_and_stays_and_q_then_leaves(tmp_path: Path) -> None:
    control, feed = RecordingControl(), StillFeed(snapshot())
    async with shown_screen(ShelfScreen(tmp_path, StillSummaries())) as (app, pilot):
        app.push_screen(RunScreen(feed, control))
        await wait_until(app, pilot, "● recording")
        await pilot.press("s")
        await wait_until(app, pilot, "Closing the recording")
        await pilot.press("s")
        feed.snapshot = snapshot(finished=True, close=CLOSED)
        await wait_until(app, pilot, "closed; q goes back")
        assert control.stops == 1
        await pilot.press("q")
        await wait_until(app, pilot, "No recordings")


GONE = RecordingError("run.jsonl was removed while it was read; open it again.")


async def test_a_run_that_kept_nothing_goes_with_the_dialog_on_it_and_says_why_once(tmp_path: Path) -> None:
    control, close, told = RecordingControl(), SlowClose(), list[RunEnd | None]()
    control.keyed = True
    async with shown_screen(ShelfScreen(tmp_path, StillSummaries())) as (app, pilot):
        feed = StillFeed(snapshot())
        feed.failure = GONE
        screen = RunScreen(feed, control, close=close)
        app.push_screen(screen, told.append)
        app.push_screen(KeyInScreen(control))
        await pilot.pause(0.3)
        close.done.set()
        await wait_until(app, pilot, "No recordings")
        assert "removed while it was read" not in screen_text(app)
    assert (close.calls, len(told)) == (1, 1)


async def test_a_watched_file_that_goes_is_told_and_left_once_the_screen_on_top_has_gone(
    tmp_path: Path,
) -> None:
    feed = StillFeed(snapshot())
    async with shown_screen(ShelfScreen(tmp_path, StillSummaries())) as (app, pilot):
        app.push_screen(RunScreen(feed, RecordingControl()))
        await wait_until(app, pilot, "● recording")
        app.push_screen(ShelfScreen(tmp_path, StillSummaries()))
        await pilot.pause(0.2)
        feed.failure = GONE
        await wait_until(app, pilot, "removed while it was read")
        assert len(app.screen_stack) == 3
        app.pop_screen()
        await wait_until(app, pilot, "No recordings")
        await pilot.pause(0.3)
        assert len(app.screen_stack) == 1
