"""A replay pulled along its line with the mouse, and one of a recording without a machine card."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.events import MouseDown, MouseMove, MouseUp
from textual.pilot import Pilot

from daq.model.clock import ManualClock
from tests.tui.screen_text import screen_rows, shown_screen, wait_until
from tests.tui.test_replaying import SWEEP
from tui.dashboard.replay_screen import ReplayScreen
from tui.dashboard.widgets.scrub import Scrub
from tui.replaying import ReplayFeed


async def mouse(pilot: Pilot[None], kind: type[MouseDown | MouseMove | MouseUp], column: int) -> None:
    assert await pilot._post_mouse_events([kind], Scrub, offset=(column, 1), button=1)


async def test_the_replay_follows_the_mouse_while_it_is_pressed_and_no_longer() -> None:
    screen = ReplayScreen(ReplayFeed(SWEEP, ManualClock(), at_end=True), SWEEP)
    async with shown_screen(screen, (80, 24)) as (app, pilot):
        await wait_until(app, pilot, "The whole run's result")
        await pilot.press("home", "space")
        await wait_until(app, pilot, "0:00  paused")
        await mouse(pilot, MouseMove, 60)
        await mouse(pilot, MouseDown, 40)
        await wait_until(app, pilot, "0:22  paused")
        await mouse(pilot, MouseMove, 9)
        await wait_until(app, pilot, "0:00  paused")
        await mouse(pilot, MouseMove, 50)
        await wait_until(app, pilot, "0:30  paused")
        await mouse(pilot, MouseUp, 50)
        await mouse(pilot, MouseMove, 9)
        await pilot.press("left")
        await wait_until(app, pilot, "0:25  paused")


@pytest.fixture
def without_card(tmp_path: Path) -> Path:
    """The sample, as if it had been recorded without a machine card."""
    path = tmp_path / "bare.jsonl"
    lines = SWEEP.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(line for line in lines if b'{"entry":"machine"' not in line))
    return path


async def test_without_a_machine_card_the_line_knows_no_window(without_card: Path) -> None:
    screen = ReplayScreen(ReplayFeed(without_card, ManualClock(), at_end=True), without_card)
    async with shown_screen(screen, (120, 40)) as (app, pilot):
        await wait_until(app, pilot, "at the end")
        line = next(row for row in reversed(screen_rows(app)) if "0:45" in row)
        assert "█" not in line
