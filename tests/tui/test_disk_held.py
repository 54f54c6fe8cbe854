"""While the disk takes nothing the screen does not call sound instruments silent."""

from __future__ import annotations

import pytest

from tests.tui.builders import RecordingControl, StillFeed, snapshot
from tests.tui.screen_text import SIZES, screen_text, shown_screen, wait_until
from tui.dashboard.run_screen import RunScreen


@pytest.mark.parametrize("size", SIZES)
async def test_health_is_not_shown_while_the_disk_takes_nothing(size: tuple[int, int]) -> None:
    control, feed = RecordingControl(), StillFeed(snapshot())
    async with shown_screen(RunScreen(feed, control), size) as (app, pilot):
        await wait_until(app, pilot, "● scpi-meter")
        control.held = "The disk is full: run.jsonl can't grow."
        feed.snapshot = snapshot(t_s=9.0)
        await wait_until(app, pilot, "not shown")
        assert "The disk is full" in screen_text(app)
        assert "● scpi-meter" not in screen_text(app)
        assert "silent" not in screen_text(app)
        control.held = ""
        await wait_until(app, pilot, "● scpi-meter")
