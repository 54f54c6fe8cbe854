"""A run that is over: one that was cut off never passes for whole, and neither gives orders nor fresh health."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.model.clock import ManualClock
from tests.tui.builders import CLOSED, RecordingControl, StillFeed, health, snapshot
from tests.tui.screen_text import SIZES, screen_rows, screen_text, shown_screen, wait_until
from tests.tui.test_snapshots import sweeping
from tui.dashboard.replay_screen import ReplayScreen
from tui.dashboard.run_screen import RunScreen
from tui.replaying import ReplayFeed
from tui.view.build import build_view
from tui.view.health import health_view

SWEEP = Path(__file__).parents[2] / "recordings" / "healthy-sweep.jsonl"


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_recording_that_was_cut_off_says_so_first_and_not_that_it_ended(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    cut = tmp_path / "cut.jsonl"
    cut.write_bytes(b"".join(SWEEP.read_bytes().splitlines(keepends=True)[:200]))
    screen = ReplayScreen(ReplayFeed(cut, ManualClock(), at_end=True), cut)
    async with shown_screen(screen, size) as (app, pilot):
        seen = await wait_until(app, pilot, "Cut off: this recording was never closed")
        assert "cut off here" in screen_rows(app)[0]
        assert "at the end" not in seen


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_run_without_a_closing_entry_is_nowhere_called_closed(size: tuple[int, int]) -> None:
    screen = RunScreen(StillFeed(snapshot(finished=True)), RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        await pilot.pause()
        assert "cut off; q leaves" in screen_rows(app)[0]
        assert "▶ Cut off: this recording was never closed" in screen_text(app)
        assert "closed" not in screen_text(app).replace("never closed", "").lower()
        assert screen.view is not None
        assert screen._now._tone == "doubt"


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("close", [CLOSED, None], ids=["closed", "cut off"])
async def test_a_run_that_is_over_gives_no_order_and_shows_no_fresh_health(
    size: tuple[int, int], close: object
) -> None:
    feed = StillFeed(snapshot(60.0, sweeping))
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen, size) as (app, pilot):
        screen.tick()
        await pilot.pause()
        before = screen_text(app)
        assert "THROTTLE" in before
        assert "s ago" in before
        feed.snapshot = snapshot(60.0, sweeping, finished=True, close=close)
        screen.tick()
        await pilot.pause()
        over = screen_text(app)
        for word in ("THROTTLE", "to go", "HOLD", " ago", "/s"):
            assert word not in over, over
        assert "THE RUN IS CLOSED" in over or close is None
        assert "ended" in over


def test_what_was_wrong_with_an_instrument_at_the_end_stays() -> None:
    lost = health_view(health(state="lost", age_s=7.0, text="its plug was out"), ended=True)
    assert (lost.state, lost.tone, lost.age, lost.note) == ("lost", "bad", "", "its plug was out")
    assert health_view(health(lost=3), ended=True).tone == "doubt"
    assert health_view(health(state="waiting", age_s=None), ended=True).state == "nothing", (
        "waited for no more"
    )


def test_the_last_reading_of_a_run_that_is_over_is_not_shown_as_the_present_one() -> None:
    view = build_view(snapshot(finished=True, close=CLOSED))
    assert (view.speed.digits, view.speed.place, view.raw_volts) == ("----", None, "-- V")
