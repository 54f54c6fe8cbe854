"""From screen to screen: a run in progress is never left behind, and help is no screen to ask help of."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.builders import CLOSED, RecordingControl, StillFeed, snapshot
from tests.tui.screen_text import screen_name, screen_text, shown_screen, wait_until
from tests.tui.shelf.builders import StillSummaries
from tui.dashboard.app import Dashboard
from tui.dashboard.help_screen import HelpScreen
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.shelf_screen import ShelfScreen


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ShelfScreen:
    monkeypatch.setenv("SPINVOLT_RECORDINGS", str(tmp_path))
    return ShelfScreen(tmp_path, StillSummaries())


def running(app: Dashboard) -> bool:
    return app.is_running


def stack(app: Dashboard) -> list[str]:
    return [getattr(screen, "NAME", "") for screen in app.screen_stack]


async def test_a_run_in_progress_is_not_gone_back_from_but_put_beneath(shelf: ShelfScreen) -> None:
    feed = StillFeed(snapshot())
    async with shown_screen(shelf) as (app, pilot):
        with pytest.raises(LookupError, match="no run"):
            _ = app.run_screen
        run = RunScreen(feed, RecordingControl())
        app.push_screen(run)
        await wait_until(app, pilot, "● recording")
        await pilot.press("r")
        await wait_until(app, pilot, "No recordings")
        assert stack(app) == ["recordings", "run", "recordings"]
        assert app.run_screen is run
        assert app.run_going_on
        await pilot.press("q")
        feed.snapshot = snapshot(finished=True, close=CLOSED)
        await wait_until(app, pilot, "closed; q goes back")
        await pilot.press("r")
        await wait_until(app, pilot, "No recordings")
        assert stack(app) == ["recordings"]


async def test_leaving_from_above_a_run_closes_it_first(shelf: ShelfScreen) -> None:
    feed, control = StillFeed(snapshot()), RecordingControl()
    async with shown_screen(shelf) as (app, pilot):
        app.push_screen(RunScreen(feed, control))
        await wait_until(app, pilot, "● recording")
        await pilot.press("r")
        await wait_until(app, pilot, "No recordings")
        await pilot.press("ctrl+c")
        assert control.stops == 1
        assert running(app)
        feed.snapshot = snapshot(finished=True, close=CLOSED)
        for _ in range(1500):
            if not running(app):
                break
            await pilot.pause(0.02)
        assert not running(app)


async def test_leaving_without_a_run_leaves_at_once(shelf: ShelfScreen) -> None:
    async with shown_screen(shelf) as (app, pilot):
        await pilot.press("ctrl+q")
        await pilot.pause()
        assert not running(app)


async def test_plain_drawing_is_taken_on_from_help_too_and_help_is_opened_once(shelf: ShelfScreen) -> None:
    async with shown_screen(shelf) as (app, pilot):
        await pilot.press("question_mark")
        await pilot.pause()
        app.action_help()
        app.action_toggle_plain()
        await pilot.pause()
        assert isinstance(app.screen, HelpScreen)
        assert len(app.screen_stack) == 2
        await pilot.press("escape")
        await pilot.pause()
        assert screen_name(app) == "recordings"
        assert screen_text(app).isascii()
