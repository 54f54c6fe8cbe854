"""Replay and comparison as text, at both sizes: what changes on them is seen in a diff."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path

from textual.pilot import Pilot

from daq.model.clock import ManualClock
from daq.run.rows import AlignedRows
from daq.verdict.change import compare_results
from tests.tui.builders import result, snapshot
from tests.tui.screen_text import MIDDLE, SMALL, check_snapshot, screen_text, shown_screen, wait_until
from tui.dashboard.app import Dashboard
from tui.dashboard.compare_screen import CompareScreen
from tui.dashboard.replay_screen import ReplayScreen
from tui.replaying import ReplayFeed
from tui.view.compare import Side, compare_view

RECORDINGS = Path(__file__).parents[2] / "recordings"
HEALTHY, WEAK = RECORDINGS / "healthy-sweep.jsonl", RECORDINGS / "weak-magnets-hunting.jsonl"
NOTHING = result(verdict="not_enough_data", rated_voltage_V=None, expanded_uncertainty_V=None, reasons=[])


async def check_both_sizes(app: Dashboard, pilot: Pilot[None], name: str, draw: Callable[[], object]) -> None:
    """Compare with the snapshots of both sizes; the terminal is as small again afterwards as it was."""
    for size in (MIDDLE, SMALL):
        await pilot.resize_terminal(*size)
        await pilot.pause()
        draw()
        await pilot.pause()
        check_snapshot(app, name)


async def test_a_replay_at_every_state() -> None:
    clock = ManualClock()
    feed = ReplayFeed(HEALTHY, clock)
    screen = ReplayScreen(feed, HEALTHY)

    def draw() -> None:
        screen._plotted_s, screen._shown = -1.0, None
        screen.tick()

    async with shown_screen(screen) as (app, pilot):
        await pilot.press("space")
        feed.seek(31.0)
        await wait_until(app, pilot, "0:31  paused")
        await wait_until(app, pilot, "Known: 27.58 V")
        await check_both_sizes(app, pilot, "replay-paused", draw)
        await pilot.press("plus", "space")
        await wait_until(app, pilot, "playing 2 x")
        await check_both_sizes(app, pilot, "replay-playing", draw)
        await pilot.press("end")
        await wait_until(app, pilot, "The whole run's result")
        await check_both_sizes(app, pilot, "replay-ended", draw)


async def test_a_replay_of_a_recording_that_was_cut_off(tmp_path: Path) -> None:
    cut = tmp_path / "cut.jsonl"
    shutil.copy(HEALTHY, cut)
    data = cut.read_bytes()
    cut.write_bytes(data[: len(data) // 2])
    screen = ReplayScreen(ReplayFeed(cut, ManualClock(), at_end=True), cut)

    def draw() -> None:
        screen._plotted_s, screen._shown = -1.0, None
        screen.tick()

    async with shown_screen(screen) as (app, pilot):
        await wait_until(app, pilot, "cut off here")
        await check_both_sizes(app, pilot, "replay-cut-off", draw)


async def test_a_comparison_at_every_state() -> None:
    screen = CompareScreen(WEAK, HEALTHY)
    rows = snapshot().rows
    states = {
        "compare-same": compare_view(
            compare_results(result(), result(rated_voltage_V=24.7)),
            Side("a.jsonl", "Cart", rows),
            Side("b.jsonl", "Cart", rows),
        ),
        "compare-none": compare_view(
            compare_results(NOTHING, result()),
            Side("a.jsonl", "Cart", AlignedRows.empty()),
            Side("b.jsonl", "Cart", rows),
        ),
    }
    async with shown_screen(screen) as (app, pilot):
        await wait_until(app, pilot, "a significant rise")
        await check_both_sizes(app, pilot, "compare-more", screen.refresh)
        await pilot.press("t")
        await pilot.pause()
        check_snapshot(app, "compare-more-volts")
        await pilot.press("t", "s")
        await wait_until(app, pilot, "a significant fall")
        await check_both_sizes(app, pilot, "compare-less", screen.refresh)
        for name, view in states.items():
            await check_both_sizes(app, pilot, name, partial(screen._show, view))
        assert "can't be compared" in screen_text(app)
